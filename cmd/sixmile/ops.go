package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"

	"sixmile/internal/postgres"
	"sixmile/web"
)

// operations are the flags of whoever looks after a server.
type operations struct {
	Only    string `help:"Serve the public pages alone, or the office alone." enum:",public,office" default:"" placeholder:"public|office"`
	Replica string `help:"Address of a streaming replica of the database, as the administrator: the public pages read editions from it." env:"SIXMILE_REPLICA_URL" placeholder:"URL"`
	Metrics string `help:"Address for numbers in Prometheus's format, such as 127.0.0.1:9090. Keep it on the machine itself." placeholder:"HOST:PORT"`
	LogJSON bool   `help:"Write the log as a JSON object a line." name:"log-json"`
	nightly
}

func (f operations) logger(w io.Writer, verbose bool) *slog.Logger {
	if !f.LogJSON {
		return logger(w, verbose)
	}
	level := slog.LevelInfo
	if verbose {
		level = slog.LevelDebug
	}
	return slog.New(slog.NewJSONHandler(w, &slog.HandlerOptions{Level: level}))
}

// begin starts what runs beside the pages; the function it returns ends it.
func (f operations) begin(ctx context.Context, c console, o *opened, at *site) (end func(), err error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(ctx)
	ends := []func(){cancel}
	end = func() {
		for i := len(ends) - 1; i >= 0; i-- {
			ends[i]()
		}
	}
	if f.Replica != "" {
		login, err := o.logins.PublicAt(f.Replica)
		if err == nil {
			at.Replica, err = postgres.OpenReplica(ctx, login)
		}
		if err != nil {
			end()
			return nil, err
		}
		ends = append(ends, at.Replica.Close)
	}
	if f.Metrics != "" {
		stop, err := f.meter(c, o, at)
		if err != nil {
			end()
			return nil, err
		}
		ends = append(ends, stop)
	}
	if f.Only != "public" { // one of two halves does the chores
		go unlinkDaily(ctx, o.logins.Admin, at.Log)
		go o.watchPublic(ctx, at.Log)
		go f.keep(ctx, o.logins.Admin, at.Log)
	}
	return end, nil
}

// meter counts answers and serves the numbers at an address of their own.
func (f operations) meter(c console, o *opened, at *site) (stop func(), err error) {
	pools := map[string]func() web.Pool{"public": stand(o.public), "staff": stand(o.staff)}
	if at.Replica != nil {
		pools["replica"] = stand(at.Replica)
	}
	m := web.NewMeter(version(), today, pools)
	at.Watch = m.Watch
	if f.Backups != "" {
		m.Gauge("backup_age_days", "Days since the newest backup; -1 where there is none.", func() float64 { return f.age(today()) })
	}
	l, err := net.Listen("tcp", f.Metrics)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(c.out, "Numbers on http://%s/metrics\n", l.Addr())
	srv := &http.Server{Handler: m.Handler(), ReadHeaderTimeout: readHeaderWithin}
	go srv.Serve(l) //nolint:errcheck // ends with an error when it is closed
	return func() { _ = srv.Close() }, nil
}

func stand(p *postgres.Pool) func() web.Pool {
	return func() web.Pool {
		s := p.Stat()
		return web.Pool{InUse: s.AcquiredConns(), Idle: s.IdleConns(), Most: s.MaxConns()}
	}
}

// version is what the build says of itself: a commit where there is one.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			return s.Value[:min(12, len(s.Value))]
		}
	}
	return info.Main.Version
}
