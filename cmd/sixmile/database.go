package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"sixmile/internal/cluster"
	"sixmile/internal/postgres"
)

// database says which database a command works on.
type database struct {
	Data    string `help:"Folder of a private database, started if it is not running." placeholder:"DIR" type:"path"`
	URL     string `help:"Address of a PostgreSQL database with PostGIS, as its administrator; used where --data is not given." env:"DATABASE_URL" placeholder:"URL"`
	Witness string `help:"File that remembers outside the database what was made public, so that a backup put back cannot undo it; in the folder where --data is given." env:"SIXMILE_WITNESS" placeholder:"FILE" type:"path"`
}

// opened is a database in use.
type opened struct {
	logins  postgres.Logins
	cluster *cluster.Cluster // nil where the server is somebody else's
	staff   *postgres.Pool
	public  *postgres.Pool
	witness string // its file; empty: there is none
}

// errNoDatabase: neither a folder nor an address was given.
var errNoDatabase = errors.New("which database? give --data DIR for a private one, or set DATABASE_URL")

// login finds or starts the server and makes sure the database is there.
func (d database) login(ctx context.Context, name string, log io.Writer) (*opened, error) {
	if d.Data == "" && d.URL == "" {
		return nil, errNoDatabase
	}
	if d.Data == "" {
		return &opened{logins: postgres.Logins{Admin: d.URL}, witness: d.witnessFile()}, nil
	}
	if _, err := cluster.Ensure(ctx, log); err != nil {
		return nil, err
	}
	c, err := cluster.Open(ctx, cluster.Options{Dir: d.Data, Log: log})
	if err != nil {
		return nil, err
	}
	if _, err := c.CreateDatabase(ctx, name); err != nil {
		return nil, errors.Join(err, c.Stop())
	}
	return &opened{logins: postgres.Logins{Admin: c.DSN(name, "")}, cluster: c, witness: d.witnessFile()}, nil
}

// open is login, then brings the schema up to date and opens both pools.
func (d database) open(ctx context.Context, log io.Writer) (*opened, error) {
	o, err := d.login(ctx, "sixmile", log)
	if err != nil {
		return nil, err
	}
	if err = o.provision(ctx); err == nil {
		err = o.checkWitness(ctx)
	}
	if err != nil {
		return nil, errors.Join(err, o.close())
	}
	return o, nil
}

// provision is connect for a database that may be served.
func (o *opened) provision(ctx context.Context) error {
	if err := o.connect(ctx); err != nil {
		return err
	}
	mark, err := postgres.Mark(ctx, o.logins.Admin)
	if err == nil && mark == postgres.NotLookedOver {
		err = postgres.ErrNotLookedOver
	}
	return err
}

func (o *opened) connect(ctx context.Context) (err error) {
	if o.logins, err = postgres.Provision(ctx, o.logins.Admin); err != nil {
		return err
	}
	if o.staff, err = postgres.Open(ctx, o.logins.Staff); err != nil {
		return err
	}
	o.public, err = postgres.Open(ctx, o.logins.Public)
	return err
}

func (o *opened) disconnect() {
	for _, p := range []*postgres.Pool{o.staff, o.public} {
		if p != nil {
			p.Close()
		}
	}
	o.staff, o.public = nil, nil
}

func (o *opened) close() error {
	o.disconnect()
	if o.cluster != nil {
		return o.cluster.Stop()
	}
	return nil
}

// with runs f on an opened database and closes it again.
func (d database) with(ctx context.Context, c console, f func(o *opened) error) error {
	o, err := d.open(ctx, c.err)
	if err != nil {
		return err
	}
	return o.use(ctx, f)
}

func (o *opened) use(ctx context.Context, f func(o *opened) error) (err error) {
	defer func() { err = errors.Join(err, o.close()) }()
	if err := f(o); err != nil {
		return err
	}
	// What the command made public or took back. A server that is stopped while the
	// database is away has written it down all along.
	err = o.keepWitness(context.WithoutCancel(ctx))
	if err != nil && ctx.Err() != nil && postgres.Unavailable(err) {
		return nil
	}
	return err
}

// demoToo is a database that may be the demo's, of which nothing is witnessed.
type demoToo struct {
	database
	Demo bool `help:"Work on the demo's database, in the demo's folder unless --data says otherwise."`
}

func (d demoToo) open(ctx context.Context, log io.Writer) (o *opened, err error) {
	if !d.Demo {
		return d.database.open(ctx, log)
	}
	if d.Data == "" && d.URL == "" {
		if d.Data, err = demoFolder(); err != nil {
			return nil, err
		}
	}
	if o, err = d.login(ctx, "sixmile_demo", log); err != nil {
		return nil, err
	}
	o.witness = ""
	if err := o.provision(ctx); err != nil {
		return nil, errors.Join(err, o.close())
	}
	return o, nil
}

func (d demoToo) with(ctx context.Context, c console, f func(o *opened) error) error {
	o, err := d.open(ctx, c.err)
	if err != nil {
		return err
	}
	return o.use(ctx, f)
}

// demoFolder is where the demo keeps its data unless told otherwise: with the
// person's own data, or where a server that may not run as root can reach it.
func demoFolder() (string, error) {
	if os.Geteuid() == 0 {
		return "/var/lib/sixmile-demo", nil
	}
	if d := os.Getenv("XDG_DATA_HOME"); d != "" {
		return filepath.Join(d, "sixmile-demo"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", fmt.Errorf("no home folder to keep the demo in: give --data DIR: %w", err)
	}
	return filepath.Join(home, ".local", "share", "sixmile-demo"), nil
}
