package postgres_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
)

// corrected replaces a bag's count and has the new one signed.
func (o *office) corrected(c bag.Code, eggs int, day time.Time) {
	o.t.Helper()
	o.recounted(c, eggs, day)
	o.sign(day, c)
}

func (o *office) recounted(c bag.Code, eggs int, day time.Time) {
	o.t.Helper()
	lab, m := postgres.NewLab(o.staff), assay.DefaultMethod()
	seen, err := lab.Find(ctxOf(o.t), c)
	require.NoError(o.t, err)
	require.NoError(o.t, lab.Record(ctxOf(o.t), desk.Keyed{Code: c, Method: m, Count: m.Count(eggs), Replaces: seen.Head, Why: assay.Mistyped, Day: day}, account.ID{}))
}

func (o *office) issue(no int) *gazette.Issue {
	o.t.Helper()
	i, err := postgres.NewPublished(o.public).Issue(ctxOf(o.t), no)
	require.NoError(o.t, err)
	return i
}

func (o *office) version() gazette.Version {
	o.t.Helper()
	v, err := postgres.NewPublished(o.public).Version(ctxOf(o.t))
	require.NoError(o.t, err)
	return v
}

func (o *office) recall(of edition.Ref, why desk.RecallReason, day time.Time) {
	o.t.Helper()
	require.NoError(o.t, postgres.NewRecalls(o.staff).Recall(ctxOf(o.t), of, why, day, account.ID{}))
}

// amend previews and releases an erratum; without one it gives false.
func (o *office) amend(day time.Time) (gazette.Edition, bool) {
	o.t.Helper()
	store := postgres.NewRecalls(o.staff)
	p, err := store.Errata(ctxOf(o.t), day)
	require.NoError(o.t, err)
	if len(p.Groups) == 0 {
		return gazette.Edition{}, false
	}
	require.Empty(o.t, p.Audit)
	e, err := store.Amend(ctxOf(o.t), p.Number, day, p.Stamp, account.ID{})
	require.NoError(o.t, err)
	return e, true
}

// verified works every edition out again.
func (o *office) verified() {
	o.t.Helper()
	store := postgres.NewEditions(o.staff)
	all, err := store.List(ctxOf(o.t))
	require.NoError(o.t, err)
	require.NotEmpty(o.t, all)
	for _, e := range all {
		p, err := store.Verify(ctxOf(o.t), e.Number)
		require.NoError(o.t, err)
		require.True(o.t, p.OK(), "edition %d: %v", e.Number, p.Wrong)
		no, err := store.Find(ctxOf(o.t), " "+e.Code)
		require.NoError(o.t, err)
		require.Equal(o.t, e.Number, no)
	}
}

