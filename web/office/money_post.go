package office

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/money"
)

// moneyPost sets prices, a sponsor's budget, or the month the year begins in.
func (o *office) moneyPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	t := moneyTyped{year: line(form, "year")}
	facts, err := o.moneyFacts(r.Context(), t.year)
	if err != nil {
		return err
	}
	t.fill(facts, o.Today())
	done, bad, err := o.setMoney(r.Context(), form, &t)
	if err != nil {
		return err
	}
	if len(bad) > 0 {
		return o.showMoney(w, r, http.StatusUnprocessableEntity, newMoneyView(o.Lang, facts, t, bad))
	}
	next := url.Values{"year": {strconv.Itoa(int(facts.money.Year))}, "done": {done}}
	http.Redirect(w, r, "/office/money?"+next.Encode(), http.StatusSeeOther)
	return nil
}

// setMoney does what one of the page's forms asks for.
func (o *office) setMoney(ctx context.Context, form url.Values, t *moneyTyped) (done string, bad map[string]string, err error) {
	switch form.Get("do") {
	case "price":
		t.from, t.bag, t.postage, t.fee = line(form, "from"), line(form, "bag"), line(form, "postage"), line(form, "fee")
		p, bad := readPrices(o.Lang, *t)
		if len(bad) > 0 {
			return "", bad, nil
		}
		return "price", nil, o.SetPrices(ctx, p)
	case "budget":
		t.sponsor, t.amount, t.budgetYear = line(form, "sponsor"), line(form, "amount"), line(form, "budget-year")
		b, bad := readBudget(o.Lang, *t)
		if len(bad) > 0 {
			return "", bad, nil
		}
		err := o.SetBudget(ctx, b)
		if errors.Is(err, fault.ErrNotFound) {
			return "", map[string]string{"sponsor": o.Lang.Say("money.problem.nosuch")}, nil
		}
		if b.Amount == 0 {
			return "gone", nil, err
		}
		return "budget", nil, err
	case "month":
		t.month = line(form, "month")
		month, err := strconv.Atoi(t.month)
		if err != nil || month < 1 || month > 12 {
			return "", map[string]string{"month": o.Lang.Say("money.problem.month")}, nil
		}
		return "month", nil, o.Fiscal.SetCalendar(ctx, money.Calendar{First: time.Month(month)})
	}
	return "", nil, fault.ErrNotFound
}

func readPrices(l *catalog.Lang, t moneyTyped) (p money.Prices, bad map[string]string) {
	bad = map[string]string{}
	var err error
	if p.From, err = time.Parse(time.DateOnly, t.from); err != nil || p.From.Year() < 1950 || p.From.Year() > 2200 {
		bad["from"] = l.Say("money.problem.day")
	}
	for _, a := range []struct {
		name, typed string
		to          *money.Cents
	}{{"bag", t.bag, &p.Bag}, {"postage", t.postage, &p.Postage}, {"fee", t.fee, &p.Fee}} {
		if *a.to, err = money.Parse(a.typed); err != nil {
			bad[a.name] = l.Say("money.problem.amount")
		}
	}
	return p, bad
}

// maxSponsor is the longest name of a sponsor, in characters, as the schema has it.
const maxSponsor = 80

func readBudget(l *catalog.Lang, t moneyTyped) (b money.Budget, bad map[string]string) {
	bad = map[string]string{}
	var ok bool
	if b.Year, ok = readYear(t.budgetYear); !ok {
		bad["budget-year"] = l.Say("money.problem.year")
	}
	b.Sponsor = strings.Join(strings.Fields(t.sponsor), " ")
	if n := utf8.RuneCountInString(b.Sponsor); n == 0 || n > maxSponsor || strings.ContainsFunc(b.Sponsor, func(r rune) bool { return r < ' ' }) {
		bad["sponsor"] = l.Say("money.problem.sponsor", "most", maxSponsor)
	}
	var err error
	if b.Amount, err = money.Parse(t.amount); err != nil {
		bad["amount"] = l.Say("money.problem.amount")
	}
	return b, bad
}

// moneyFile is a fiscal year's account as a table.
func (o *office) moneyFile(w http.ResponseWriter, r *http.Request) error {
	facts, err := o.moneyFacts(r.Context(), line(r.URL.Query(), "year"))
	if err != nil {
		return err
	}
	var file bytes.Buffer
	if err := writeMoney(&file, facts); err != nil {
		return err
	}
	return sendFile(w, r, kindTable, "money-"+strconv.Itoa(int(facts.money.Year))+".csv", file.Bytes())
}

// writeMoney writes amounts as plain numbers, as RFC 4180 has it.
func writeMoney(to *bytes.Buffer, f moneyFacts) error {
	m, o := f.money, f.money.Outlook
	rows := [][]string{
		{"fiscal_year", "line", "bags", "amount", "low", "high"},
		{"", "spent_on_bags", strconv.Itoa(m.Spent.Issued), m.Spent.Bags.Dollars(), "", ""},
		{"", "spent_on_postage", strconv.Itoa(m.Spent.Arrived), m.Spent.Postage.Dollars(), "", ""},
		{"", "spent_on_fees", strconv.Itoa(m.Spent.Countings), m.Spent.Fees.Dollars(), "", ""},
		{"", "spent", "", o.Spent.Dollars(), "", ""},
		{"", "committed", "", o.Committed.Dollars(), "", ""},
		{"", "still_to_come", "", o.Still.Likely.Dollars(), o.Still.Low.Dollars(), o.Still.High.Dollars()},
		{"", "total", "", o.Total.Likely.Dollars(), o.Total.Low.Dollars(), o.Total.High.Dollars()},
		{"", "left", "", o.Left.Likely.Dollars(), o.Left.Low.Dollars(), o.Left.High.Dollars()},
	}
	for _, b := range m.Budgets {
		rows = append(rows, []string{"", "budget: " + b.Sponsor, "", b.Amount.Dollars(), "", ""})
	}
	for i := range rows[1:] {
		rows[i+1][0] = strconv.Itoa(int(m.Year))
	}
	return writeTable(to, rows)
}
