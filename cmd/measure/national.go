package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"sixmile/internal/cluster"
	"sixmile/internal/desk"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/yardstick"
)

// measureNational serves a nation, what the public sees of ten million bags in
// twenty editions, and asks for one of its counties' pages in turn with one of the
// demo's.
func measureNational(ctx context.Context, put func(row), log io.Writer) error {
	return serving(ctx, log, func(s *site, demo *process) (err error) {
		c, err := cluster.Open(ctx, cluster.Options{Throwaway: true})
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, c.Stop()) }()
		nation := &site{bin: s.bin, log: log}
		if nation.logins, err = foundedIn(ctx, c, "nation"); err != nil {
			return err
		}
		start := time.Now()
		if err := yardstick.National(ctx, nation.logins); err != nil {
			return err
		}
		fmt.Fprintf(log, "nation made in %.0f s\n", time.Since(start).Seconds())
		const theirs, ours = "/county/quillmere", "/county/invented-1500"
		p, took, err := nation.startAt(ctx, ours, "--only", "public")
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, p.stop()) }()
		memory, err := p.memory()
		if err != nil {
			return err
		}
		put(within("a nation: start to a county's first page", "s", took, 60))
		put(within("a nation: memory after it", "MB", memory, 4000))
		return inTurn(put, "a county of a nation, warm, against one of the demo", [2]string{p.base + ours, demo.base + theirs})
	})
}

// inTurn compares the rates of two addresses, asked in turn.
func inTurn(put func(row), name string, at [2]string) error {
	var rates [2][]float64
	for range rounds {
		for i, address := range at {
			body, _, err := fetch(address, "gzip")
			if err != nil {
				return err
			}
			host, path, _ := strings.Cut(strings.TrimPrefix(address, "http://"), "/")
			rate, err := ask(host, "/"+path, len(body))
			if err != nil {
				return err
			}
			rates[i] = append(rates[i], rate)
		}
	}
	put(atLeast(name, "requests/s", middle(rates[0]), middle(rates[1]), 0.8))
	return nil
}

// foundedIn is a new database with a founded program in it.
func foundedIn(ctx context.Context, c *cluster.Cluster, name string) (postgres.Logins, error) {
	if _, err := c.CreateDatabase(ctx, name); err != nil {
		return postgres.Logins{}, err
	}
	logins, err := postgres.Provision(ctx, c.DSN(name, cluster.Superuser))
	if err != nil {
		return logins, err
	}
	staff, err := postgres.Open(ctx, logins.Staff)
	if err != nil {
		return logins, err
	}
	defer staff.Close() // a database in use cannot be copied
	return logins, postgres.NewProgram(staff).Found(ctx, desk.About{Name: "Measure", State: "Nowhere"})
}
