package postgres_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

// keyed logs a bag in and counts it; nobody signs.
func (o *office) keyed(c bag.Code, eggs int) {
	o.t.Helper()
	m := assay.DefaultMethod()
	require.NoError(o.t, postgres.NewLab(o.staff).Record(ctxOf(o.t), desk.Keyed{Code: c, Method: m, Count: m.Count(eggs), Day: date(2020, 11, 1)}, account.ID{}))
}

func (o *office) correct(c bag.Code, eggs int, why assay.Correction) {
	o.t.Helper()
	lab, m := postgres.NewLab(o.staff), assay.DefaultMethod()
	b, err := lab.Find(ctxOf(o.t), c)
	require.NoError(o.t, err)
	k := desk.Keyed{Code: c, Method: m, Count: m.Count(eggs), Replaces: b.Head, Why: why, Day: date(2020, 11, 5)}
	require.NoError(o.t, lab.Record(ctxOf(o.t), k, account.ID{}))
}

func (o *office) state(c bag.Code) string {
	o.t.Helper()
	var s string
	require.NoError(o.t, o.staff.QueryRow(ctxOf(o.t), `SELECT state FROM priv.bag_state WHERE code = $1`, string(c)).Scan(&s))
	return s
}

// An answer appears when it is signed, goes while a correction waits, and says
// that it changed when the correction is signed.
func TestAnAnswerAppearsWhenItIsSigned(t *testing.T) {
	o := newOffice(t)
	c := o.bags(1)[0]
	v := o.visit(sample.FirstEver, o.townships[o.counties[0].ID][0].ID, 2020, c)
	o.take(v)
	answer := func() sample.Answer {
		a, err := postgres.NewIntake(o.public).Answer(ctxOf(t), v.Token.Secret(c))
		require.NoError(t, err)
		return a
	}
	o.keyed(c, 42)
	require.Nil(t, answer().Result, "counted and not signed")
	require.False(t, answer().Changed)
	require.Equal(t, "counted", o.state(c))

	o.sign(date(2020, 11, 2), c)
	require.Equal(t, 2100.0, answer().Result.Density) // handbook section 3: 42 eggs in 2 of 100 mL from 100 cm³
	require.Equal(t, "exact_poisson", answer().Result.LimitsBy)
	require.False(t, answer().Changed)
	require.Equal(t, "signed", o.state(c))

	o.correct(c, 60, assay.Mistyped)
	require.Nil(t, answer().Result, "a figure known to be wrong is not given")
	require.True(t, answer().Changed)
	require.Equal(t, "counted", o.state(c))
	list, err := postgres.NewSignOff(o.staff).Unsigned(ctxOf(t))
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.True(t, list[0].Before)
	require.Equal(t, assay.Mistyped, list[0].Why)

	o.sign(date(2020, 11, 6), c)
	require.Equal(t, 3000.0, answer().Result.Density)
	require.True(t, answer().Changed)
}

// A correction before the first signature changes nothing for the sender.
func TestACorrectionNobodyReadIsNoChange(t *testing.T) {
	o := newOffice(t)
	c := o.bags(1)[0]
	v := o.visit(sample.FirstEver, o.counties[0].ID, 2020, c)
	o.take(v)
	o.keyed(c, 42)
	o.correct(c, 60, assay.Mistyped)
	o.sign(date(2020, 11, 6), c)
	a, err := postgres.NewIntake(o.public).Answer(ctxOf(t), v.Token.Secret(c))
	require.NoError(t, err)
	require.Equal(t, 3000.0, a.Result.Density)
	require.False(t, a.Changed)
}

func TestSigningTwiceAndSigningWhatStandsNoLonger(t *testing.T) {
	o := newOffice(t)
	c := o.bags(3)
	o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c...))
	for _, code := range c {
		o.keyed(code, 10)
	}
	store := postgres.NewSignOff(o.staff)
	list, err := store.Unsigned(ctxOf(t))
	require.NoError(t, err)
	require.Len(t, list, 3)
	ids := []desk.ID{list[0].Result, list[1].Result, list[0].Result}
	first, n, err := store.Sign(ctxOf(t), ids, account.ID{}, date(2020, 11, 2))
	require.NoError(t, err)
	require.Equal(t, 2, n)
	again, n, err := store.Sign(ctxOf(t), ids, account.ID{}, date(2020, 11, 2))
	require.NoError(t, err)
	require.Zero(t, n)
	require.Zero(t, again, "no empty batch")
	slips, err := store.Slips(ctxOf(t), first)
	require.NoError(t, err)
	require.Len(t, slips, 2)
	_, err = store.Slips(ctxOf(t), desk.ID{1})
	require.ErrorIs(t, err, fault.ErrNotFound)

	o.correct(list[2].Code, 11, assay.LookedAgain)
	_, _, err = store.Sign(ctxOf(t), []desk.ID{list[2].Result}, account.ID{}, date(2020, 11, 2))
	require.ErrorIs(t, err, fault.ErrConflict)
	o.correct(slips[0].Code, 12, assay.Mistyped)
	slips, err = store.Slips(ctxOf(t), first)
	require.NoError(t, err)
	require.Len(t, slips, 1, "a figure that is known to be wrong is not printed")
	batches, err := store.Batches(ctxOf(t), 5)
	require.NoError(t, err)
	require.Len(t, batches, 1)
	require.Equal(t, 2, batches[0].Bags)
}

