package postgres_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/money"
	"sixmile/internal/place"
	"sixmile/internal/plan"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

func TestMoneyOfAYear(t *testing.T) {
	o := newOffice(t)
	ctx, store := ctxOf(t), postgres.NewMoney(o.staff)
	require.NoError(t, store.SetPrices(ctx, money.Prices{From: date(2024, 1, 1), Bag: 1, Postage: 2, Fee: 3}))
	require.NoError(t, store.SetPrices(ctx, money.Prices{From: date(2024, 1, 1), Bag: 50, Postage: 900, Fee: 2000}))
	require.NoError(t, store.SetBudget(ctx, money.Budget{Year: 2025, Sponsor: "Invented Bean Board", Amount: 500_00}))
	require.NoError(t, store.SetBudget(ctx, money.Budget{Year: 2025, Sponsor: "Nobody's Grain Trust", Amount: 1}))
	require.NoError(t, store.SetBudget(ctx, money.Budget{Year: 2025, Sponsor: "Nobody's Grain Trust"}))
	require.ErrorIs(t, store.SetBudget(ctx, money.Budget{Year: 2025, Sponsor: "Nobody's Grain Trust"}), fault.ErrNotFound)

	county := o.counties[0].ID
	bags := postgres.NewBags(o.staff)
	lot, err := bags.Issue(ctx, county, 2024, []int{2, 2, 1}, date(2024, 9, 1))
	require.NoError(t, err)
	codes, _, err := bags.Bundles(ctx, lot)
	require.NoError(t, err)
	o.take(o.visit(sample.FirstEver, o.townships[county][0].ID, 2024, codes[0]...))
	o.take(o.visit(sample.FirstEver, o.townships[county][1].ID, 2024, codes[1][0]))
	require.NoError(t, bags.LogIn(ctx, codes[0][0], date(2024, 10, 2)))
	require.NoError(t, bags.LogIn(ctx, codes[0][1], date(2024, 10, 2)))
	method := assay.DefaultMethod()
	require.NoError(t, postgres.NewLab(o.staff).Record(ctx, desk.Keyed{Code: codes[0][0], Method: method, Count: method.Count(5), Day: date(2024, 10, 9)}, account.ID{}))

	m, err := store.Year(ctx, 2025, date(2024, 10, 20))
	require.NoError(t, err)
	require.Equal(t, date(2024, 7, 1), m.First)
	require.Equal(t, money.Spending{Issued: 5, Arrived: 2, Countings: 1, Bags: 250, Postage: 1800, Fees: 2000}, m.Spent)
	require.Equal(t, money.Season{Issued: 5, Bundles: 3, Arrived: 2, Counted: 1, Mailed: 1}, m.Bags)
	require.False(t, m.Rate.Known, "no earlier season tells how far this one is")
	require.Equal(t, money.Cents(2000+2900), m.Outlook.Committed)

	// Soil that is set aside, or that cannot be counted, waits for no count and no fee.
	for i, change := range []string{`state = 'void'`, `state = 'soil_in', condition = 'torn'`} {
		_, err = o.staff.Exec(ctx, `UPDATE priv.bag SET `+change+` WHERE code = $1`, string(codes[0][1]))
		require.NoError(t, err)
		m, err = store.Year(ctx, 2025, date(2024, 10, 20))
		require.NoError(t, err)
		require.Equal(t, 2, m.Bags.Arrived, i)
		require.Equal(t, money.Cents(2900), m.Outlook.Committed, "the bag in the mail alone")
	}
	require.Equal(t, money.Cents(500_00), m.Outlook.Budget)
	require.Len(t, m.Budgets, 1)

	// Another fiscal year has no outlook, and one that begins in January has the
	// fall in it.
	before, err := store.Year(ctx, 2024, date(2024, 10, 20))
	require.NoError(t, err)
	require.Zero(t, before.Spent.Sum())
	require.Zero(t, before.Season)
	require.NoError(t, store.SetCalendar(ctx, money.Calendar{First: time.January}))
	m, err = store.Year(ctx, 2024, date(2024, 10, 20))
	require.NoError(t, err)
	require.Equal(t, 5, m.Spent.Issued)

	// A season that is over tells how far this one has come.
	over, err := store.Year(ctx, 2025, date(2025, 9, 1))
	require.NoError(t, err)
	require.Equal(t, 1.0, over.Bags.Share)
	trail := o.deeds()
	require.Contains(t, trail, account.DidPrice)
	require.Contains(t, trail, account.DidBudget)
}

func TestPlansAreKept(t *testing.T) {
	o := newOffice(t)
	ctx, store := ctxOf(t), postgres.NewPlans(o.staff)
	o.farms(3, o.townships[o.counties[0].ID][0].ID, 2024, 0)
	o.release(date(2024, 12, 31), date(2025, 1, 15))
	var given []plan.Place
	for _, c := range o.counties {
		for _, town := range o.townships[c.ID] {
			given = append(given, plan.Place{ID: town.ID, County: c.ID, Acres: 5000, Find: 0.1, Weight: 4, Miss: 1, Clean: 0.9})
		}
	}
	ask := plan.Ask{Bags: 60, Least: 5, Return: 0.5, Weights: [plan.NumAims]float64{4, 2, 1, 1}, Reach: plan.AsSuggested}
	p, err := plan.New(given, ask)
	require.NoError(t, err)
	saved := plan.Saved{Season: 2025, Edition: 1, Day: date(2025, 2, 1), Plan: p, Given: given}
	no, err := store.Save(ctx, saved, account.ID{})
	require.NoError(t, err)
	got, err := store.Get(ctx, no)
	require.NoError(t, err)
	require.Equal(t, ask, got.Ask)
	require.Equal(t, saved.Total, got.Total)
	require.Equal(t, given, got.Given)
	require.InDelta(t, saved.Value, got.Value, 1e-12)
	require.Len(t, got.Lots, 2)
	require.Equal(t, p.Lots[0].Bags, got.Lots[0].Bags)
	bags := 0
	for i, s := range got.Places {
		bags += s.Bags
		require.Equal(t, s.Place, got.Given[i].ID)
	}
	require.Equal(t, 60, bags)
	list, err := store.List(ctx)
	require.NoError(t, err)
	require.Len(t, list, 1)
	_, err = store.Get(ctx, no+1)
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.Contains(t, o.deeds(), account.DidPlan)
	_, err = o.staff.Exec(ctx, `UPDATE priv.plan SET bags = 1`)
	require.Error(t, err, "a plan is never changed")
	_, err = o.public.Exec(ctx, `SELECT 1 FROM priv.budget`)
	require.Error(t, err, "the public reads no money")

	issued, err := store.Issued(ctx, 2020)
	require.NoError(t, err)
	require.Equal(t, map[place.ID]int{o.counties[0].ID: 3}, issued)
	all, back, err := store.Backs(ctx, 2020, date(2025, 2, 1))
	require.NoError(t, err)
	require.Equal(t, []int{3, 3}, []int{all, back})
}

// deeds are those of the trail so far.
func (o *office) deeds() (out []account.Deed) {
	o.t.Helper()
	list, err := postgres.NewTrail(o.staff).Entries(ctxOf(o.t), account.Query{}, 1000, 0)
	require.NoError(o.t, err)
	for _, e := range list {
		out = append(out, e.Deed)
	}
	return out
}
