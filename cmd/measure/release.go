package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/cluster"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/yardstick"
)

// measureRelease times a release of many waiting results, audit included,
// against GROUP BY and the same rows put into the same tables under the same
// constraints in bare SQL. SIXMILE_LONG=1 adds a million, SIXMILE_LONG=2 ten million
// as well.
func measureRelease(ctx context.Context, put func(row), log io.Writer) (err error) {
	if _, err := cluster.Ensure(ctx, log); err != nil {
		return err
	}
	c, err := cluster.Open(ctx, cluster.Options{Throwaway: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Stop()) }()
	sizes, runs := []int{10_000, 100_000}, 3
	switch os.Getenv("SIXMILE_LONG") {
	case "":
	case "2":
		sizes = append(sizes, 1_000_000, 10_000_000)
	default:
		sizes = append(sizes, 1_000_000)
	}
	var last float64
	first := map[int]float64{}
	for i, n := range sizes {
		if n >= 1_000_000 {
			runs = 1
		}
		ours, bare, loose, err := releaseAll(ctx, c, n, runs, log)
		if err != nil {
			return fmt.Errorf("%d results: %w", n, err)
		}
		put(against(fmt.Sprintf("release of %d", n), "s", ours, bare, 1.5))
		// What the rules in the schema, the audit and the thinking cost together.
		put(against(fmt.Sprintf("release of %d, over no rules at all", n), "s", ours, loose, 2))
		if i > 0 {
			// Time grows as a power of the number; 1 is in proportion.
			grew := math.Log(ours/last) / math.Log(float64(n)/float64(sizes[i-1]))
			put(against(fmt.Sprintf("growth %d to %d", sizes[i-1], n), "exponent", grew, 1, 1.1))
		}
		last = ours
		first[n] = ours
	}
	// A season of a tenth as many on top of the largest, against as many by themselves.
	most := sizes[len(sizes)-1]
	top, err := releaseOnTop(ctx, c, most, most/10)
	if err != nil {
		return fmt.Errorf("a season on top: %w", err)
	}
	put(against(fmt.Sprintf("a season of %d on top of %d, against the first of %d", most/10, most, most/10), "s", top, first[most/10], 2))
	return nil
}

// releaseOnTop releases n results, then times the release of the next season's more.
func releaseOnTop(ctx context.Context, c *cluster.Cluster, n, more int) (seconds float64, err error) {
	base := fmt.Sprintf("measure%d", n) // as releaseAll left it
	logins, err := postgres.Provision(ctx, c.DSN(base, cluster.Superuser))
	if err != nil {
		return 0, err
	}
	return onCopy(ctx, c, logins, base+"top", base, false, func(ctx context.Context, there postgres.Logins) (float64, error) {
		if _, err := releaseOurs(ctx, there); err != nil {
			return 0, err
		}
		if err := yardstick.LoadMore(ctx, there, more); err != nil {
			return 0, err
		}
		return releaseAt(ctx, there, yardstick.NextCutoff, yardstick.NextDay)
	})
}

// releaseAll makes a database of n waiting results and releases copies of it in
// three ways, in turn: ours, in bare SQL, and in bare SQL without the schema's
// release rules. Of each the quickest counts.
func releaseAll(ctx context.Context, c *cluster.Cluster, n, runs int, log io.Writer) (ours, bare, loose float64, err error) {
	base := fmt.Sprintf("measure%d", n)
	logins, err := releaseBase(ctx, c, base, n)
	if err != nil {
		return 0, 0, 0, err
	}
	ways := []struct {
		name  string
		best  *float64
		loose bool
		run   func(context.Context, postgres.Logins) (float64, error)
	}{{"ours", &ours, false, releaseOurs}, {"bare", &bare, false, releaseBare}, {"loose", &loose, true, releaseBare}}
	for i := range runs {
		for _, w := range ways {
			took, err := onCopy(ctx, c, logins, base+w.name, base, w.loose, w.run)
			if err != nil {
				return 0, 0, 0, fmt.Errorf("%s: %w", w.name, err)
			}
			fmt.Fprintf(log, "%d results, %s: %.2f s\n", n, w.name, took)
			if i == 0 || took < *w.best {
				*w.best = took
			}
		}
	}
	return ours, bare, loose, nil
}

// releaseBase makes a founded program with n waiting results.
func releaseBase(ctx context.Context, c *cluster.Cluster, base string, n int) (postgres.Logins, error) {
	logins, err := foundedIn(ctx, c, base)
	if err != nil {
		return logins, err
	}
	return logins, yardstick.Load(ctx, logins, n)
}

// onCopy times run on a copy of the database base, which is dropped again.
func onCopy(ctx context.Context, c *cluster.Cluster, logins postgres.Logins, name, base string, loose bool,
	run func(context.Context, postgres.Logins) (float64, error)) (seconds float64, err error) {
	if err := c.CloneDatabase(ctx, name, base); err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, c.DropDatabase(ctx, name)) }()
	there, err := logins.WithDatabase(name)
	if err != nil {
		return 0, err
	}
	if loose {
		if err := yardstick.Loosen(ctx, there); err != nil {
			return 0, err
		}
	}
	return run(ctx, there)
}

// releaseOurs times the release alone: what is looked at before is the preview.
func releaseOurs(ctx context.Context, there postgres.Logins) (seconds float64, err error) {
	return releaseAt(ctx, there, yardstick.Cutoff, yardstick.Day)
}

func releaseAt(ctx context.Context, there postgres.Logins, cutoff, day time.Time) (seconds float64, err error) {
	staff, err := postgres.Open(ctx, there.Staff)
	if err != nil {
		return 0, err
	}
	defer staff.Close()
	store := postgres.NewReleases(staff)
	p, err := store.Preview(ctx, cutoff, day)
	if err != nil {
		return 0, err
	}
	start := time.Now()
	_, err = store.Release(ctx, p.Number, cutoff, day, p.Stamp, account.ID{})
	return time.Since(start).Seconds(), err
}

func releaseBare(ctx context.Context, there postgres.Logins) (seconds float64, err error) {
	start := time.Now()
	err = yardstick.Release(ctx, there)
	return time.Since(start).Seconds(), err
}
