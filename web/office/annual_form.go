package office

import (
	"context"
	"crypto/rand"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/annual"
	"sixmile/internal/annual/tally"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/money"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// annualRoutes are the pages of the annual summary.
func (o *office) annualRoutes() []shell.Route {
	const get, post = http.MethodGet, http.MethodPost
	return []shell.Route{
		{Method: get, Path: "/office/annual", May: account.MakeAnnual, Handler: o.annualForm},
		{Method: post, Path: "/office/annual", May: account.MakeAnnual, Handler: o.annualPost},
		{Method: get, Path: "/office/annual/{token}", May: account.MakeAnnual, Handler: o.annualShow},
		{Method: get, Path: "/office/annual/{token}/file", May: account.MakeAnnual, Handler: o.annualFile},
	}
}

// annualView is the page that asks for a copy.
type annualView struct {
	Refused  []refusal
	None     bool   // there is no edition yet
	Edition  string // that it will be made from
	Copies   []annualCopy
	Years    []choice
	Year     field
	Copy     field
	Fee      field
	Invoices field
	Found    *found // a copy that was left
}

// annualCopy is one of the three, with what is in it.
type annualCopy struct {
	choice
	What string
}

// annualTyped is the form as it was typed.
type annualTyped struct{ copy, year, fee, invoices string }

func (o *office) annualForm(w http.ResponseWriter, r *http.Request) error {
	fee, err := o.feeOf(r.Context(), o.Today())
	if err != nil {
		return err
	}
	t := annualTyped{copy: string(annual.PublicName)}
	if fee > 0 {
		t.fee = fee.Dollars()
	}
	return o.showAnnual(w, r, http.StatusOK, t, nil)
}

// feeOf is the lab's fee for a bag on a day; 0 where no prices are set.
func (o *office) feeOf(ctx context.Context, day time.Time) (money.Cents, error) {
	list, err := o.PriceBook.Prices(ctx)
	if err != nil {
		return 0, err
	}
	p, _ := money.At(list, day)
	return p.Fee, nil
}

func (o *office) showAnnual(w http.ResponseWriter, r *http.Request, status int, t annualTyped, bad map[string]string) error {
	v := annualView{Found: o.foundSummary(r), Copy: field{"copy", t.copy, bad["copy"]}, Year: field{"year", t.year, bad["year"]},
		Fee: field{"fee", t.fee, bad["fee"]}, Invoices: field{"invoices", t.invoices, bad["invoices"]}}
	no, err := o.Issues.Latest(r.Context())
	if err != nil {
		return err
	}
	v.None = no == 0
	if !v.None {
		issue, err := o.Issues.Issue(r.Context(), no)
		if err != nil {
			return err
		}
		v.Edition = o.Lang.Say("annual.page.edition", "code", issue.Edition.Code, "date", o.Lang.Date(issue.Edition.Released))
		if t.year == "" {
			t.year = seasonKey(issue.Edition.Season)
		}
	}
	for _, n := range annual.Names {
		v.Copies = append(v.Copies, annualCopy{choice{string(n), o.Lang.SayOf("annual.copy", string(n)), string(n) == t.copy}, o.Lang.SayOf("annual.what", string(n))})
	}
	if v.Years, err = o.annualYears(r.Context(), t.year); err != nil {
		return err
	}
	if v.Refused = refusals(v.Copy, v.Year, v.Fee, v.Invoices); v.None {
		v.Refused = astray(v.Refused)
	}
	return shell.Render(w, r, status, annualPage(o.page(r, o.Lang.Say("annual.page.title")), v))
}

func seasonKey(year int) string { return "season-" + strconv.Itoa(year) }

// annualYears are the seasons, newest first, and the fiscal years they touch.
func (o *office) annualYears(ctx context.Context, chosen string) (out []choice, err error) {
	seasons, err := o.Program.Seasons(ctx)
	if err != nil {
		return nil, err
	}
	calendar, err := o.Fiscal.Calendar(ctx)
	if err != nil {
		return nil, err
	}
	fiscal := make(map[money.Year]bool)
	var years []choice
	seasons = slices.SortedFunc(slices.Values(seasons), func(a, b sample.Season) int { return b.Year - a.Year })
	for _, s := range seasons {
		key := seasonKey(s.Year)
		out = append(out, choice{key, o.Lang.Say("annual.year.season", "year", strconv.Itoa(s.Year)), key == chosen})
		for _, y := range []money.Year{calendar.Year(s.Closes), calendar.Year(s.Opens)} {
			if key := "fiscal-" + strconv.Itoa(int(y)); !fiscal[y] {
				fiscal[y] = true
				from, to := calendar.Days(y)
				years = append(years, choice{key, o.Lang.Say("annual.year.fiscal", "year", strconv.Itoa(int(y)), "from", o.Lang.Date(from), "to", o.Lang.Date(to)), key == chosen})
			}
		}
	}
	return append(out, years...), nil
}

// annualPost begins to make a copy.
func (o *office) annualPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	t := readAnnual(form)
	bill, bad := t.bill(o.Lang)
	name := annual.Name(t.copy)
	if !o.Lang.Has("annual.copy." + t.copy) {
		bad["copy"] = o.Lang.Say("annual.problem.copy")
	}
	if name != annual.OfficeName && len(bill.Invoices) > 0 && bad["invoices"] == "" {
		bad["invoices"] = o.Lang.Say("annual.problem.notoffice")
	}
	period, err := o.periodOf(r.Context(), t.year)
	if errors.Is(err, fault.ErrNotFound) {
		bad["year"] = o.Lang.Say("annual.problem.year")
	} else if err != nil {
		return err
	}
	if len(bad) > 0 {
		return o.showAnnual(w, r, http.StatusUnprocessableEntity, t, bad)
	}
	no, err := o.Issues.Latest(r.Context())
	if err != nil {
		return err
	}
	if no == 0 {
		return fault.ErrConflict
	}
	issue, err := o.Issues.Issue(r.Context(), no)
	if err != nil {
		return err
	}
	x, err := gazette.NewIndex(issue)
	if err != nil {
		return err
	}
	token, err := sample.NewToken(rand.Reader)
	if err != nil {
		return err
	}
	s := o.summaries.put(token, shell.Staff(r).ID, summaryState{name: name, period: period, bill: bill, of: 1})
	o.makeSummary(r.Context(), s, x)
	http.Redirect(w, r, "/office/annual/"+token.String(), http.StatusSeeOther)
	return nil
}

