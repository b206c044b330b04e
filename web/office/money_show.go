package office

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"sixmile/internal/desk"
	"sixmile/internal/money"
	"sixmile/web/shell"
)

// Purse is what the money pages stand on: one store in real work.
type Purse struct {
	Accounts Accounts
	Fiscal   Fiscal
	PriceBook
	Sponsors
}

// Accounts works out fiscal years.
type Accounts interface {
	Year(ctx context.Context, y money.Year, today time.Time) (desk.Money, error)
}

// Fiscal tells when the fiscal year begins.
type Fiscal interface {
	Calendar(ctx context.Context) (money.Calendar, error)
	SetCalendar(ctx context.Context, c money.Calendar) error
}

// PriceBook keeps what bags cost.
type PriceBook interface {
	Prices(ctx context.Context) ([]money.Prices, error)
	SetPrices(ctx context.Context, p money.Prices) error
}

// Sponsors keeps what sponsors give. SetBudget with nothing takes the line away:
// fault.ErrNotFound where there is none.
type Sponsors interface {
	Budgets(ctx context.Context) ([]money.Budget, error)
	SetBudget(ctx context.Context, b money.Budget) error
}

// moneyTyped is the page's forms as they were typed.
type moneyTyped struct {
	year, more                  string
	from, bag, postage, fee     string
	sponsor, amount, budgetYear string
	month                       string
}

// moneyFacts is what the page is made from.
type moneyFacts struct {
	money    desk.Money
	calendar money.Calendar
	prices   []money.Prices
	budgets  []money.Budget
}

func (o *office) moneyShow(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	t := moneyTyped{year: line(q, "year"), more: line(q, "more")}
	facts, err := o.moneyFacts(r.Context(), t.year)
	if err != nil {
		return err
	}
	t.fill(facts, o.Today())
	v := newMoneyView(o.Lang, facts, t, nil)
	v.Saved = moneySaved(o.Lang, q.Get("done"))
	return o.showMoney(w, r, http.StatusOK, v)
}

func (o *office) showMoney(w http.ResponseWriter, r *http.Request, status int, v moneyView) error {
	p := o.page(r, o.Lang.Say("money.title"))
	p.Wide = true
	return shell.Render(w, r, status, moneyPage(p, v))
}

// moneyFacts reads everything for the year that was typed, else for the one that
// today is in.
func (o *office) moneyFacts(ctx context.Context, year string) (f moneyFacts, err error) {
	if f.calendar, err = o.Fiscal.Calendar(ctx); err != nil {
		return f, err
	}
	y, ok := readYear(year)
	if !ok {
		y = f.calendar.Year(o.Today())
	}
	if f.money, err = o.Accounts.Year(ctx, y, o.Today()); err != nil {
		return f, err
	}
	if f.prices, err = o.Prices(ctx); err != nil {
		return f, err
	}
	f.budgets, err = o.Budgets(ctx)
	return f, err
}

// readYear reads a fiscal year of this century or the last.
func readYear(s string) (money.Year, bool) {
	y, err := strconv.Atoi(s)
	return money.Year(y), err == nil && y >= 1950 && y <= 2200
}

// fill puts into the forms what they start with.
func (t *moneyTyped) fill(f moneyFacts, today time.Time) {
	t.from, t.month = today.Format(time.DateOnly), strconv.Itoa(int(f.calendar.First))
	t.budgetYear = strconv.Itoa(int(f.money.Year))
	if p := f.money.Prices; f.money.Priced {
		t.bag, t.postage, t.fee = p.Bag.Dollars(), p.Postage.Dollars(), p.Fee.Dollars()
	}
}
