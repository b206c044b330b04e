package office

import (
	"strconv"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/money"
)

// moneyView is the page of a fiscal year's money.
type moneyView struct {
	Saved   string
	Refused []refusal
	Year    string
	Years   []choice
	Span    string // its days, in a sentence
	Current bool   // today is in it

	Warnings []string
	Lines    []moneyLine
	Over     bool // the budget may not reach
	Rate     string
	RateHow  string
	Affords  string

	More     field
	MoreCost string

	Sponsors   []sponsorRow
	SponsorSum string
	Sponsor    field
	Amount     field
	BudgetYear field

	Prices  []priceRow
	From    field
	Bag     field
	Postage field
	Fee     field

	Month  field
	Months []choice
	File   string
}

// moneyLine is a line of the account. Low and High are empty where an amount is
// sure.
type moneyLine struct {
	Name, Note, Amount, Low, High string
	Sum                           bool
}

type sponsorRow struct{ Name, Amount, Share string }

type priceRow struct {
	From, Bag, Postage, Fee, Round string
	Now                            bool
}

// newMoneyView is what the page says, with the forms as they were typed and what
// is wrong with them.
func newMoneyView(l *catalog.Lang, f moneyFacts, t moneyTyped, bad map[string]string) moneyView {
	m := f.money
	v := moneyView{
		Year: strconv.Itoa(int(m.Year)), Current: m.Season != 0,
		Span:    l.Say("money.span", "first", l.Date(m.First), "last", l.Date(m.Last)),
		More:    field{"more", t.more, bad["more"]},
		Sponsor: field{"sponsor", t.sponsor, bad["sponsor"]}, Amount: field{"amount", t.amount, bad["amount"]},
		BudgetYear: field{"budget-year", t.budgetYear, bad["budget-year"]},
		From:       field{"from", t.from, bad["from"]}, Bag: field{"bag", t.bag, bad["bag"]},
		Postage: field{"postage", t.postage, bad["postage"]}, Fee: field{"fee", t.fee, bad["fee"]},
		Month: field{"month", t.month, bad["month"]},
		File:  "/office/money.csv?year=" + strconv.Itoa(int(m.Year)),
	}
	v.Refused = naming(refusals(v.BudgetYear, v.Sponsor, v.Amount, v.From, v.Bag, v.Postage, v.Fee, v.Month),
		map[string]string{"bag": l.Say("money.bag"), "postage": l.Say("money.postage"), "fee": l.Say("money.fee")})
	v.Lines = moneyLines(l, f)
	v.Over = m.Outlook.Left.Low < 0
	v.addRate(l, f)
	v.addMore(l, f, t.more)
	v.addTables(l, f)
	for month := time.January; month <= time.December; month++ {
		n := strconv.Itoa(int(month))
		name := l.MonthYear(time.Date(2001, month, 1, 0, 0, 0, 0, time.UTC))
		v.Months = append(v.Months, choice{n, name[:len(name)-len(" 2001")], n == t.month})
	}
	if !m.Priced {
		v.Warnings = append(v.Warnings, l.Say("money.warn.prices"))
	} else if m.Spent.Unpriced > 0 {
		v.Warnings = append(v.Warnings, l.Count("money.warn.unpriced", m.Spent.Unpriced))
	}
	if m.Outlook.Budget == 0 {
		v.Warnings = append(v.Warnings, l.Say("money.warn.budget"))
	}
	return v
}

// moneyLines are the account: what there is, what is gone, what will go.
func moneyLines(l *catalog.Lang, f moneyFacts) []moneyLine {
	m, o := f.money, f.money.Outlook
	lines := []moneyLine{
		{Name: l.Say("money.line.budget"), Amount: o.Budget.String(), Sum: true},
		{Name: l.Say("money.line.bags"), Note: l.Count("money.note.issued", m.Spent.Issued), Amount: m.Spent.Bags.String()},
		{Name: l.Say("money.line.postage"), Note: l.Count("money.note.arrived", m.Spent.Arrived), Amount: m.Spent.Postage.String()},
		{Name: l.Say("money.line.fees"), Note: l.Count("money.note.counted", m.Spent.Countings), Amount: m.Spent.Fees.String()},
		{Name: l.Say("money.line.spent"), Amount: o.Spent.String(), Sum: true},
	}
	if m.Season != 0 {
		lines = append(lines,
			moneyLine{Name: l.Say("money.line.committed"), Note: l.Say("money.note.committed",
				"wait", l.Count("money.note.wait", max(m.Bags.Arrived-m.Bags.Counted, 0)), "mail", l.Count("money.note.mail", m.Bags.Mailed)),
				Amount: o.Committed.String()},
			rangeLine(l.Say("money.line.still"), l.Say("money.note.still", "year", strconv.Itoa(m.Season)), o.Still, false),
			rangeLine(l.Say("money.line.total"), "", o.Total, true))
	}
	return append(lines, rangeLine(l.Say("money.line.left"), "", o.Left, true))
}

