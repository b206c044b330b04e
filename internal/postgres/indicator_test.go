package postgres_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
	"sixmile/internal/virulence"
)

func TestIndicatorLines(t *testing.T) {
	o := newOffice(t)
	ctx, store := ctxOf(t), postgres.NewIndicators(o.staff)
	c := o.bags(2)
	o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c[0]))
	test := virulence.Test{Check: []int{200, 180, 220, 210, 190}}
	test.Pots[1] = []int{40, 36, 44, 42, 38} // PI 88788
	test.Pots[0] = []int{2, 0, 1, 3, 4}      // Peking
	require.ErrorIs(t, store.Record(ctx, c[1], test, desk.ID{}, account.ID{}, date(2021, 2, 1)), fault.ErrNotFound, "nothing says where it is from")
	require.ErrorIs(t, store.Record(ctx, c[0], virulence.Test{}, desk.ID{}, account.ID{}, date(2021, 2, 1)), assay.Missing)
	require.NoError(t, store.Record(ctx, c[0], test, desk.ID{}, account.ID{}, date(2021, 2, 1)))
	require.ErrorIs(t, store.Record(ctx, c[0], test, desk.ID{}, account.ID{}, date(2021, 2, 1)), fault.ErrConflict)
	got, err := store.Find(ctx, c[0])
	require.NoError(t, err)
	require.Equal(t, test.Check, got.Test.Check)
	require.Equal(t, test.Pots[1], got.Test.Pots[1])
	require.Empty(t, got.Test.Pots[2], "a line that was not tested stays so")
	r, err := got.Test.Result()
	require.NoError(t, err)
	require.Equal(t, "2 (of 1.2)", r.Type.String())

	test.Pots[0] = []int{30, 30, 30, 30, 30}
	require.NoError(t, store.Record(ctx, c[0], test, got.ID, account.ID{}, date(2021, 2, 3)))
	list, err := store.List(ctx, 2020)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, []int{30, 30, 30, 30, 30}, list[0].Test.Pots[0])
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.indicator`), "the first is kept")
	_, err = store.Find(ctx, c[1])
	require.ErrorIs(t, err, fault.ErrNotFound)
}

// What a closed fall's regions are made of: the tests as they stood on the day it
// closed, each with its county and sender.
func TestIndicatorsOfAClosedFall(t *testing.T) {
	o := newOffice(t)
	ctx, store := ctxOf(t), postgres.NewIndicators(o.staff)
	c := o.bags(3)
	var closes time.Time
	require.NoError(t, o.staff.QueryRow(ctx, `SELECT closes FROM open.season WHERE year = 2020`).Scan(&closes))
	test := virulence.Test{Check: []int{200, 180, 220, 210, 190}}
	test.Pots[1] = []int{40, 36, 44, 42, 38}
	for i, standing := range []sample.Standing{sample.FirstEver, sample.Already, sample.FirstEver} {
		o.take(o.visit(standing, o.counties[0].ID, 2020, c[i]))
	}
	require.NoError(t, store.Record(ctx, c[0], test, desk.ID{}, account.ID{}, closes))
	require.NoError(t, store.Record(ctx, c[1], test, desk.ID{}, account.ID{}, closes.AddDate(0, -2, 0)))
	require.NoError(t, store.Record(ctx, c[2], test, desk.ID{}, account.ID{}, closes.AddDate(0, 0, 1)), "too late to be told")
	first, err := store.Find(ctx, c[0])
	require.NoError(t, err)
	late := test
	late.Pots[1] = []int{0, 0, 0, 0, 0}
	require.NoError(t, store.Record(ctx, c[0], late, first.ID, account.ID{}, closes.AddDate(0, 0, 9)), "corrected too late")

	open, err := store.Closed(ctx, closes)
	require.NoError(t, err)
	require.Empty(t, open, "it closes tonight")
	falls, err := store.Closed(ctx, closes.AddDate(0, 1, 0))
	require.NoError(t, err)
	require.Len(t, falls, 1)
	require.Equal(t, []int{2020, 3, 20}, []int{falls[0].Season, falls[0].K, falls[0].Dominance})
	require.Len(t, falls[0].Tests, 2)
	sure := 0
	for _, s := range falls[0].Tests {
		require.Equal(t, "2 (of 2)", s.Type.String())
		require.Equal(t, int(o.counties[0].ID), s.County)
		require.NotZero(t, s.Sender)
		if s.Sure {
			sure++
		}
	}
	require.Equal(t, 1, sure, "one has sent bags already this fall")
	require.Nil(t, virulence.Regions(falls[0].Tests, falls[0].K, falls[0].Dominance))
}
