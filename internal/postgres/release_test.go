package postgres_test

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/postgres"
)

// release previews and releases, and wants both to succeed.
func (o *office) release(cutoff, day time.Time) gazette.Edition {
	o.t.Helper()
	store := postgres.NewReleases(o.staff)
	p, err := store.Preview(ctxOf(o.t), cutoff, day)
	require.NoError(o.t, err)
	e, err := store.Release(ctxOf(o.t), p.Number, cutoff, day, p.Stamp, account.ID{})
	require.NoError(o.t, err)
	return e
}

func TestThreeSendersMakeATrancheTwoWait(t *testing.T) {
	o := newOffice(t)
	there, two := o.townships[o.counties[0].ID][5].ID, o.townships[o.counties[0].ID][6].ID
	o.farms(3, there, 2020, 42)
	o.farms(2, two, 2020, 0)
	store := postgres.NewReleases(o.staff)
	p, err := store.Preview(ctxOf(t), date(2020, 12, 31), date(2021, 1, 15))
	require.NoError(t, err)
	require.Len(t, p.Drafts, 1)
	require.Equal(t, []any{there}, []any{p.FirstShown[0]})
	require.Len(t, p.Waiting, 1)
	require.Equal(t, two, p.Waiting[0].Place)
	require.Contains(t, p.Waiting[0].Reasons, edition.TooFewSenders)

	e := o.release(date(2020, 12, 31), date(2021, 1, 15))
	issue, err := postgres.NewPublished(o.public).Issue(ctxOf(t), e.Number)
	require.NoError(t, err)
	require.Len(t, issue.Tranches, 1)
	tr := issue.Tranches[0]
	require.Equal(t, 3, tr.Samples)
	require.Equal(t, edition.Window{ThisFall: true, Through: 2020}, tr.Window)
	// 42 eggs are 2,100 eggs per 100 cm³ (handbook section 3): the second found class of the default scheme.
	require.Equal(t, []int{0, 0, 0, 3, 0}, tr.Counts)
	require.Equal(t, 3, o.count(`SELECT count(*) FROM priv.bag WHERE state = 'released'`))
	// Five counted from five first-time senders: about five bags.
	require.Len(t, issue.Falls, 1)
	require.Zero(t, issue.Falls[0].Samples%5)
}

