package postgres_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

// Every store's change leaves one line, beside the change and with who made it.
func TestEveryChangeLeavesALine(t *testing.T) {
	o := newOffice(t)
	people, ctx := o.boss()
	boss, _, err := people.Password(ctx, "boss")
	require.NoError(t, err)
	county := o.counties[0].ID
	b := o.lot(county, 1, 1, 1)
	for i, town := range o.townships[county][:2] {
		o.take(o.visit(sample.FirstEver, town.ID, 2024, b[i][0]))
	}
	o.take(o.visit(sample.FirstEver, county, 2024, b[0][0])) // doubled: queued
	queue, err := postgres.NewBags(o.staff).Queue(ctx)
	require.NoError(t, err)
	require.Len(t, queue, 1)

	bags, lab, counter, program := postgres.NewBags(o.staff), postgres.NewLab(o.staff), postgres.NewCounter(o.staff), postgres.NewProgram(o.staff)
	m := assay.DefaultMethod()
	all := account.Reach{All: true}
	var head desk.ID
	steps := []struct {
		deed account.Deed
		want account.Detail
		do   func(ctx context.Context) error
	}{
		{account.DidLot, account.Detail{County: county, Season: 2024}, func(ctx context.Context) error {
			_, err := bags.Issue(ctx, county, 2024, []int{2, 1}, day)
			return err
		}},
		{account.DidHandOut, account.Detail{County: county, Season: 2024, Number: 1}, func(ctx context.Context) error {
			_, err := counter.HandOut(ctx, b[2][0], all, day)
			return err
		}},
		{account.DidTie, account.Detail{County: county, Number: 2}, func(ctx context.Context) error {
			_, err := counter.Tie(ctx, []bag.Code{b[1][0], b[2][0]}, all, day)
			return err
		}},
		{account.DidTakeBack, account.Detail{County: county, Season: 2024, Number: 1}, func(ctx context.Context) error {
			_, err := counter.TakeBack(ctx, b[2][0], all, day)
			return err
		}},
		{account.DidSoilIn, account.Detail{}, func(ctx context.Context) error { return bags.LogIn(ctx, b[0][0], day) }},
		// A bag that was counted without having been logged in leaves one line, not two.
		{account.DidCount, account.Detail{}, func(ctx context.Context) error {
			return lab.Record(ctx, desk.Keyed{Code: b[1][0], Method: m, Count: m.Count(3), Replaces: head, Day: day}, boss)
		}},
		{account.DidRecount, account.Detail{}, func(ctx context.Context) error {
			found, err := lab.Find(ctx, b[1][0])
			if err != nil {
				return err
			}
			return lab.Record(ctx, desk.Keyed{Code: b[1][0], Method: m, Count: m.Count(4), Replaces: found.Head, Why: assay.Mistyped, Day: day}, boss)
		}},
		{account.DidSettle, account.Detail{}, func(ctx context.Context) error { return bags.Settle(ctx, queue[0].ID, day) }},
		{account.DidSeason, account.Detail{Season: 2025}, func(ctx context.Context) error {
			return program.AddSeason(ctx, sample.Season{Year: 2025, Opens: date(2025, 8, 1), Closes: date(2026, 7, 31)})
		}},
		{account.DidOffice, account.Detail{County: county}, func(ctx context.Context) error {
			return program.SetOffice(ctx, desk.Office{County: county, Address: "1 Main", Hours: "8 to 5", DropOff: "desk"})
		}},
		{account.DidInvite, account.Detail{Person: "clerk", Role: account.Clerk}, func(ctx context.Context) error {
			_, err := people.Invite(ctx, account.Staff{Login: "clerk", Name: "C", Role: account.Clerk, Counties: []place.ID{county}}, link(t), day, day)
			return err
		}},
		{account.DidRequire, account.Detail{}, func(ctx context.Context) error { return people.Require(ctx, true, day) }},
		{account.DidPassword, account.Detail{}, func(ctx context.Context) error {
			return people.SetPassword(ctx, boss, "other", account.Token{}, day)
		}},
	}
	trail := postgres.NewTrail(o.staff)
	before := o.count(`SELECT count(*) FROM priv.trail`)
	for i, s := range steps {
		require.NoError(t, s.do(ctx), s.deed)
		require.Equal(t, before+i+1, o.count(`SELECT count(*) FROM priv.trail`), s.deed)
		list, err := trail.Entries(ctx, account.Query{Deed: s.deed, Who: "boss"}, 10, 0)
		require.NoError(t, err)
		require.Len(t, list, 1, s.deed)
		require.Equal(t, s.want, list[0].Detail, s.deed)
	}
	// A change that is undone leaves none, nor does one that changes nothing.
	require.ErrorIs(t, people.SetActive(ctx, boss, false, day), account.ErrLastCoordinator)
	require.Error(t, bags.LogIn(ctx, b[0][0], day))
	require.NoError(t, people.Require(ctx, true, day))
	require.Equal(t, before+len(steps), o.count(`SELECT count(*) FROM priv.trail`))
	// The connection forgets whom it worked for.
	_, err = bags.Issue(ctxOf(t), county, 2024, []int{1}, day)
	require.NoError(t, err)
	list, err := trail.Entries(ctx, account.Query{Deed: account.DidLot}, 10, 0)
	require.NoError(t, err)
	require.Len(t, list, 3)
	require.Equal(t, "", list[0].Who)
}

