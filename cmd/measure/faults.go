package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// doses say how much of each fault there is: the full form for the figures, a short
// one for every run of the tests.
type doses struct {
	kills   int
	writers int
	pause   time.Duration
	hostile int
	slow    int
	bags    int // for forms
	soils   int // for counts
}

var (
	fullDoses  = doses{kills: 54, writers: 8, pause: time.Minute, hostile: 10_000, slow: 24, bags: 2000, soils: 400}
	shortDoses = doses{kills: 3, writers: 8, pause: time.Second, hostile: 200, slow: 4, bags: 300, soils: 60}
)

// measureFaults breaks the program and its database while people work, and counts
// what of that an acknowledged write, a reader and an attacker notice. Everything
// runs on loopback, in folders of its own.
func measureFaults(ctx context.Context, put func(row), log io.Writer) error {
	return faults(ctx, fullDoses, put, log)
}

func faults(ctx context.Context, d doses, put func(row), log io.Writer) (err error) {
	dir, err := os.MkdirTemp("/tmp", "sixmile-faults-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	if err := os.Chmod(dir, 0o755); err != nil {
		return err
	}
	began := time.Now()
	lap := func(what string) {
		fmt.Fprintf(log, "faults: %s, %.1f s\n", what, time.Since(began).Seconds())
		began = time.Now()
	}
	program := filepath.Join(dir, "sixmile")
	if out, err := exec.CommandContext(ctx, "go", "build", "-o", program, "sixmile/cmd/sixmile").CombinedOutput(); err != nil {
		return fmt.Errorf("build: %w\n%s", err, out)
	}
	lap("built")
	b := &bench{ctx: ctx, program: program, dir: filepath.Join(dir, "data"), put: put, log: log, doses: d}
	if err := b.setUp(d.bags, d.soils); err != nil {
		return fmt.Errorf("set-up: %w", err)
	}
	lap("set up")
	for _, f := range []struct {
		name string
		run  func() error
	}{{"kills", b.kills}, {"pause", b.paused}, {"hostile", b.hostile}} {
		if err := f.run(); err != nil {
			return fmt.Errorf("%s: %w", f.name, err)
		}
		lap(f.name)
	}
	defer lap("full disk")
	return b.onFullDisk(filepath.Join(dir, "full"))
}

// never is a row for what may not happen at all: ours of so many.
func never(name string, ours, of int) row {
	r := row{Name: name, Unit: fmt.Sprintf("of %d", of), Ours: float64(ours), Limit: float64(of), Aim: 0, Met: ours == 0 && of > 0}
	if of > 0 {
		r.Ratio = float64(ours) / float64(of)
	}
	return r
}
