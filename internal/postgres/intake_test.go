package postgres_test

import (
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/fault"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

func TestAVisitSentTwiceIsStoredOnce(t *testing.T) {
	o := newOffice(t)
	c := o.bags(2)
	where := o.townships[o.counties[0].ID][3].ID
	v := o.visit(sample.FirstEver, where, 2020, c...)
	o.take(v)
	o.take(v)
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.sample`))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.sender`))
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.answer_key`))
	require.Equal(t, 0, o.count(`SELECT count(*) FROM priv.queue_item`))

	// Sent again with the place mended: the sample is mended, not doubled.
	other := o.townships[o.counties[1].ID][0].ID
	v.Senders[0].Bags[1].Place = other
	o.take(v)
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.sample`))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.sample WHERE place = $1 AND county = $2`, int32(other), int32(o.counties[1].ID)))
}

func TestAMendedVisitLeavesACountedBagAlone(t *testing.T) {
	o := newOffice(t)
	c := o.bags(1)
	where := o.townships[o.counties[0].ID][3].ID
	v := o.visit(sample.FirstEver, where, 2020, c...)
	o.take(v)
	o.counted(c[0], 12, date(2020, 11, 1))
	v.Senders[0].Bags[0].Place = o.townships[o.counties[0].ID][4].ID
	o.take(v)
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.sample WHERE place = $1`, int32(where)))
}

// The sender learns nothing about a code: unknown, used and doubled ones are
// taken alike and go to the office's queue, with what the form said kept.
func TestStrangeCodesGoToTheQueue(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	where := o.townships[o.counties[0].ID][0].ID
	c := o.bags(2)
	first := o.visit(sample.FirstEver, where, 2020, c[0])
	o.take(first)
	o.take(o.visit(sample.FirstEver, where, 2020, c[0]))
	o.take(o.visit(sample.FirstEver, where, 2020, "22222224"))
	o.take(o.visit(sample.FirstEver, where, 2020, c[1]))
	o.counted(c[1], 3, date(2020, 11, 1))
	o.take(o.visit(sample.FirstEver, where, 2020, c[1]))

	items, err := postgres.NewBags(o.staff).Queue(ctx)
	require.NoError(t, err)
	reasons := map[string]int{}
	for _, i := range items {
		reasons[i.Reason]++
	}
	require.Equal(t, map[string]int{"doubled": 1, "unknown": 1, "used": 1}, reasons)

	// Neither form gets an answer on a doubled code until it is settled.
	intake := postgres.NewIntake(o.public)
	o.counted(c[0], 42, date(2020, 11, 1))
	a, err := intake.Answer(ctx, first.Token.Secret(c[0]))
	require.NoError(t, err)
	require.True(t, a.Held)
	require.Nil(t, a.Result)
	for _, i := range items {
		require.NoError(t, postgres.NewBags(o.staff).Settle(ctx, i.ID, date(2020, 11, 2)))
	}
	require.ErrorIs(t, postgres.NewBags(o.staff).Settle(ctx, items[0].ID, date(2020, 11, 2)), fault.ErrNotFound)
	a, err = intake.Answer(ctx, first.Token.Secret(c[0]))
	require.NoError(t, err)
	require.False(t, a.Held)
	require.Equal(t, 2100.0, a.Result.Density) // handbook section 3: 42 eggs in 2 of 100 mL from 100 cm³
}

func TestAnswersNeedTheSecret(t *testing.T) {
	o := newOffice(t)
	c := o.bags(1)
	v := o.visit(sample.FirstEver, o.counties[0].ID, 2020, c[0])
	o.take(v)
	intake := postgres.NewIntake(o.public)
	a, err := intake.Answer(ctxOf(t), v.Token.Secret(c[0]))
	require.NoError(t, err)
	require.Equal(t, sample.Answer{Season: 2020, County: o.counties[0].ID}, a)
	_, err = intake.Answer(ctxOf(t), sample.Secret{})
	require.ErrorIs(t, err, fault.ErrNotFound)
}

// Bags of one bundle came from one hand: two visits with them are one sender.
func TestABundleHoldsItsSendersTogether(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	store := postgres.NewBags(o.staff)
	lot, err := store.Issue(ctx, o.counties[0].ID, 2020, []int{3}, date(2020, 8, 1))
	require.NoError(t, err)
	bundles, county, err := store.Bundles(ctx, lot)
	require.NoError(t, err)
	require.Equal(t, o.counties[0].ID, county)
	where := o.townships[o.counties[0].ID][0].ID
	for _, c := range bundles[0] {
		o.take(o.visit(sample.Already, where, 2020, c))
	}
	require.Equal(t, 1, o.count(`SELECT count(DISTINCT coalesce(merged_into, id)) FROM priv.sender`))
	require.Equal(t, 0, o.count(`SELECT count(*) FROM priv.sender s JOIN priv.sender r ON r.id = s.merged_into
		WHERE r.merged_into IS NOT NULL`))
}

