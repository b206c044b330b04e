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
	"sixmile/internal/desk"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/yardstick"
)

// measureRelease times a release of many waiting results, audit included,
// against GROUP BY and the same rows put into the same tables under the same
// constraints in bare SQL. SIXMILE_LONG adds a million.
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
	if os.Getenv("SIXMILE_LONG") != "" {
		sizes = append(sizes, 1_000_000)
	}
	var last float64
	for i, n := range sizes {
		if n >= 1_000_000 {
			runs = 1
		}
		ours, bare, err := releaseBoth(ctx, c, n, runs, log)
		if err != nil {
			return fmt.Errorf("%d results: %w", n, err)
		}
		put(against(fmt.Sprintf("release of %d", n), "s", ours, bare, 1.5))
		if i > 0 {
			// Time grows as a power of the number; 1 is in proportion.
			grew := math.Log(ours/last) / math.Log(float64(n)/float64(sizes[i-1]))
			put(against(fmt.Sprintf("growth %d to %d", sizes[i-1], n), "exponent", grew, 1, 1.1))
		}
		last = ours
	}
	return nil
}

// releaseBoth makes a database of n waiting results and releases copies of it
// both ways, in turn; of each the quickest counts.
func releaseBoth(ctx context.Context, c *cluster.Cluster, n, runs int, log io.Writer) (ours, bare float64, err error) {
	base := fmt.Sprintf("measure%d", n)
	if _, err := c.CreateDatabase(ctx, base); err != nil {
		return 0, 0, err
	}
	logins, err := postgres.Provision(ctx, c.DSN(base, cluster.Superuser))
	if err != nil {
		return 0, 0, err
	}
	staff, err := postgres.Open(ctx, logins.Staff)
	if err != nil {
		return 0, 0, err
	}
	err = postgres.NewProgram(staff).Found(ctx, desk.About{Name: "Measure", State: "Nowhere"})
	staff.Close() // a database in use cannot be copied
	if err != nil {
		return 0, 0, err
	}
	if err := yardstick.Load(ctx, logins, n); err != nil {
		return 0, 0, err
	}
	ours, bare = math.Inf(1), math.Inf(1)
	for range runs {
		a, err := releaseOurs(ctx, c, logins, base)
		if err != nil {
			return 0, 0, err
		}
		b, err := releaseBare(ctx, c, logins, base)
		if err != nil {
			return 0, 0, err
		}
		fmt.Fprintf(log, "%d results: ours %.2f s, bare %.2f s\n", n, a, b)
		ours, bare = min(ours, a), min(bare, b)
	}
	return ours, bare, nil
}

func copyOf(ctx context.Context, c *cluster.Cluster, logins postgres.Logins, base, suffix string) (postgres.Logins, func() error, error) {
	name := base + suffix
	if err := c.CloneDatabase(ctx, name, base); err != nil {
		return postgres.Logins{}, nil, err
	}
	there, err := logins.WithDatabase(name)
	return there, func() error { return c.DropDatabase(ctx, name) }, err
}

func releaseOurs(ctx context.Context, c *cluster.Cluster, logins postgres.Logins, base string) (seconds float64, err error) {
	there, drop, err := copyOf(ctx, c, logins, base, "ours")
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, drop()) }()
	staff, err := postgres.Open(ctx, there.Staff)
	if err != nil {
		return 0, err
	}
	defer staff.Close()
	store := postgres.NewReleases(staff)
	p, err := store.Preview(ctx, yardstick.Cutoff, yardstick.Day)
	if err != nil {
		return 0, err
	}
	start := time.Now()
	_, err = store.Release(ctx, p.Number, yardstick.Cutoff, yardstick.Day, p.Stamp, account.ID{})
	return time.Since(start).Seconds(), err
}

func releaseBare(ctx context.Context, c *cluster.Cluster, logins postgres.Logins, base string) (seconds float64, err error) {
	there, drop, err := copyOf(ctx, c, logins, base, "bare")
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, drop()) }()
	start := time.Now()
	err = yardstick.Release(ctx, there)
	return time.Since(start).Seconds(), err
}
