package postgres_test

import (
	"context"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

// lot issues bundles of the given sizes to a county.
func (o *office) lot(county place.ID, sizes ...int) [][]bag.Code {
	o.t.Helper()
	store := postgres.NewBags(o.staff)
	id, err := store.Issue(ctxOf(o.t), county, 2024, sizes, day)
	require.NoError(o.t, err)
	out, _, err := store.Bundles(ctxOf(o.t), id)
	require.NoError(o.t, err)
	return out
}

func states(b desk.Bundle) (out []bag.State) {
	for _, g := range b.Bags {
		out = append(out, g.State)
	}
	return out
}

func TestHandingOutABundle(t *testing.T) {
	o := newOffice(t)
	c := postgres.NewCounter(o.staff)
	ctx := ctxOf(t)
	own, all := account.Reach{Counties: []place.ID{o.counties[0].ID}}, account.Reach{All: true}
	other := account.Reach{Counties: []place.ID{o.counties[1].ID}}
	bundle := o.lot(o.counties[0].ID, 4)[0]

	// Another county's clerk, nobody's reach, and a code of no bag are one answer.
	for _, within := range []account.Reach{other, {}} {
		_, err := c.HandOut(ctx, bundle[0], within, day)
		require.ErrorIs(t, err, fault.ErrNotFound)
	}
	_, err := c.HandOut(ctx, "23456789", all, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.Zero(t, o.count(`SELECT count(*) FROM priv.bag WHERE state <> 'issued'`))

	got, err := c.HandOut(ctx, bundle[2], own, day)
	require.NoError(t, err)
	require.Equal(t, 4, got.Changed)
	require.Equal(t, o.counties[0].ID, got.County)
	require.Equal(t, []bag.State{bag.HandedOut, bag.HandedOut, bag.HandedOut, bag.HandedOut}, states(got))
	for i, g := range got.Bags {
		require.Equal(t, bundle[i], g.Code)
	}
	got, err = c.HandOut(ctx, bundle[0], all, day)
	require.NoError(t, err)
	require.Zero(t, got.Changed, "handed out before")

	// One form is in: taking back leaves that bag as it is.
	o.take(o.visit(sample.FirstEver, o.townships[o.counties[0].ID][0].ID, 2024, bundle[1]))
	_, err = c.TakeBack(ctx, bundle[0], other, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	got, err = c.TakeBack(ctx, bundle[0], own, day)
	require.NoError(t, err)
	require.Equal(t, 3, got.Changed)
	require.Equal(t, []bag.State{bag.Issued, bag.FormIn, bag.Issued, bag.Issued}, states(got))
}

func TestTyingBundlesMakesOneSender(t *testing.T) {
	o := newOffice(t)
	c := postgres.NewCounter(o.staff)
	ctx := ctxOf(t)
	all := account.Reach{All: true}
	town := o.townships[o.counties[0].ID][0].ID
	b := o.lot(o.counties[0].ID, 2, 2, 2, 2, 2)
	foreign := o.lot(o.counties[1].ID, 1)[0]

	roots := func() int {
		return o.count(`SELECT count(DISTINCT priv.root_sender(sender)) FROM priv.sample`)
	}
	// Two bundles tied before any form: their forms, sent apart, are one sender's.
	got, err := c.Tie(ctx, []bag.Code{b[0][0], b[1][1]}, all, day)
	require.NoError(t, err)
	require.Len(t, got, 2)
	o.take(o.visit(sample.FirstEver, town, 2024, b[0][0]))
	o.take(o.visit(sample.FirstEver, town, 2024, b[1][0]))
	require.Equal(t, 1, roots())
	// A third and a fourth with forms already in, tied afterward, come along.
	o.take(o.visit(sample.FirstEver, town, 2024, b[2][0]))
	o.take(o.visit(sample.FirstEver, town, 2024, b[3][0]))
	require.Equal(t, 3, roots())
	_, err = c.Tie(ctx, []bag.Code{b[2][0], b[3][1], b[0][1]}, all, day)
	require.NoError(t, err)
	require.Equal(t, 1, roots())
	_, err = c.Tie(ctx, []bag.Code{b[2][0], b[3][1], b[0][1]}, all, day)
	require.NoError(t, err, "pressed twice")

	own := account.Reach{Counties: []place.ID{o.counties[0].ID}}
	for name, codes := range map[string][]bag.Code{"another county's": {b[4][0], foreign[0]}, "nobody's": {b[4][0], "23456789"}, "none": nil} {
		_, err = c.Tie(ctx, codes, own, day)
		require.ErrorIs(t, err, fault.ErrNotFound, name)
	}
	require.Zero(t, o.count(`SELECT count(sender) FROM priv.bundle WHERE id = (SELECT bundle FROM priv.bag WHERE code = $1)`, string(b[4][0])))
	o.counted(b[0][0], 3, day)
	_, err = c.Tie(ctx, []bag.Code{b[0][1], b[4][0]}, own, day)
	require.ErrorIs(t, err, fault.ErrConflict, "counted: too late for the counter")
}

// Forms and ties that touch the same bags at the same time never wait for each
// other in a circle.
func TestTyingBesideForms(t *testing.T) {
	o := newOffice(t)
	c := postgres.NewCounter(o.staff)
	town := o.townships[o.counties[0].ID][0].ID
	b := o.lot(o.counties[0].ID, 1, 1, 1, 1)
	codes := []bag.Code{b[0][0], b[1][0], b[2][0], b[3][0]}
	back := slices.Clone(codes)
	slices.Reverse(back)
	v := o.visit(sample.FirstEver, town, 2024, back...)
	ctx, cancel := context.WithCancel(ctxOf(t))
	defer cancel()
	var wg sync.WaitGroup
	errs := make(chan error, 40)
	for range 20 {
		wg.Go(func() { errs <- postgres.NewIntake(o.public).Take(ctx, v, day) })
		wg.Go(func() { _, err := c.Tie(ctx, codes, account.Reach{All: true}, day); errs <- err })
	}
	wg.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
	require.Equal(t, 1, o.count(`SELECT count(DISTINCT priv.root_sender(sender)) FROM priv.bundle WHERE sender IS NOT NULL`))
}

func TestPrintingAnAnswerLeavesALine(t *testing.T) {
	o := newOffice(t)
	c := postgres.NewCounter(o.staff)
	_, ctx := o.boss()
	own, other := account.Reach{Counties: []place.ID{o.counties[0].ID}}, account.Reach{Counties: []place.ID{o.counties[1].ID}}
	b := o.lot(o.counties[0].ID, 2)[0]
	lines := func(deed account.Deed) int {
		list, err := postgres.NewTrail(o.staff).Entries(ctx, account.Query{Deed: deed}, 100, 0)
		require.NoError(t, err)
		return len(list)
	}
	_, err := c.Answer(ctx, b[0], own, day)
	require.ErrorIs(t, err, fault.ErrNotFound, "no form yet")
	o.take(o.visit(sample.FirstEver, o.townships[o.counties[0].ID][0].ID, 2024, b[0]))
	a, err := c.Answer(ctx, b[0], own, day)
	require.NoError(t, err)
	require.Nil(t, a.Result)
	o.counted(b[0], 42, day)
	_, err = c.Answer(ctx, b[0], other, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	_, err = c.Answer(ctx, "23456789", own, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.Equal(t, 4, lines(account.DidPrintNothing))
	require.Zero(t, lines(account.DidPrint))
	a, err = c.Answer(ctx, b[0], own, day)
	require.NoError(t, err)
	require.Equal(t, 42, a.Result.Eggs)
	require.InDelta(t, 2100, a.Result.Density, 1e-9) // handbook section 3: 42 eggs in 2 of 100 mL from 100 cm³
	require.Equal(t, 1, lines(account.DidPrint))
	require.Zero(t, o.count(`SELECT count(*) FROM priv.trail WHERE detail::text LIKE '%' || $1 || '%'`, string(b[0])))

	// A second form claims the bag: no result until that is settled.
	o.take(o.visit(sample.FirstEver, o.townships[o.counties[0].ID][1].ID, 2024, b[0]))
	a, err = c.Answer(ctx, b[0], own, day)
	require.NoError(t, err)
	require.True(t, a.Held)
	require.Nil(t, a.Result)
}

func TestALotsFormIssuesOnce(t *testing.T) {
	o := newOffice(t)
	store := postgres.NewBags(o.staff)
	var form sample.Token
	form[0] = 9
	ids := make([]desk.ID, 6)
	var wg sync.WaitGroup
	for i := range ids {
		wg.Go(func() {
			var err error
			ids[i], err = store.IssueOnce(ctxOf(t), form, o.counties[0].ID, 2024, []int{4, 2, 1}, day)
			require.NoError(t, err)
		})
	}
	wg.Wait()
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.lot`))
	require.Equal(t, 7, o.count(`SELECT count(*) FROM priv.bag`))
	for _, id := range ids {
		require.Equal(t, ids[0], id)
	}
	form[0] = 10
	second, err := store.IssueOnce(ctxOf(t), form, o.counties[0].ID, 2024, []int{1}, day)
	require.NoError(t, err)
	require.NotEqual(t, ids[0], second)
}