// A 48,000 that was a typo: it is off the map with the next question, on older
// maps too; nothing frees its tranche; and it comes out again, put right, only
// together with three new senders.
func TestARecalledTypo(t *testing.T) {
	o := newOffice(t)
	where, next := o.townships[o.counties[0].ID][0].ID, o.townships[o.counties[0].ID][1].ID
	codes := o.farms(3, where, 2020, 0)
	o.corrected(codes[0], 960, date(2020, 11, 2)) // 960 eggs on the slide are 48,000 per 100 cm³
	o.farms(8, next, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	require.Equal(t, []int{2, 0, 0, 0, 1}, o.issue(1).Tranches[0].Counts)
	require.Len(t, o.issue(1).Falls, 1)
	before := o.version()

	o.recall(edition.Ref{Edition: 1, ID: 1}, desk.WrongCount, date(2021, 1, 20))
	require.NotEqual(t, before, o.version())
	issue := o.issue(1)
	require.Len(t, issue.Tranches, 1)
	require.Equal(t, []place.ID{where}, issue.Recalled)
	require.Empty(t, issue.Falls, "the fall figure counted the typo too")
	require.ErrorIs(t, postgres.NewRecalls(o.staff).Recall(ctxOf(t), edition.Ref{Edition: 1, ID: 1}, desk.WrongCount, date(2021, 1, 21), account.ID{}), fault.ErrConflict)
	require.ErrorIs(t, postgres.NewRecalls(o.staff).Recall(ctxOf(t), edition.Ref{Edition: 1, ID: 9}, desk.WrongCount, date(2021, 1, 21), account.ID{}), fault.ErrNotFound)
	x, err := gazette.NewIndex(issue)
	require.NoError(t, err)
	v, _ := x.County(o.counties[0].Slug)
	require.Equal(t, 1, v.Recalled)

	// Not mended yet: new results go out alone, and it stays away.
	require.Equal(t, edition.BackUnmended, o.blank(where).Why)
	o.corrected(codes[0], 9, date(2021, 2, 1))
	_, any := o.amend(date(2021, 2, 2))
	require.False(t, any, "one result is no erratum")
	require.Equal(t, edition.BackTooFew, o.blank(where).Why)
	o.farms(2, where, 2021, 0)
	o.release(date(2021, 12, 31), date(2022, 1, 15))
	require.Equal(t, []place.ID{where}, o.issue(2).Recalled, "two new senders are too few")

	o.farms(1, where, 2022, 0)
	o.farms(3, where, 2022, 30)
	p, err := postgres.NewReleases(o.staff).Preview(ctxOf(t), date(2022, 12, 31), date(2023, 1, 15))
	require.NoError(t, err)
	require.Empty(t, p.Audit)
	o.release(date(2022, 12, 31), date(2023, 1, 15))
	issue = o.issue(3)
	require.Empty(t, issue.Recalled)
	whole := edition.OfTownship(issue.Tranches, where)
	require.Len(t, whole, 1)
	require.Equal(t, []edition.Ref{{Edition: 1, ID: 1}}, whole[0].Joins)
	require.Equal(t, []int{5, 0, 4, 0, 0}, whole[0].Counts, "9 and 30 eggs are 450 and 1,500: the lowest level")
	require.Equal(t, []place.ID{where}, o.issue(2).Recalled, "older maps stay marked")
	require.Empty(t, o.findings())
	o.verified()
}

// blank is the recalled group of a township.
func (o *office) blank(where place.ID) desk.Group {
	o.t.Helper()
	all, err := postgres.NewRecalls(o.staff).Groups(ctxOf(o.t), 0, date(2030, 1, 1))
	require.NoError(o.t, err)
	for _, g := range all {
		if g.Places[0] == where {
			return g
		}
	}
	require.Fail(o.t, "it is not recalled")
	return desk.Group{}
}

// Results of three senders change: the group is back at once.
func TestAnErratum(t *testing.T) {
	o := newOffice(t)
	where := o.townships[o.counties[0].ID][0].ID
	codes := o.farms(5, where, 2020, 0)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.recall(edition.Ref{Edition: 1, ID: 1}, desk.WrongCount, date(2021, 1, 20))
	for _, c := range codes[:2] {
		o.corrected(c, 30, date(2021, 1, 21))
	}
	_, any := o.amend(date(2021, 1, 22))
	require.False(t, any)
	o.recounted(codes[2], 30, date(2021, 1, 22))
	_, any = o.amend(date(2021, 1, 22))
	require.False(t, any, "the third is not signed")
	o.sign(date(2021, 1, 23), codes[2])
	e, any := o.amend(date(2021, 1, 23))
	require.True(t, any)
	require.Equal(t, edition.Erratum, e.Kind)
	require.Equal(t, 2, o.version().Number)
	require.Equal(t, []int{2, 0, 3, 0, 0}, o.issue(2).Tranches[0].Counts)
	require.Empty(t, o.issue(1).Tranches, "the map of before stays blank")
	require.Equal(t, []place.ID{where}, o.issue(1).Recalled)
	require.Empty(t, o.issue(2).Recalled)
	require.Empty(t, o.findings())
	o.verified()

	// Withdrawing it recalls the group again, and frees no result.
	require.NoError(t, postgres.NewRecalls(o.staff).Withdraw(ctxOf(t), 2, desk.WrongCount, date(2021, 1, 30)))
	require.ErrorIs(t, postgres.NewRecalls(o.staff).Withdraw(ctxOf(t), 2, desk.WrongCount, date(2021, 1, 30)), fault.ErrConflict)
	require.ErrorIs(t, postgres.NewRecalls(o.staff).Withdraw(ctxOf(t), 7, desk.WrongCount, date(2021, 1, 30)), fault.ErrNotFound)
	require.Equal(t, 1, o.version().Number)
	require.Empty(t, o.issue(1).Tranches)
	p, err := postgres.NewReleases(o.staff).Preview(ctxOf(t), date(2021, 12, 31), date(2022, 1, 15))
	require.NoError(t, err)
	require.Empty(t, p.Drafts)
	require.Empty(t, o.findings())
	o.verified()
}

// Corrections of what is out, void bags and ties show nowhere until the group is
// recalled: the next fall figure is as if they were not.
func TestCorrectionsShowNowhere(t *testing.T) {
	figures := func(mishap func(o *office, codes []bag.Code)) []edition.FallFigure {
		o := newOffice(t)
		codes := o.farms(8, o.townships[o.counties[0].ID][0].ID, 2020, 10)
		o.release(date(2020, 12, 31), date(2021, 1, 15))
		mishap(o, codes)
		o.farms(2, o.townships[o.counties[0].ID][1].ID, 2020, 0)
		o.release(date(2021, 3, 20), date(2021, 4, 1))
		require.Empty(t, o.findings())
		return o.issue(2).Falls
	}
	want := figures(func(*office, []bag.Code) {})
	require.Len(t, want, 1)
	require.Equal(t, want, figures(func(o *office, codes []bag.Code) {
		for _, c := range codes[:4] {
			o.corrected(c, 0, date(2021, 2, 1))
		}
	}))
	require.Equal(t, want, figures(func(o *office, codes []bag.Code) { o.recounted(codes[0], 0, date(2021, 2, 1)) }), "not signed")
	require.Equal(t, want, figures(func(o *office, codes []bag.Code) {
		o.admin(`UPDATE priv.bag SET state = 'void' WHERE code = '` + string(codes[0]) + `'`)
	}))
}

// A void bag never comes out again; with it recalled, three new senders must
// bring one bag more.
func TestAVoidBagInARecalledGroup(t *testing.T) {
	o := newOffice(t)
	where := o.townships[o.counties[0].ID][0].ID
	codes := o.farms(4, where, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.admin(`UPDATE priv.bag SET state = 'void' WHERE code = '` + string(codes[0]) + `'`)
	o.recall(edition.Ref{Edition: 1, ID: 1}, desk.OtherWrong, date(2021, 1, 20))
	o.farms(3, where, 2021, 10)
	o.release(date(2021, 12, 31), date(2022, 1, 15))
	require.Len(t, o.issue(2).Tranches, 1, "three come, one drops out: it stays away")
	require.Equal(t, 3, o.issue(2).Tranches[0].Samples)
	o.farms(4, where, 2022, 10)
	o.release(date(2022, 12, 31), date(2023, 1, 15))
	require.Equal(t, 7, o.issue(3).Tranches[1].Samples)
	require.Empty(t, o.findings())
	o.verified()
}
