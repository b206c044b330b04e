package main

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"sixmile/internal/atlas"
	"sixmile/internal/cluster"
	"sixmile/internal/gazette"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/yardstick"
	"sixmile/internal/press"
)

// measureCompose draws a county's map of the demo with nothing kept: the edition
// is read, summed up, composed and painted. Where finds meet none found is worked out
// from the whole state, once an edition, and is timed by itself. The yardstick asks the same questions
// and looks at every row as it comes.
func measureCompose(ctx context.Context, put func(row), log io.Writer) (err error) {
	site, err := newSite(ctx, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, site.close()) }()
	pool, err := postgres.Open(ctx, site.logins.Public)
	if err != nil {
		return err
	}
	defer pool.Close()
	var line []float64 // seconds of working out the line, each run
	draw := func(db postgres.DB) error {
		published := postgres.NewPublished(db)
		no, err := published.Latest(ctx)
		if err != nil {
			return err
		}
		issue, err := published.Issue(ctx, no)
		if err != nil {
			return err
		}
		x, err := gazette.NewIndex(issue)
		if err != nil {
			return err
		}
		start := time.Now()
		if _, err := x.Edge(); err != nil {
			return err
		}
		line = append(line, time.Since(start).Seconds())
		v, _ := x.County(issue.Counties[0].Slug)
		none := func(string) (string, string) { return "", "" }
		m := x.CountyMap(v, atlas.Imprint{Title: v.Name}, gazette.Captions{
			Township: func(*gazette.TownshipView) (string, string) { return none("") },
			Joined:   func(int, *gazette.JoinedView) (string, string) { return none("") },
		})
		return press.SVG(io.Discard, atlas.ComposeCounty(m, atlas.Screen), press.Options{})
	}
	recorder := &yardstick.Recorder{DB: pool}
	if err := draw(recorder); err != nil {
		return err
	}
	var runs []float64
	for range 20 {
		start := time.Now()
		if err := draw(pool); err != nil {
			return err
		}
		runs = append(runs, time.Since(start).Seconds()-line[len(line)-1])
	}
	ours := slices.Min(runs)
	bare, err := best(20, func() error {
		_, err := recorder.Again(ctx, pool)
		return err
	})
	if err != nil {
		return err
	}
	put(against("a county's map, nothing kept, against the bare rows", "ms", ours*1000, bare*1000, 2))
	put(within("the whole state's line, once an edition", "ms", slices.Min(line)*1000, 500))
	return nil
}

// site is a built demo on a durable private cluster, thrown away at the end.
type site struct {
	dir     string
	cluster *cluster.Cluster
	logins  postgres.Logins
	bin     string
	log     io.Writer
}

// newSite builds the program and lets it build the demo.
func newSite(ctx context.Context, log io.Writer) (s *site, err error) {
	if _, err := cluster.Ensure(ctx, log); err != nil {
		return nil, err
	}
	s = &site{log: log}
	if s.dir, err = os.MkdirTemp("", "sixmile-measure"); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.close())
		}
	}()
	// The database and nginx run as users of their own, who have to get in.
	if err := os.Chmod(s.dir, 0o755); err != nil {
		return s, err
	}
	s.bin = filepath.Join(s.dir, "sixmile")
	if err := tool(ctx, log, "go", "build", "-o", s.bin, "./cmd/sixmile"); err != nil {
		return s, err
	}
	if err := tool(ctx, log, s.bin, "demo", "--only", "--data", filepath.Join(s.dir, "data")); err != nil {
		return s, err
	}
	// As durable as an office's: the cluster keeps its folder and its fsync.
	if s.cluster, err = cluster.Open(ctx, cluster.Options{Dir: filepath.Join(s.dir, "data")}); err != nil {
		return s, err
	}
	if s.logins, err = postgres.Provision(ctx, s.cluster.DSN("sixmile_demo", cluster.Superuser)); err != nil {
		return s, err
	}
	// A server that starts forgets what has had its time, which is not measured here.
	_, _, err = postgres.Unlink(ctx, s.logins.Admin, time.Now().UTC().Truncate(24*time.Hour), false)
	return s, err
}

func (s *site) close() (err error) {
	if s.cluster != nil {
		err = s.cluster.Stop()
	}
	return errors.Join(err, os.RemoveAll(s.dir))
}