func rangeLine(name, note string, r money.Range, sum bool) moneyLine {
	line := moneyLine{Name: name, Note: note, Amount: r.Likely.String(), Sum: sum}
	if r.Low != r.High {
		line.Low, line.High = r.Low.String(), r.High.String()
	}
	return line
}

// addRate says how many of the season's bags will have come back, and how that
// is known.
func (v *moneyView) addRate(l *catalog.Lang, f moneyFacts) {
	m := f.money
	if m.Season == 0 || m.Bags.Issued == 0 {
		return
	}
	v.Rate = l.Count("money.rate.sofar", m.Bags.Arrived, "issued", m.Bags.Issued, "year", strconv.Itoa(m.Season),
		"share", percent(float64(m.Bags.Arrived)/float64(m.Bags.Issued)))
	switch {
	case !m.Rate.Known:
		v.RateHow = l.Say("money.rate.unknown", "low", percent(m.Rate.Low))
	case m.Bags.Share == 1:
		v.RateHow = l.Say("money.rate.over", "low", percent(m.Rate.Low), "high", percent(m.Rate.High))
	default:
		v.RateHow = l.Say("money.rate.open", "part", percent(m.Bags.Share), "likely", percent(m.Rate.Likely),
			"low", percent(m.Rate.Low), "high", percent(m.Rate.High))
	}
	if bags := money.Affords(m.Outlook.Left.Low, m.Rate, m.Prices); bags > 0 {
		v.Affords = l.Count("money.affords", bags)
	} else if m.Outlook.Budget > 0 {
		v.Affords = l.Say("money.affords.none")
	}
}

// maxMore is the most bags the page reckons with.
const maxMore = 90_000

// addMore prices the number of bags that was asked about.
func (v *moneyView) addMore(l *catalog.Lang, f moneyFacts, typed string) {
	if typed == "" || !v.Current {
		return
	}
	n, err := assay.ParseEggs(typed) // a whole number, typed the same way
	if err != nil || n < 1 || n > maxMore {
		v.More.Problem = l.Say("money.problem.more", "most", maxMore)
		v.Refused = append(v.Refused, refusal{v.More.Name, v.More.Problem})
		return
	}
	cost := money.More(n, f.money.Rate, f.money.Prices)
	v.MoreCost = l.Count("money.more.cost", n, "likely", cost.Likely.String(), "low", cost.Low.String(), "high", cost.High.String())
}

func (v *moneyView) addTables(l *catalog.Lang, f moneyFacts) {
	m := f.money
	for _, b := range m.Budgets {
		v.Sponsors = append(v.Sponsors, sponsorRow{b.Sponsor, b.Amount.String(), percent(float64(b.Amount) / float64(m.Outlook.Budget))})
	}
	v.SponsorSum = m.Outlook.Budget.String()
	for _, p := range f.prices {
		v.Prices = append(v.Prices, priceRow{l.Date(p.From), p.Bag.String(), p.Postage.String(), p.Fee.String(), p.Round().String(),
			m.Priced && p.From.Equal(m.Prices.From)})
	}
	years := map[money.Year]bool{m.Year: true, m.Year - 1: true, m.Year + 1: true, f.calendar.Year(m.Day): true}
	for _, b := range f.budgets {
		years[b.Year] = true
	}
	for y := money.Year(2200); y >= 1950; y-- {
		if years[y] {
			text := strconv.Itoa(int(y))
			v.Years = append(v.Years, choice{text, text, y == m.Year})
		}
	}
}

func moneySaved(l *catalog.Lang, done string) string {
	switch done {
	case "price", "budget", "gone", "month":
		return l.SayOf("money.done", done)
	}
	return ""
}