func TestFirstFindsAreHeldForALook(t *testing.T) {
	o := newOffice(t)
	at := o.townships[o.counties[0].ID]
	held := func(where place.ID, eggs int) []desk.Hold {
		c := o.bags(1)[0]
		o.take(o.visit(sample.FirstEver, where, 2020, c))
		o.keyed(c, eggs)
		list, err := postgres.NewSignOff(o.staff).Unsigned(ctxOf(t))
		require.NoError(t, err)
		require.Len(t, list, 1)
		o.sign(date(2020, 11, 3), c)
		return list[0].Held
	}
	require.Empty(t, held(at[0].ID, 0), "none found is held by nobody")
	require.Empty(t, held(at[0].ID, 3), "nor is what is unconfirmed")
	require.Equal(t, []desk.Hold{desk.FirstInTownship, desk.FirstInCounty}, held(at[0].ID, 40))
	require.Empty(t, held(at[0].ID, 80))
	require.Equal(t, []desk.Hold{desk.FirstInTownship}, held(at[1].ID, 40))
	require.Empty(t, held(o.counties[0].ID, 40), "of the county alone: it has finds")
	require.Equal(t, []desk.Hold{desk.FirstInCounty}, held(o.counties[1].ID, 40))

	// The finds of a season that is unlinked have no bag any more, and were there all the same.
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	done, _, err := postgres.Unlink(ctxOf(t), o.logins.Admin, date(2023, 8, 1), false)
	require.NoError(t, err)
	require.Positive(t, done.Samples)
	require.Zero(t, o.count(`SELECT count(*) FROM priv.sample s JOIN priv.bag_link l ON l.sample = s.id WHERE s.place = $1`, int32(at[0].ID)))
	require.Empty(t, held(at[0].ID, 40))
}

// A find of a year before the program came without a bag, and is the first: no later
// one is.
func TestPastFindsAreFirstFinds(t *testing.T) {
	o := newOffice(t)
	v := o.judged(csvFile("Year,Legal description,Eggs per 100 cc", "2019,T1N R1E,900"), date(2026, 3, 1), asIs)
	require.Equal(t, 1, o.loaded(v, date(2026, 3, 1)))
	where := place.ID(o.count(`SELECT place FROM priv.sample WHERE source = 'past'`))
	c := o.bags(1)[0]
	o.take(o.visit(sample.FirstEver, where, 2020, c))
	o.keyed(c, 40)
	list, err := postgres.NewSignOff(o.staff).Unsigned(ctxOf(t))
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Empty(t, list[0].Held)
}

// A count that nobody signed holds its place back, and an edition shows what was signed.
func TestNothingUnsignedIsReleased(t *testing.T) {
	o := newOffice(t)
	where := o.townships[o.counties[0].ID][5].ID
	codes := o.farms(3, where, 2020, 42)
	late := o.bags(1)[0]
	o.take(o.visit(sample.FirstEver, where, 2020, late))
	o.keyed(late, 7)
	preview := func() desk.Preview {
		p, err := postgres.NewReleases(o.staff).Preview(ctxOf(t), date(2020, 12, 31), date(2021, 1, 15))
		require.NoError(t, err)
		return p
	}
	require.Empty(t, preview().Drafts)
	require.Contains(t, preview().Waiting[0].Reasons, edition.Uncounted)
	o.sign(date(2020, 11, 9), late)
	require.Len(t, preview().Drafts[0].Members, 4)
	o.correct(codes[0], 50, assay.LookedAgain)
	require.Empty(t, preview().Drafts, "a correction under way holds it back again")
	o.sign(date(2020, 11, 9), codes[0])
	two := o.farms(2, o.townships[o.counties[0].ID][6].ID, 2020, 0)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	require.Equal(t, "released", o.state(codes[0]))
	require.Equal(t, "waiting", o.state(two[0]))
	// What is on the map stays there through a correction, and is signed again for its sender.
	o.correct(codes[0], 49, assay.Mistyped)
	require.Equal(t, "released", o.state(codes[0]))
	list, err := postgres.NewSignOff(o.staff).Unsigned(ctxOf(t))
	require.NoError(t, err)
	require.Len(t, list, 1)
}