// maxInvoices bounds what is typed: a line each.
const maxInvoices = 40

func readAnnual(v url.Values) annualTyped {
	text := strings.ToValidUTF8(v.Get("invoices"), "\uFFFD")
	if r := []rune(text); len(r) > maxInvoices*maxTyped {
		text = string(r[:maxInvoices*maxTyped])
	}
	return annualTyped{line(v, "copy"), line(v, "year"), line(v, "fee"), text}
}

// bill reads the fee and the invoices, and what is wrong with them.
func (t annualTyped) bill(l *catalog.Lang) (b tally.Bill, bad map[string]string) {
	bad = make(map[string]string)
	var err error
	if t.fee != "" {
		if b.Fee, err = money.Parse(t.fee); err != nil {
			bad["fee"] = l.Say("money.problem.amount")
		}
	}
	n := 0
	for text := range strings.Lines(t.invoices) {
		n++
		if text = strings.TrimSpace(text); text == "" {
			continue
		}
		i, err := tally.ParseInvoice(text)
		switch {
		case err != nil:
			bad["invoices"] = l.Say("annual.problem.invoice", "line", n)
		case len(b.Invoices) == maxInvoices:
			bad["invoices"] = l.Say("annual.problem.many", "most", maxInvoices)
		}
		if bad["invoices"] != "" {
			break
		}
		b.Invoices = append(b.Invoices, i)
	}
	if len(b.Invoices) > 0 && b.Fee == 0 && bad["fee"] == "" {
		bad["fee"] = l.Say("annual.problem.fee")
	}
	return b, bad
}

// periodOf reads a year as the form names it. fault.ErrNotFound: there is none.
func (o *office) periodOf(ctx context.Context, key string) (annual.Period, error) {
	kind, number, _ := strings.Cut(key, "-")
	year, err := strconv.Atoi(number)
	if err != nil || year < 1950 || year > 2200 {
		return annual.Period{}, fault.ErrNotFound
	}
	switch kind {
	case "season":
		return o.Years.Season(ctx, year)
	case "fiscal":
		calendar, err := o.Fiscal.Calendar(ctx)
		return annual.FiscalYear(calendar, money.Year(year)), err
	}
	return annual.Period{}, fault.ErrNotFound
}
