package postgres_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
	"sixmile/internal/postgres"
)

func TestOutlookSets(t *testing.T) {
	o := newOffice(t)
	ctx, store, public := ctxOf(t), postgres.NewOutlooks(o.staff), postgres.NewOutlooks(o.public)
	own := lookahead.Standard()
	got, err := public.InForce(ctx)
	require.NoError(t, err)
	require.Equal(t, own, got, "the program's own is in force until another is added")

	next := lookahead.Standard()
	next.Note = "Winters here are harder."
	next.Figures[lookahead.Winter] = lookahead.Figure{Low: 0.5, Mean: 0.8, High: 1, Source: "Our own trial"}
	today := date(2026, 11, 25)
	added, err := store.Add(ctx, next, own.Label(), today)
	require.NoError(t, err)
	require.Equal(t, "north-central.2", added.Label())
	got, err = public.InForce(ctx)
	require.NoError(t, err)
	require.Equal(t, added, got)

	_, err = store.Add(ctx, next, own.Label(), today)
	require.ErrorIs(t, err, fault.ErrConflict, "somebody else was faster")
	next.Name = "prairie"
	third, err := store.Add(ctx, next, added.Label(), today)
	require.NoError(t, err)
	require.Equal(t, "prairie.1", third.Label())

	for _, want := range []lookahead.Set{own, added, third} {
		got, err := public.Set(ctx, want.Name, want.Version)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	_, err = public.Set(ctx, "prairie", 9)
	require.ErrorIs(t, err, fault.ErrNotFound)
	list, err := store.List(ctx)
	require.NoError(t, err)
	require.Equal(t, []lookahead.Set{third, added, own}, list)

	next.Figures[lookahead.Winter] = lookahead.Figure{Low: 2, Mean: 2, High: 2, Source: "x"}
	_, err = store.Add(ctx, next, third.Label(), today)
	var invalid *lookahead.Invalid
	require.ErrorAs(t, err, &invalid)

	_, err = public.Add(ctx, lookahead.Standard(), third.Label(), today)
	require.Error(t, err, "the public role adds nothing")
	_, err = o.staff.Exec(ctx, `UPDATE open.outlook_set SET note = ''`)
	require.Error(t, err, "a set is never changed")
	_, err = o.staff.Exec(ctx, `DELETE FROM open.outlook_set`)
	require.Error(t, err)
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.trail WHERE action = 'outlook'`))
}
