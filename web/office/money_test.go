package office

import (
	"context"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/money"
)

// fakePurse keeps money in memory.
type fakePurse struct {
	calendar money.Calendar
	prices   []money.Prices
	budgets  []money.Budget
	season   money.Season
}

func newFakePurse() *fakePurse {
	return &fakePurse{
		calendar: money.DefaultCalendar,
		prices:   []money.Prices{{From: date(2026, 7, 1), Bag: 45, Postage: 925, Fee: 2200}, {From: date(2025, 7, 1), Bag: 40, Postage: 900, Fee: 2000}},
		budgets:  []money.Budget{{Year: 2027, Sponsor: "Invented Bean Board", Amount: 12_000_00}, {Year: 2027, Sponsor: "Makebelieve Seed Fund", Amount: 3_000_00}},
		season:   money.Season{Issued: 400, Bundles: 160, Arrived: 180, Counted: 122, Mailed: 30, Share: 0.9},
	}
}

func (f *fakePurse) Year(_ context.Context, y money.Year, today time.Time) (desk.Money, error) {
	m := desk.Money{Year: y, Day: today, Spent: money.Spending{Issued: 400, Arrived: 180, Countings: 122, Bags: 180_00, Postage: 1665_00, Fees: 2684_00}}
	m.First, m.Last = f.calendar.Days(y)
	var sum money.Cents
	m.Budgets, sum = money.Of(f.budgets, y)
	m.Prices, m.Priced = money.At(f.prices, today)
	if f.calendar.Year(today) == y {
		m.Season, m.Bags = 2026, f.season
	}
	m.Rate = money.ReturnRate(m.Bags)
	m.Outlook = money.Forecast(sum, m.Spent.Sum(), m.Bags, m.Rate, m.Prices)
	return m, nil
}
func (f *fakePurse) Calendar(context.Context) (money.Calendar, error) { return f.calendar, nil }
func (f *fakePurse) SetCalendar(_ context.Context, c money.Calendar) error {
	f.calendar = c
	return nil
}
func (f *fakePurse) Prices(context.Context) ([]money.Prices, error) { return f.prices, nil }
func (f *fakePurse) SetPrices(_ context.Context, p money.Prices) error {
	f.prices = append([]money.Prices{p}, f.prices...)
	return nil
}
func (f *fakePurse) Budgets(context.Context) ([]money.Budget, error) { return f.budgets, nil }
func (f *fakePurse) SetBudget(_ context.Context, b money.Budget) error {
	at := slices.IndexFunc(f.budgets, func(x money.Budget) bool { return x.Year == b.Year && x.Sponsor == b.Sponsor })
	if at < 0 && b.Amount == 0 {
		return fault.ErrNotFound
	}
	if at >= 0 {
		f.budgets = slices.Delete(f.budgets, at, at+1)
	}
	if b.Amount > 0 {
		f.budgets = append(f.budgets, b)
	}
	return nil
}

func TestMoneyOfThisYear(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, account.Coordinator, "/office/money?more=100")
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, page.text("h2"), "Fiscal year 2027")
	table := page.text(".account")
	require.Contains(t, table, "Sponsors’ budgets $15,000.00")
	require.Contains(t, table, "Spent $4,529.00")
	// 58 bags wait for their counts, 30 are in the mail: 58 x 22 + 30 x 31.25.
	require.Contains(t, table, "$2,213.50")
	text := page.text("main")
	require.Contains(t, text, "180 of the 400 bags issued for fall 2026 have come back (45%)")
	require.Contains(t, text, "about 50% will have come back")
	require.Contains(t, text, "100 more bags cost about $1,607.50")
	require.Contains(t, text, "It is not bookkeeping")
	file := w.get(t, account.Coordinator, "/office/money.csv?year=2027")
	require.Contains(t, file.body, "2027,committed,,2213.50,,\r\n")
	require.Contains(t, file.body, "2027,budget: Makebelieve Seed Fund,,3000.00,,\r\n")
	// Another year has no outlook, and says what is missing.
	before := w.get(t, account.Coordinator, "/office/money?year=2024")
	require.Contains(t, before.text("main"), "No budget is written down")
	require.Zero(t, before.Find("#more").Length())
}

func TestMoneyIsSet(t *testing.T) {
	w := newWorld(t)
	done := w.post(t, account.Coordinator, "/office/money", "do", "budget", "year", "2027", "sponsor", " Make  Believe Elevator ", "budget-year", "2028", "amount", "$1,250.5")
	require.Equal(t, http.StatusSeeOther, done.status)
	require.Contains(t, w.purse.budgets, money.Budget{Year: 2028, Sponsor: "Make Believe Elevator", Amount: 1250_50})
	require.Contains(t, w.get(t, account.Coordinator, done.header.Get("Location")).text(".saved"), "budget is saved")
	w.post(t, account.Coordinator, "/office/money", "do", "price", "year", "2027", "from", "2026-12-01", "bag", "0.50", "postage", "9.75", "fee", "23")
	require.Equal(t, money.Prices{From: date(2026, 12, 1), Bag: 50, Postage: 975, Fee: 2300}, w.purse.prices[0])
	w.post(t, account.Coordinator, "/office/money", "do", "month", "month", "10")
	require.Equal(t, time.October, w.purse.calendar.First)
}

func TestMoneyRefused(t *testing.T) {
	for name, c := range map[string]struct {
		form  []string
		field string
	}{
		"no sponsor":    {[]string{"do", "budget", "budget-year", "2027", "amount", "5"}, "sponsor"},
		"long sponsor":  {[]string{"do", "budget", "sponsor", "ssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssssss", "budget-year", "2027", "amount", "5"}, "sponsor"},
		"amount":        {[]string{"do", "budget", "sponsor", "X Board", "budget-year", "2027", "amount", "1,50"}, "amount"},
		"year":          {[]string{"do", "budget", "sponsor", "X Board", "budget-year", "27", "amount", "5"}, "budget-year"},
		"nothing there": {[]string{"do", "budget", "sponsor", "X Board", "budget-year", "2027", "amount", "0"}, "sponsor"},
		"price":         {[]string{"do", "price", "from", "2026-12-01", "bag", "-1", "postage", "1", "fee", "1"}, "bag"},
		"day":           {[]string{"do", "price", "from", "12/1/26", "bag", "1", "postage", "1", "fee", "1"}, "from"},
		"month":         {[]string{"do", "month", "month", "13"}, "month"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			before := *w.purse
			page := w.post(t, account.Coordinator, "/office/money", c.form...)
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			require.Equal(t, "true", page.attr("#"+c.field, "aria-invalid"))
			require.Equal(t, 1, page.Find(`.problems a[href="#`+c.field+`"]`).Length())
			for i := 0; i+1 < len(c.form); i += 2 { // what was typed is kept
				if input := page.Find("input#" + c.form[i]); input.Length() == 1 {
					require.Equal(t, c.form[i+1], page.attr("#"+c.form[i], "value"))
				}
			}
			require.Equal(t, before, *w.purse)
		})
	}
	w := newWorld(t)
	require.Equal(t, http.StatusNotFound, w.post(t, account.Coordinator, "/office/money", "do", "nothing").status)
	require.Contains(t, w.get(t, account.Coordinator, "/office/money?more=none").text(".problems"), "Write how many bags")
}
