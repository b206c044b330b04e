package postgres_test

import (
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

func (o *office) restate(key string, day time.Time) (gazette.Edition, desk.Again) {
	o.t.Helper()
	store := postgres.NewRestatements(o.staff)
	p, err := store.Preview(ctxOf(o.t), key, day)
	require.NoError(o.t, err)
	require.Empty(o.t, p.Audit)
	e, err := store.Release(ctxOf(o.t), key, p.Number, day, p.Stamp, account.ID{})
	require.NoError(o.t, err)
	twice, err := store.Release(ctxOf(o.t), key, p.Number, day, p.Stamp, account.ID{})
	require.NoError(o.t, err)
	require.Equal(o.t, e.Code, twice.Code)
	return e, p
}

// Rules made stricter after a map: what is out keeps the rules that it came out by.
// Its groups may be counted into other levels, and no page says more of all groups
// than holds for the oldest.
func TestRulesMadeStricter(t *testing.T) {
	o := newOffice(t)
	where := o.townships[o.counties[0].ID]
	o.farms(3, where[0].ID, 2020, 90)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.admin(`INSERT INTO open.parameter_set (id, k) VALUES (2, 5)`, `UPDATE open.program SET parameters = 2`)
	o.farms(4, where[1].ID, 2020, 10)
	o.farms(5, where[2].ID, 2020, 10)
	o.release(date(2021, 4, 1), date(2021, 4, 15))
	issue := o.issue(2)
	require.Empty(t, edition.OfTownship(issue.Tranches, where[1].ID))
	require.Len(t, edition.OfTownship(issue.Tranches, where[2].ID), 1)
	require.Equal(t, 3, issue.Edition.K)
	_, p := o.restate(assay.SchemeOhio, date(2021, 4, 16))
	require.Len(t, p.Groups, 2)
	require.Equal(t, 3, o.issue(3).Edition.K)
	require.Empty(t, o.findings())
	o.verified()
}

// Old figures in other levels, from what was published: a correction since does
// not show. 90 eggs are 4,500, moderate in both; 150 are 7,500: moderate by the
// first table, high by the Ohio table, whose cuts are 2,000 and 5,000.
func TestRestated(t *testing.T) {
	o := newOffice(t)
	where := o.townships[o.counties[0].ID][0].ID
	codes := append(o.farms(2, where, 2020, 90), o.farms(2, where, 2020, 150)...)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	require.Equal(t, []int{0, 0, 0, 4, 0}, o.issue(1).Tranches[0].Counts)
	o.corrected(codes[0], 0, date(2021, 2, 1))

	_, err := postgres.NewRestatements(o.staff).Preview(ctxOf(t), assay.SchemeISUSoybeanNext, date(2021, 2, 2))
	require.ErrorIs(t, err, postgres.ErrInForce)
	_, err = postgres.NewRestatements(o.staff).Preview(ctxOf(t), "nobody", date(2021, 2, 2))
	require.ErrorIs(t, err, fault.ErrNotFound)

	e, p := o.restate(assay.SchemeOhio, date(2021, 2, 2))
	require.Equal(t, edition.Restated, e.Kind)
	require.Len(t, p.Groups, 1)
	require.Zero(t, p.Coarse)
	two := o.issue(2)
	require.Equal(t, assay.SchemeOhio, two.Scheme.Key)
	require.Equal(t, []int{0, 0, 0, 0, 2, 2}, two.Tranches[0].Counts)
	require.Equal(t, []int{0, 0, 0, 4, 0}, o.issue(1).Tranches[0].Counts, "an older map has its own levels")
	levels, err := postgres.NewLevels(o.public).Scheme(ctxOf(t))
	require.NoError(t, err)
	require.Equal(t, assay.SchemeOhio, levels.Key, "answers speak of the levels in force")

	// New results by the new levels; then a table whose cuts are too close to them.
	o.farms(3, o.townships[o.counties[0].ID][1].ID, 2021, 150)
	o.release(date(2021, 12, 31), date(2022, 1, 15))
	require.Equal(t, []int{0, 0, 0, 0, 0, 3}, o.issue(3).Tranches[1].Counts)
	_, p = o.restate(assay.SchemeMinnesota, date(2022, 2, 1)) // 10,000 is near 12,000, and just twice 5,000
	require.Empty(t, p.Groups)
	require.Equal(t, 2, p.Coarse)
	four := o.issue(4)
	require.Len(t, four.Tranches, 2)
	require.Equal(t, []any{true, []int{0, 0, 4}}, []any{four.Tranches[0].Coarse, four.Tranches[0].Counts})
	_, err = gazette.NewIndex(four)
	require.NoError(t, err)
	require.Empty(t, o.findings())
	o.verified()

	// Withdrawn, the tables of before stand again; nothing is recalled.
	require.NoError(t, postgres.NewRecalls(o.staff).Withdraw(ctxOf(t), 4, desk.OtherWrong, date(2022, 2, 2)))
	require.Equal(t, 3, o.version().Number)
	require.Len(t, o.issue(3).Tranches, 2)
	require.Empty(t, o.issue(3).Recalled)
	require.Empty(t, o.findings())
	o.farms(3, o.townships[o.counties[0].ID][2].ID, 2022, 150)
	o.release(date(2022, 12, 31), date(2023, 1, 15))
	require.Equal(t, assay.SchemeOhio, o.issue(5).Scheme.Key)
	require.Empty(t, o.findings())
	o.verified()
}

// A changed figure, a pin taken away: verifying finds it.
func TestVerifyFinds(t *testing.T) {
	for name, spoil := range map[string][]string{
		"a count":       {`ALTER TABLE open.tranche_count DISABLE TRIGGER ALL`, `UPDATE open.tranche_count SET n = n + 1 WHERE rank = 0`},
		"a result":      {`ALTER TABLE priv.result DISABLE TRIGGER ALL`, `UPDATE priv.result SET density = 48000, eggs = 960`},
		"a pin":         {`ALTER TABLE priv.member_result DISABLE TRIGGER ALL`, `DELETE FROM priv.member_result WHERE ctid = (SELECT min(ctid) FROM priv.member_result)`},
		"a cut point":   {`UPDATE open.scheme_class SET upper = 100 WHERE scheme = 1 AND rank = 2`},
		"a fall figure": {`ALTER TABLE open.fall_figure DISABLE TRIGGER ALL`, `UPDATE open.fall_figure SET samples = samples + 5`},
		"a code":        {`ALTER TABLE open.edition DISABLE TRIGGER ALL`, `UPDATE open.edition SET code = 'AAAA-AA'`},
	} {
		t.Run(name, func(t *testing.T) {
			o := newOffice(t)
			o.farms(5, o.townships[o.counties[0].ID][0].ID, 2020, 10)
			o.release(date(2020, 12, 31), date(2021, 1, 15))
			o.verified()
			o.admin(spoil...)
			p, err := postgres.NewEditions(o.staff).Verify(ctxOf(t), 1)
			require.NoError(t, err)
			require.False(t, p.OK())
		})
	}
	_, err := postgres.NewEditions(newOffice(t).staff).Verify(ctxOf(t), 1)
	require.ErrorIs(t, err, fault.ErrNotFound)
}