// The whole edition can be worked out again from the public tables, and gives
// the digest that was stored when it was released.
func TestTheDigestFollowsFromWhatIsPublic(t *testing.T) {
	o := newOffice(t)
	for i, p := range o.townships[o.counties[0].ID] {
		o.farms(1+i%5, p.ID, 2020, i*7)
	}
	e := o.release(date(2020, 12, 31), date(2021, 1, 15))
	issue, err := postgres.NewPublished(o.public).Issue(ctxOf(t), e.Number)
	require.NoError(t, err)
	require.NotEmpty(t, issue.Tranches)
	meta := edition.Meta{Number: e.Number, Kind: e.Kind, Season: e.Season, Cutoff: e.Cutoff, Released: e.Released,
		K: e.K, Scheme: 1, Ranks: issue.Ranks(), Cuts: []float64{200, 2000, 12000}, Boundaries: gridSet(t, 4).Digest}
	digest := edition.Digest(edition.Canonical(meta, issue.Tranches, issue.Falls))
	require.Equal(t, e.Code, edition.Code(digest))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM open.edition WHERE digest = $1`, digest[:]))
}

func TestReleasePressedTwiceAndByTwo(t *testing.T) {
	o := newOffice(t)
	o.farms(4, o.townships[o.counties[0].ID][0].ID, 2020, 10)
	store := postgres.NewReleases(o.staff)
	cutoff, day := date(2020, 12, 31), date(2021, 1, 15)
	p, err := store.Preview(ctxOf(t), cutoff, day)
	require.NoError(t, err)
	var wg sync.WaitGroup
	got := make([]gazette.Edition, 6)
	errs := make([]error, len(got))
	for i := range got {
		wg.Add(1)
		go func() {
			defer wg.Done()
			got[i], errs[i] = store.Release(ctxOf(t), p.Number, cutoff, day, p.Stamp, account.ID{})
		}()
	}
	wg.Wait()
	for i := range got {
		require.NoError(t, errs[i])
		require.Equal(t, got[0].Code, got[i].Code)
	}
	require.Equal(t, 1, o.count(`SELECT count(*) FROM open.edition`))
	require.Equal(t, 4, o.count(`SELECT count(*) FROM priv.tranche_member`))
}

func TestAReleaseThatWouldDifferFromItsPreviewIsRefused(t *testing.T) {
	o := newOffice(t)
	where := o.townships[o.counties[0].ID][0].ID
	codes := o.farms(3, where, 2020, 10)
	store := postgres.NewReleases(o.staff)
	cutoff, day := date(2020, 12, 31), date(2021, 1, 15)
	p, err := store.Preview(ctxOf(t), cutoff, day)
	require.NoError(t, err)
	// A recount: the same tranche, another figure.
	lab := postgres.NewLab(o.staff)
	m := assay.DefaultMethod()
	b, err := lab.Find(ctxOf(t), codes[0])
	require.NoError(t, err)
	recount := desk.Keyed{Code: codes[0], Method: m, Count: m.Count(50), Replaces: b.Head, Why: assay.LookedAgain, Day: date(2020, 11, 20)}
	require.NoError(t, lab.Record(ctxOf(t), recount, account.ID{}))
	o.sign(date(2020, 11, 20), codes[0])
	_, err = store.Release(ctxOf(t), p.Number, cutoff, day, p.Stamp, account.ID{})
	require.ErrorIs(t, err, fault.ErrConflict)
	require.Zero(t, o.count(`SELECT count(*) FROM open.edition`))
}

func TestEditionsStandApart(t *testing.T) {
	o := newOffice(t)
	where := o.townships[o.counties[0].ID][0].ID
	o.farms(3, where, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.farms(3, where, 2020, 10)
	store := postgres.NewReleases(o.staff)
	p, err := store.Preview(ctxOf(t), date(2021, 2, 1), date(2021, 2, 20))
	require.NoError(t, err, "a preview may be looked at before the day")
	require.Equal(t, date(2021, 3, 16), p.NextDay)
	_, err = store.Release(ctxOf(t), p.Number, date(2021, 2, 1), date(2021, 2, 20), p.Stamp, account.ID{})
	require.ErrorIs(t, err, edition.ErrTooSoon)
	o.release(date(2021, 2, 1), date(2021, 3, 16))
}

// Rule 2, in the database: whatever was counted, the same tranches come out.
func TestWhatWasCountedDecidesNothing(t *testing.T) {
	shape := func(eggs func(i int) int) []edition.Tranche {
		o := newOffice(t)
		for i, p := range o.townships[o.counties[0].ID] {
			o.farms(1+i%5, p.ID, 2020, eggs(i))
		}
		e := o.release(date(2020, 12, 31), date(2021, 1, 15))
		issue, err := postgres.NewPublished(o.public).Issue(ctxOf(t), e.Number)
		require.NoError(t, err)
		for i := range issue.Tranches {
			issue.Tranches[i].Counts = nil
		}
		return issue.Tranches
	}
	require.Equal(t, shape(func(int) int { return 0 }), shape(func(i int) int { return 100 * i }))
}

func TestTwoTechniciansOnOneBag(t *testing.T) {
	o := newOffice(t)
	c := o.bags(1)
	o.take(o.visit(0, o.counties[0].ID, 2020, c[0]))
	lab, m := postgres.NewLab(o.staff), assay.DefaultMethod()
	seen, err := lab.Find(ctxOf(t), c[0])
	require.NoError(t, err)
	record := func(eggs int, replaces desk.ID, why assay.Correction) error {
		return lab.Record(ctxOf(t), desk.Keyed{Code: c[0], Method: m, Count: m.Count(eggs), Replaces: replaces, Why: why, Day: date(2020, 11, 1)}, account.ID{})
	}
	require.NoError(t, record(10, seen.Head, ""))
	require.ErrorIs(t, record(20, seen.Head, ""), fault.ErrConflict)
	now, err := lab.Find(ctxOf(t), c[0])
	require.NoError(t, err)
	require.Equal(t, 10, now.Reading.Eggs)
	require.ErrorIs(t, record(20, now.Head, ""), assay.Missing, "a correction says why")
	require.NoError(t, record(20, now.Head, assay.Mistyped))
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.result`), "the first count is kept")
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.head`))
	require.ErrorIs(t, lab.Record(ctxOf(t), desk.Keyed{Code: "22222224", Method: m, Count: m.Count(1), Day: date(2020, 11, 2)}, account.ID{}), fault.ErrNotFound)
}
