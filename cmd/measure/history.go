package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/cluster"
	"sixmile/internal/desk"
	"sixmile/internal/past"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/yardstick"
)

// onLattice runs f on a founded program with 90,000 townships.
func onLattice(ctx context.Context, log io.Writer, shapes bool, f func(ctx context.Context, there postgres.Logins, staff *postgres.Pool) error) error {
	return founded(ctx, log, func(ctx context.Context, there postgres.Logins, staff *postgres.Pool) error {
		if err := yardstick.Lattice(ctx, there, shapes); err != nil {
			return err
		}
		return f(ctx, there, staff)
	})
}

// founded runs f on a program of its own that has no places yet.
func founded(ctx context.Context, log io.Writer, f func(ctx context.Context, there postgres.Logins, staff *postgres.Pool) error) (err error) {
	if _, err := cluster.Ensure(ctx, log); err != nil {
		return err
	}
	c, err := cluster.Open(ctx, cluster.Options{Throwaway: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Stop()) }()
	if _, err := c.CreateDatabase(ctx, "founded"); err != nil {
		return err
	}
	logins, err := postgres.Provision(ctx, c.DSN("founded", cluster.Superuser))
	if err != nil {
		return err
	}
	staff, err := postgres.Open(ctx, logins.Staff)
	if err != nil {
		return err
	}
	defer staff.Close()
	if err := postgres.NewProgram(staff).Found(ctx, desk.About{Name: "Measure", State: "Nowhere"}); err != nil {
		return err
	}
	return f(ctx, logins, staff)
}

// measureHistory times files of 50,000 past results on 90,000 townships, from the
// bytes to the last row stored, against the minute that is allowed.
func measureHistory(ctx context.Context, put func(row), log io.Writer) error {
	const rows, allowed = 50_000, 60
	return onLattice(ctx, log, true, func(ctx context.Context, _ postgres.Logins, staff *postgres.Pool) error {
		for _, way := range []struct {
			name, head string
			row        func(i int) string
		}{
			{"coordinates", "year,lon,lat,eggs per 100 cc,farm", func(i int) string {
				return fmt.Sprintf("%d,%.6f,%.6f,%d,farm %d", 2000+i%20, -99.99+float64(i*7919%14900)/1000, 30.01+float64(i*104729%14900)/1000, i%3000, i/4)
			}},
			{"legal descriptions", "year,legal,eggs per 100 cc,farm", func(i int) string {
				return fmt.Sprintf("%d,NE of the SW of %d T%dN R%dE,%d,farm %d", 2000+i%20, 1+i%36, 1+i*7919%199, 1+i*104729%199, i%3000, i/4)
			}},
		} {
			var b strings.Builder
			b.WriteString(way.head + "\n")
			for i := range rows {
				b.WriteString(way.row(i) + "\n")
			}
			start := time.Now()
			if err := loadPast(ctx, postgres.NewHistory(staff), []byte(b.String()), rows); err != nil {
				return fmt.Errorf("%s: %w", way.name, err)
			}
			put(against(fmt.Sprintf("%d past results by %s", rows, way.name), "s", time.Since(start).Seconds(), allowed, 1))
		}
		return nil
	})
}

func loadPast(ctx context.Context, s *postgres.History, data []byte, rows int) error {
	sheet, err := past.Open(data, nil)
	if err != nil {
		return err
	}
	today := time.Date(2026, time.March, 1, 0, 0, 0, 0, time.UTC)
	with, err := s.Setup(ctx, today)
	if err != nil {
		return err
	}
	with.SRID = 4326
	g, err := s.Gazetteer(ctx)
	if err != nil {
		return err
	}
	v, err := past.Judge(ctx, sheet, past.Guess(sheet), with, g, s, func(int) {})
	if err != nil {
		return err
	}
	if !v.Ready() {
		return fmt.Errorf("%d bad rows: %v", v.BadRows, v.Kinds)
	}
	n, err := s.Accept(ctx, v.Digest, v.Kept, account.ID{}, today)
	if err == nil && n != rows {
		err = fmt.Errorf("%d rows of %d", n, rows)
	}
	return err
}

// measurePlace times look-ups of places among 90,000 townships against the 5 ms
// that are allowed: of each kind the slowest text, of which the quickest try counts.
func measurePlace(ctx context.Context, put func(row), log io.Writer) error {
	const allowed, tries = 5, 15
	return onLattice(ctx, log, false, func(ctx context.Context, there postgres.Logins, staff *postgres.Pool) error {
		public, err := postgres.Open(ctx, there.Public)
		if err != nil {
			return err
		}
		defer public.Close()
		names := postgres.NewPlaceNames(public)
		all, err := names.Find(ctx, place.ParseQuery("T150N R150E"), 1)
		if err != nil || len(all) == 0 {
			return errors.Join(err, errors.New("the lattice has no T150N R150E"))
		}
		name := all[0].Place.Name
		for _, kind := range []struct {
			name  string
			texts []string
		}{
			{"legal description", []string{"T21N R8E", "NW 12-121-198", "199-199", "SE of the NE of 12, T150N, R150E"}},
			{"name", []string{name, all[0].County.Name + " County: " + name}},
			{"name with a slip", []string{name[:1] + name[2:], name[:len(name)-1] + "x"}},
			{"no such name", []string{"Quetzalcoatl", "xxxxxxxxxx"}},
		} {
			worst := 0.0
			for _, text := range kind.texts {
				ms, err := lookUp(ctx, names, text, tries)
				if err != nil {
					return err
				}
				worst = max(worst, ms)
			}
			put(against("look-up by "+kind.name, "ms", worst, allowed, 1))
		}
		return nil
	})
}

func lookUp(ctx context.Context, names *postgres.PlaceNames, text string, tries int) (float64, error) {
	times := make([]float64, tries)
	for i := range times {
		start := time.Now()
		if _, err := names.Find(ctx, place.ParseQuery(text), 20); err != nil {
			return 0, err
		}
		times[i] = time.Since(start).Seconds() * 1000
	}
	return slices.Min(times), nil
}
