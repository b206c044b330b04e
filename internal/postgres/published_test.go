package postgres_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
)

func (o *office) withdraw(edition int) {
	o.t.Helper()
	_, err := o.staff.Exec(ctxOf(o.t), `INSERT INTO open.withdrawal (edition, reason, day) VALUES ($1, 'places', '2024-07-01')`, edition)
	require.NoError(o.t, err)
}

// Whatever changes what the pages show changes the version at once: a new
// edition, an edition withdrawn whichever it is, and an office's words.
func TestVersion(t *testing.T) {
	o := newOffice(t)
	store := postgres.NewPublished(o.public)
	read := func() gazette.Version {
		v, err := store.Version(ctxOf(t))
		require.NoError(t, err)
		return v
	}
	require.Equal(t, gazette.Version{}, read())
	where := o.townships[o.counties[0].ID]
	o.farms(3, where[0].ID, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.farms(3, where[1].ID, 2021, 10)
	o.release(date(2021, 12, 31), date(2022, 1, 15))
	require.Equal(t, gazette.Version{Number: 2}, read())
	o.withdraw(1)
	require.Equal(t, gazette.Version{Number: 2, Withdrawn: 1, Recalled: 1}, read(), "the number stays")
	require.NoError(t, postgres.NewProgram(o.staff).SetOffice(ctxOf(t), desk.Office{County: o.counties[0].ID, Address: "1 Elm"}))
	first := read()
	require.NotEmpty(t, first.Offices)
	day := date(2024, 12, 1)
	require.NoError(t, postgres.NewProgram(o.staff).SetOffice(ctxOf(t), desk.Office{County: o.counties[0].ID, Address: "1 Elm", LastDay: &day}))
	require.NotEqual(t, first.Offices, read().Offices)
	o.withdraw(2)
	require.Equal(t, []int{0, 2}, []int{read().Number, read().Withdrawn})
}

// A withdrawn edition's townships are recalled: on the map that takes its place,
// on every later one, and not on one that a later one replaced before.
func TestRecalled(t *testing.T) {
	o := newOffice(t)
	store := postgres.NewPublished(o.public)
	issue := func(no int) *gazette.Issue {
		i, err := store.Issue(ctxOf(t), no)
		require.NoError(t, err)
		return i
	}
	where := o.townships[o.counties[0].ID]
	for i := range 3 {
		year := 2020 + i
		o.farms(3, where[i].ID, year, 10)
		o.release(date(year, 12, 31), date(year+1, 1, 15))
	}
	require.Empty(t, issue(3).Recalled)
	require.Len(t, issue(3).Editions, 3)
	o.withdraw(2)
	three := issue(3)
	require.Equal(t, []place.ID{where[1].ID}, three.Recalled)
	require.Len(t, three.Tranches, 2)
	require.Len(t, three.Editions, 2)
	require.Equal(t, assay.PresetMethods(), three.Methods)
	require.Equal(t, []place.ID{where[1].ID}, issue(1).Recalled, "who read edition 2 and now reads 1 again")
	o.withdraw(3)
	require.Equal(t, []place.ID{where[1].ID, where[2].ID}, issue(1).Recalled)
	o.farms(3, where[2].ID, 2023, 0)
	o.release(date(2023, 12, 31), date(2024, 1, 15))
	require.Equal(t, []place.ID{where[1].ID, where[2].ID}, issue(4).Recalled)
	require.Equal(t, []place.ID{where[1].ID, where[2].ID}, issue(1).Recalled)

	x, err := gazette.NewIndex(issue(4))
	require.NoError(t, err)
	v, _ := x.County(o.counties[0].Slug)
	marks := map[place.ID]string{}
	for _, a := range v.Areas {
		marks[a.ID] = a.Mark.String()
	}
	require.Equal(t, "recalled", marks[where[1].ID])
	require.Equal(t, "none-found", marks[where[2].ID], "it has figures of its own again")
	require.Equal(t, "no-figures", marks[where[3].ID])
	require.Equal(t, 1, v.Recalled)
}

// Rules that the database's administrator puts in force, as the README has it: the
// pages tell the fewest senders at once, and the next release goes by them.
func TestRulesOfTheProgramsOwn(t *testing.T) {
	o := newOffice(t)
	require.Equal(t, 3, o.issue(0).Edition.K)
	_, err := open(t, o.logins.Admin).Exec(ctxOf(t), `
		INSERT INTO open.parameter_set (id, k, patience, dominance, gap_days, fall_floor) VALUES (2, 5, 2, 20, 90, 5);
		UPDATE open.program SET parameters = 2, keep_months = 24`)
	require.NoError(t, err)
	require.Equal(t, 5, o.issue(0).Edition.K, "before the first map too")
	where := o.townships[o.counties[0].ID]
	o.farms(4, where[0].ID, 2020, 10)
	o.farms(5, where[1].ID, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	issue := o.issue(1)
	require.Equal(t, 5, issue.Edition.K)
	require.Empty(t, edition.OfTownship(issue.Tranches, where[0].ID))
	require.Len(t, edition.OfTownship(issue.Tranches, where[1].ID), 1)
	require.Empty(t, o.findings())

	// Nobody changes a set, the administrator neither, or adds one weaker than the promise.
	for sql, says := range map[string]string{
		`UPDATE open.parameter_set SET k = 3 WHERE id = 2`:              "never changed",
		`DELETE FROM open.parameter_set WHERE id = 1`:                   "never changed",
		`INSERT INTO open.parameter_set (id, k) VALUES (3, 2)`:          "parameter_set_k_check",
		`INSERT INTO open.parameter_set (id, gap_days) VALUES (3, 29)`:  "parameter_set_gap_days_check",
		`INSERT INTO open.parameter_set (id, fall_floor) VALUES (3, 4)`: "parameter_set_fall_floor_check",
		`INSERT INTO open.parameter_set (id, dominance) VALUES (3, 0)`:  "parameter_set_dominance_check",
		`INSERT INTO open.parameter_set (id, patience) VALUES (3, 0)`:   "parameter_set_patience_check",
		`UPDATE open.program SET keep_months = 5`:                       "program_keep_months_check",
	} {
		_, err := open(t, o.logins.Admin).Exec(ctxOf(t), sql)
		require.ErrorContains(t, err, says, sql)
	}
}