func TestManyVisitsAtOnce(t *testing.T) {
	o := newOffice(t)
	c := o.bags(12)
	where := o.townships[o.counties[0].ID][0].ID
	var visits []sample.Visit
	for i := range 8 { // overlapping bags, in different orders
		v := o.visit(sample.FirstEver, where, 2020, c[i], c[i+2], c[i+4])
		if i%2 == 1 {
			b := v.Senders[0].Bags
			b[0], b[2] = b[2], b[0]
		}
		visits = append(visits, v, v)
	}
	intake := postgres.NewIntake(o.public)
	var wg sync.WaitGroup
	errs := make([]error, len(visits))
	for i, v := range visits {
		wg.Add(1)
		go func() { defer wg.Done(); errs[i] = intake.Take(ctxOf(t), v, date(2020, 10, 10)) }()
	}
	wg.Wait()
	for _, err := range errs {
		require.NoError(t, err)
	}
	require.Equal(t, 12, o.count(`SELECT count(*) FROM priv.bag_link`))
	require.Equal(t, 24, o.count(`SELECT count(*) FROM priv.sample`))
	require.Equal(t, 12, o.count(`SELECT count(*) FROM priv.queue_item WHERE reason = 'doubled'`))
}

// One of many visits that come at one time is refused, at once or as late as the
// commit: its sender is told, and the others are stored.
func TestARefusedVisitAmongManyAtOnce(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	admin := open(t, o.logins.Admin)
	where, bad := o.townships[o.counties[0].ID][0].ID, o.townships[o.counties[0].ID][1].ID
	_, err := admin.Exec(ctx, `
		CREATE FUNCTION public.refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'late'; END $$;
		CREATE CONSTRAINT TRIGGER refuse AFTER INSERT ON priv.sample DEFERRABLE INITIALLY DEFERRED
			FOR EACH ROW WHEN (NEW.place = `+strconv.Itoa(int(bad))+`) EXECUTE FUNCTION public.refuse()`)
	require.NoError(t, err)
	intake := postgres.NewIntake(o.public)
	codes := o.bags(40)
	errs := make([]error, len(codes))
	var wg sync.WaitGroup
	for i, c := range codes {
		v := o.visit(sample.FirstEver, where, 2020, c)
		switch i {
		case 11:
			v.Senders[0].Bags[0].Place = bad
		case 23:
			v.Senders[0].Bags[0].Place = 1 << 30
		}
		wg.Go(func() { errs[i] = intake.Take(ctx, v, date(2020, 10, 10)) })
	}
	wg.Wait()
	for i, err := range errs {
		require.Equal(t, i == 11 || i == 23, err != nil, "%d: %v", i, err)
	}
	require.ErrorContains(t, errs[11], "late")
	require.Equal(t, 38, o.count(`SELECT count(*) FROM priv.sample`))
	require.Equal(t, 38, o.count(`SELECT count(*) FROM priv.bag WHERE state = 'form_in'`))
}

// Bags that the office is at, as while a lab's file is stored, keep their own visits
// waiting and no others.
func TestALockedBagKeepsNobodyElseWaiting(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	where := o.townships[o.counties[0].ID][0].ID
	codes := o.bags(24)
	const held = 4
	tx, err := open(t, o.logins.Admin).Begin(ctx)
	require.NoError(t, err)
	defer tx.Rollback(ctx) //nolint:errcheck // after the commit there is nothing to take back
	_, err = tx.Exec(ctx, `SELECT FROM priv.bag WHERE code IN ($1, $2, $3, $4) FOR UPDATE`,
		string(codes[0]), string(codes[1]), string(codes[2]), string(codes[3]))
	require.NoError(t, err)
	intake := postgres.NewIntake(o.public)
	var waiting, others sync.WaitGroup
	errs := make([]error, len(codes))
	for i, c := range codes {
		v := o.visit(sample.FirstEver, where, 2020, c)
		of := &others
		if i < held {
			of = &waiting
		}
		of.Go(func() { errs[i] = intake.Take(ctx, v, date(2020, 10, 10)) })
	}
	others.Wait()
	for _, err := range errs[held:] {
		require.NoError(t, err)
	}
	require.Equal(t, len(codes)-held, o.count(`SELECT count(*) FROM priv.sample`))
	require.NoError(t, tx.Commit(ctx))
	waiting.Wait()
	for _, err := range errs[:held] {
		require.NoError(t, err)
	}
	require.Equal(t, len(codes), o.count(`SELECT count(*) FROM priv.sample`))
}
