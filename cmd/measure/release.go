package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
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
	sizes, runs := []int{10_000, 100_000}, 3
	switch os.Getenv("SIXMILE_LONG") {
	case "":
	case "2":
		sizes = append(sizes, 1_000_000, 10_000_000)
	default:
		sizes = append(sizes, 1_000_000)
	}
	c, done, err := releaseCluster(ctx, sizes[len(sizes)-1])
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	first := map[int]released{}
	for _, n := range sizes {
		if n >= 1_000_000 {
			runs = 1
		}
		r, err := releaseAll(ctx, c, n, runs, log)
		if err != nil {
			return fmt.Errorf("%d results: %w", n, err)
		}
		first[n] = r
		put(against(fmt.Sprintf("release of %d", n), "s", r.ours, r.bare, 1.5))
		// What the rules in the schema, the audit and the thinking cost together.
		put(against(fmt.Sprintf("release of %d, over no rules at all", n), "s", r.ours, r.loose, 2))
		fewer, ok := first[n/10]
		if !ok {
			continue
		}
		// Time grows as a power of the number; 1 is in proportion.
		put(against(fmt.Sprintf("growth %d to %d", n/10, n), "exponent", math.Log10(r.ours/fewer.ours), 1, 1.1))
		put(against(fmt.Sprintf("a season of %d on top of %d, against the first of %d", n/10, n, n/10), "s", r.top, fewer.ours, 2))
	}
	return nil
}

// releaseCluster is a database server for releases of up to so many results: a
// throw-away one, which may be kept in memory, or one on the disk where memory
// would not hold it.
func releaseCluster(ctx context.Context, most int) (c *cluster.Cluster, done func() error, err error) {
	if most <= 1_000_000 {
		if c, err = cluster.Open(ctx, cluster.Options{Throwaway: true}); err != nil {
			return nil, nil, err
		}
		return c, c.Stop, nil
	}
	dir, err := os.MkdirTemp("", "sixmile-measure-")
	if err != nil {
		return nil, nil, err
	}
	err = os.Chmod(dir, 0o711) // the server may run as another user
	if err == nil {
		c, err = cluster.Open(ctx, cluster.Options{Dir: filepath.Join(dir, "data")})
	}
	if err != nil {
		return nil, nil, errors.Join(err, os.RemoveAll(dir))
	}
	return c, func() error { return errors.Join(c.Stop(), os.RemoveAll(dir)) }, nil
}

// released is how many seconds releases of as many results took: ours, in bare SQL,
// and in bare SQL without the schema's release rules; and that of the next season's,
// a tenth as many, on top of ours.
type released struct{ ours, bare, loose, top float64 }

// releaseAll makes a database of n waiting results and releases copies of it in
// the three ways, in turn. Of each the quickest counts.
func releaseAll(ctx context.Context, c *cluster.Cluster, n, runs int, log io.Writer) (best released, err error) {
	base := fmt.Sprintf("measure%d", n)
	logins, err := releaseBase(ctx, c, base, n)
	if err != nil {
		return best, err
	}
	defer func() { err = errors.Join(err, c.DropDatabase(ctx, base)) }()
	for i := range runs {
		keep := func(name string, best *float64, took float64) {
			fmt.Fprintf(log, "%d results, %s: %.2f s\n", n, name, took)
			if i == 0 || took < *best {
				*best = took
			}
		}
		ours := func(ctx context.Context, there postgres.Logins) error {
			took, err := releaseAt(ctx, there, yardstick.Cutoff, yardstick.Day)
			if err != nil {
				return err
			}
			keep("ours", &best.ours, took)
			if err := yardstick.LoadMore(ctx, there, n/10); err != nil {
				return err
			}
			took, err = releaseAt(ctx, there, yardstick.NextCutoff, yardstick.NextDay)
			keep("a tenth as many on top", &best.top, took)
			return err
		}
		bare := func(name string, best *float64) func(context.Context, postgres.Logins) error {
			return func(ctx context.Context, there postgres.Logins) error {
				start := time.Now()
				err := yardstick.Release(ctx, there)
				keep(name, best, time.Since(start).Seconds())
				return err
			}
		}
		err := errors.Join(
			onCopy(ctx, c, logins, base+"ours", base, false, ours),
			onCopy(ctx, c, logins, base+"bare", base, false, bare("bare", &best.bare)),
			onCopy(ctx, c, logins, base+"loose", base, true, bare("loose", &best.loose)))
		if err != nil {
			return best, err
		}
	}
	return best, nil
}

// releaseBase makes a founded program with n waiting results.
func releaseBase(ctx context.Context, c *cluster.Cluster, base string, n int) (postgres.Logins, error) {
	logins, err := foundedIn(ctx, c, base)
	if err != nil {
		return logins, err
	}
	return logins, yardstick.Load(ctx, logins, n)
}

// onCopy runs run on a copy of the database base, which is dropped again.
func onCopy(ctx context.Context, c *cluster.Cluster, logins postgres.Logins, name, base string, loose bool,
	run func(context.Context, postgres.Logins) error) (err error) {
	if err := c.CloneDatabase(ctx, name, base); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.DropDatabase(ctx, name)) }()
	there, err := logins.WithDatabase(name)
	if err != nil {
		return err
	}
	if loose {
		if err := yardstick.Loosen(ctx, there); err != nil {
			return err
		}
	}
	return run(ctx, there)
}

// releaseAt times the release alone: what is looked at before is the preview.
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
