package postgres_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
)

// A state's own table is chosen before the first map, which is by it; afterward only
// a restatement changes the levels, whoever asks.
func TestLevelsBeforeTheFirstMap(t *testing.T) {
	o := newOffice(t)
	levels := postgres.NewLevels(o.staff)
	tables, inForce, err := levels.Tables(ctxOf(t))
	require.NoError(t, err)
	require.Len(t, tables, len(assay.Presets()))
	require.Equal(t, assay.DefaultScheme().Key, tables[inForce].Key)

	own := assay.Scheme{
		Key: "own", Version: 1, Title: "Invented table", Source: "Nobody", Trace: 100,
		Classes: []assay.Class{
			{Rank: 0, Name: "none", Kind: assay.None}, {Rank: 1, Name: "unconfirmed", Upper: 100, Kind: assay.Unconfirmed},
			{Rank: 2, Name: "low", Upper: 4000, Kind: assay.Found}, {Rank: 3, Name: "high", Upper: assay.Density(math.Inf(1)), Kind: assay.Found},
		},
	}
	_, _, err = levels.Choose(ctxOf(t), "own")
	require.ErrorIs(t, err, fault.ErrNotFound)
	for _, want := range []int{1, 1} { // the same once more is the same
		stored, err := levels.AddTable(ctxOf(t), own)
		require.NoError(t, err)
		require.Equal(t, want, stored.Version)
	}
	own.Title = "Invented table, mended"
	stored, err := levels.AddTable(ctxOf(t), own)
	require.NoError(t, err)
	require.Equal(t, 2, stored.Version)
	own.Classes[2].Upper = 50
	_, err = levels.AddTable(ctxOf(t), own)
	require.ErrorIs(t, err, assay.TraceAboveFirst)

	chosen, left, err := levels.Choose(ctxOf(t), "own")
	require.NoError(t, err)
	require.Zero(t, left)
	require.Equal(t, "Invented table, mended", chosen.Title)
	seen, err := postgres.NewLevels(o.public).Scheme(ctxOf(t))
	require.NoError(t, err)
	require.Equal(t, chosen, seen, "answers go by it")
	require.Equal(t, "own", o.issue(0).Scheme.Key, "and so do pages before the first map")

	// 70 eggs are 3,500, low; 90 are 4,500, high: moderate both, by the table a program begins with.
	where := o.townships[o.counties[0].ID][0].ID
	o.farms(2, where, 2020, 70)
	o.farms(2, where, 2020, 90)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	one := o.issue(1)
	require.Equal(t, "own", one.Scheme.Key)
	require.Equal(t, []int{0, 0, 2, 2}, one.Tranches[0].Counts)

	_, _, err = levels.Choose(ctxOf(t), assay.SchemeOhio)
	require.ErrorIs(t, err, fault.ErrConflict)
	_, err = o.staff.Exec(ctxOf(t), `UPDATE open.program SET scheme = 1`)
	require.ErrorContains(t, err, "first level table")
	e, _ := o.restate(assay.SchemeISUSoybeanNotNext, date(2021, 2, 2))
	require.Equal(t, 2, e.Number)
}