func TestTheTrailIsPicked(t *testing.T) {
	o := newOffice(t)
	_, ctx := o.boss()
	c := postgres.NewCounter(o.staff)
	for i, county := range []int{0, 1, 1} {
		b := o.lot(o.counties[county].ID, 1)[0]
		_, err := c.HandOut(ctx, b[0], account.Reach{All: true}, day.AddDate(0, 0, i))
		require.NoError(t, err)
	}
	trail := postgres.NewTrail(o.staff)
	for name, q := range map[string]struct {
		account.Query
		want int
	}{
		"deed":     {account.Query{Deed: account.DidHandOut}, 3},
		"county":   {account.Query{Deed: account.DidHandOut, County: o.counties[1].ID}, 2},
		"from":     {account.Query{Deed: account.DidHandOut, From: day.AddDate(0, 0, 1)}, 2},
		"to":       {account.Query{Deed: account.DidHandOut, To: day}, 1},
		"somebody": {account.Query{Who: "boss"}, 3},
		"nobody":   {account.Query{Who: "nobody"}, 0},
	} {
		list, err := trail.Entries(ctx, q.Query, 100, 0)
		require.NoError(t, err)
		require.Len(t, list, q.want, name)
	}
	first, err := trail.Entries(ctx, account.Query{Who: "boss"}, 2, 0)
	require.NoError(t, err)
	rest, err := trail.Entries(ctx, account.Query{Who: "boss"}, 2, 2)
	require.NoError(t, err)
	require.Len(t, first, 2)
	require.Len(t, rest, 1)
	require.Equal(t, day.AddDate(0, 0, 2), first[0].Day)
	require.Equal(t, time.UTC, first[0].Day.Location())
}

// The trail is added to and never changed, not even by its owner; and staff add
// through one function, which keeps out what could tell of a bag.
func TestTheTrailIsAppendOnly(t *testing.T) {
	o := newOffice(t)
	run := runner(func(sql string) error { _, err := o.staff.Exec(ctxOf(t), sql); return err })
	for _, sql := range []string{
		`UPDATE priv.trail SET action = 'x'`,
		`DELETE FROM priv.trail`,
		`TRUNCATE priv.trail`,
		`INSERT INTO priv.trail (day, action) VALUES ('2024-01-01', 'x')`,
		`ALTER TABLE priv.trail DISABLE TRIGGER ALL`,
		`DROP TRIGGER note_lot ON priv.lot`,
	} {
		refused(t, run, sql)
	}
	admin := open(t, o.logins.Admin)
	for _, sql := range []string{`UPDATE priv.trail SET action = 'x'`, `DELETE FROM priv.trail`} {
		_, err := admin.Exec(ctxOf(t), sql)
		require.ErrorContains(t, err, "never changed")
	}
	_, err := o.staff.Exec(ctxOf(t), `SELECT priv.note('x', '2024-01-01', '{"bag": "K7QF2M9A", "sample": "s", "n": 3}', NULL)`)
	require.NoError(t, err)
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.trail WHERE action = 'x' AND detail = '{"n": 3}'`))
	_, err = admin.Exec(ctxOf(t), `INSERT INTO priv.trail (day, action, detail) VALUES ('2024-01-01', 'x', '{"bag": "K7QF2M9A"}')`)
	require.ErrorContains(t, err, "violates check constraint")
}
