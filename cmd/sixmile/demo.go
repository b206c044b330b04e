package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strings"
	"syscall"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/demo"
	"sixmile/internal/geofile"
	"sixmile/internal/postgres"
	"sixmile/internal/world"
)

type demoCommand struct {
	database
	listen
	Fresh   bool   `help:"Build the demo anew, throwing away what was done in it."`
	Seed    uint64 `help:"Which invented history to build." default:"1"`
	Only    bool   `help:"Build, but do not serve."`
	Verbose bool   `help:"Log a line a request." short:"v"`
}

// Run builds the demo where it is not there yet, and serves it.
func (d demoCommand) Run(ctx context.Context, c console) (err error) {
	if d.Data == "" && d.URL == "" {
		if d.Data, err = demoFolder(); err != nil {
			return err
		}
	}
	o, err := d.login(ctx, "sixmile_demo", c.err)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	if err := d.build(ctx, c, o); err != nil {
		return err
	}
	if d.Only {
		return nil
	}
	h, err := handler(ctx, o, site{Log: logger(c.err, d.Verbose)})
	if err != nil {
		return err
	}
	l, err := d.listenSomewhere()
	if err != nil {
		return err
	}
	d.greet(c.out, l.Addr())
	return serve(ctx, l, h)
}

// build makes the demo unless it is there whole. One that was interrupted is
// thrown away and made again.
func (d demoCommand) build(ctx context.Context, c console, o *opened) error {
	mark := fmt.Sprintf("demo %d of %d", d.Seed, demo.LastClosed(today()))
	unlock, err := postgres.Exclusive(ctx, o.logins.Admin, "demo")
	if err != nil {
		return err
	}
	defer unlock()
	there, err := postgres.Mark(ctx, o.logins.Admin)
	if err != nil {
		return err
	}
	if there == mark && !d.Fresh {
		fmt.Fprintln(c.err, "The demo is there already; --fresh builds it anew.")
		return o.provision(ctx)
	}
	if err := postgres.Reset(ctx, o.logins.Admin); err != nil {
		return err
	}
	start := time.Now()
	if err := o.provision(ctx); err != nil {
		return err
	}
	hash, err := account.NewHasher().Hash(ctx, demo.Password)
	if err != nil {
		return err
	}
	stores, done, err := demoStores(ctx, o)
	if err != nil {
		return err
	}
	defer done()
	w := world.New(d.Seed, demo.LastClosed(today()))
	if err := demo.Build(ctx, stores, w, hash, newBar(c.err).show); err != nil {
		return err
	}
	if err := postgres.SetMark(ctx, o.logins.Admin, mark); err != nil {
		return err
	}
	fmt.Fprintf(c.err, "Built in %.1f seconds.\n", time.Since(start).Seconds())
	return nil
}

// listenSomewhere takes the address asked for; where that is the usual one and
// taken, by another demo perhaps, the next free port.
func (d demoCommand) listenSomewhere() (net.Listener, error) {
	l, err := net.Listen("tcp", d.Listen)
	for port := 8081; errors.Is(err, syscall.EADDRINUSE) && d.Listen == "127.0.0.1:8080" && port < 8100; port++ {
		l, err = net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", port))
	}
	return l, err
}

func (d demoCommand) greet(w io.Writer, at net.Addr) {
	fmt.Fprintf(w, "\n  Maps           http://%s/\n  Send in bags   http://%s/send\n  Office         http://%s/office\n\n", at, at, at)
	for _, l := range demo.Logins {
		fmt.Fprintf(w, "  sign in as     %-12s %s\n", l.Login, l.Role)
	}
	fmt.Fprintf(w, "  password       %s\n\n", demo.Password)
	if host, _, err := net.SplitHostPort(at.String()); err == nil && !net.ParseIP(host).IsLoopback() {
		fmt.Fprintln(w, "  Anybody who can reach this address can sign in: the demo's password is public.")
	}
	fmt.Fprintln(w, "  Ctrl-C stops it.")
}

// demoStores are the program's stores as the demo uses them. They do not wait
// for the disk: a build that breaks off is made again from the start.
func demoStores(ctx context.Context, o *opened) (demo.Stores, func(), error) {
	staff, err := postgres.Open(ctx, o.logins.Staff+" options='-c synchronous_commit=off'")
	if err != nil {
		return demo.Stores{}, nil, err
	}
	public, err := postgres.Open(ctx, o.logins.Public+" options='-c synchronous_commit=off'")
	if err != nil {
		staff.Close()
		return demo.Stores{}, nil, err
	}
	return demo.Stores{
		Program: postgres.NewProgram(staff), Boundaries: demoBoundaries{postgres.NewBoundaries(staff)},
		Bags: postgres.NewBags(staff), Intake: postgres.NewIntake(public), Lab: postgres.NewLab(staff), SignOff: postgres.NewSignOff(staff), Indicators: postgres.NewIndicators(staff),
		Releases: demoReleases{postgres.NewReleases(staff)}, People: postgres.NewPeople(staff),
		Money: postgres.NewMoney(staff), Plan: planner(postgres.NewPublished(public), postgres.NewPlans(staff)),
	}, func() { staff.Close(); public.Close() }, nil
}

type demoBoundaries struct{ *postgres.Boundaries }

func (b demoBoundaries) Accept(ctx context.Context, s geofile.Set, today time.Time) error {
	_, err := b.Boundaries.Accept(ctx, s, today)
	return err
}

type demoReleases struct{ *postgres.Releases }

func (r demoReleases) Release(ctx context.Context, number int, cutoff, day time.Time, stamp string, by account.ID) error {
	_, err := r.Releases.Release(ctx, number, cutoff, day, stamp, by)
	return err
}

// bar shows progress on one line of a terminal, or a line a step elsewhere.
type bar struct {
	w    io.Writer
	tty  bool
	last string
}

func newBar(w io.Writer) *bar {
	b := &bar{w: w}
	if f, ok := w.(*os.File); ok {
		if info, err := f.Stat(); err == nil {
			b.tty = info.Mode()&os.ModeCharDevice != 0
		}
	}
	return b
}

func (b *bar) show(doing string, share float64) {
	const width = 36
	if !b.tty {
		if doing != b.last {
			fmt.Fprintf(b.w, "%3.0f %%  %s\n", 100*share, doing)
		}
		b.last = doing
		return
	}
	full := int(share*width + .5)
	fmt.Fprintf(b.w, "\r  %s%s  %-20s", strings.Repeat("=", full), strings.Repeat("·", width-full), doing)
	if share >= 1 {
		fmt.Fprintln(b.w)
	}
}
