package yardstick_test

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/pgtest"
	"sixmile/internal/postgres/yardstick"
)

func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }

// The two ways of releasing are worth comparing only where they store the same.
func TestBothWaysStoreTheSame(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	loaded := func(n int) postgres.Logins {
		l := pgtest.Database(t)
		staff, err := postgres.Open(ctx, l.Staff)
		require.NoError(t, err)
		defer staff.Close()
		require.NoError(t, postgres.NewProgram(staff).Found(ctx, desk.About{Name: "Measure", State: "Nowhere"}))
		require.NoError(t, yardstick.Load(ctx, l, n))
		return l
	}
	release := func(l postgres.Logins) {
		staff, err := postgres.Open(ctx, l.Staff)
		require.NoError(t, err)
		defer staff.Close()
		s := postgres.NewReleases(staff)
		p, err := s.Preview(ctx, yardstick.Cutoff, yardstick.Day)
		require.NoError(t, err)
		require.NotEmpty(t, p.Drafts)
		require.NotEmpty(t, p.Waiting)
		_, err = s.Release(ctx, p.Number, yardstick.Cutoff, yardstick.Day, p.Stamp, account.ID{})
		require.NoError(t, err)
	}
	ours, bare, fewer := loaded(12_000), loaded(12_000), loaded(11_990)
	release(ours)
	require.NoError(t, yardstick.Release(ctx, bare))
	same, err := yardstick.Same(ctx, ours, bare)
	require.NoError(t, err)
	require.True(t, same)
	release(fewer)
	same, err = yardstick.Same(ctx, ours, fewer)
	require.NoError(t, err)
	require.False(t, same, "a comparison that cannot fail compares nothing")
}
