package office

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/tray"
	"sixmile/web/shell"
)

// Controls lists what watches over the lab.
type Controls interface {
	Controls(ctx context.Context, season int, kind tray.Kind) ([]desk.Control, error)
}

// Twins are bags counted a second time.
type Twins interface {
	Twins(ctx context.Context, season int) ([]desk.Twin, error)
	// Duplicate: fault.ErrNotFound when nothing was counted on the bag.
	Duplicate(ctx context.Context, code bag.Code, twin assay.Twin, c assay.Count, by account.ID, today time.Time) error
}

// qualityView is the page that watches over the lab.
type qualityView struct {
	Season  string
	Chart   *chartView // nil: nothing to draw, and NoChart says why
	NoChart string
	Blanks  []blankRow
	Twins   []twinRow
	// TwinHeads are of the table of bags counted twice.
	TwinHeads []shell.ColumnHead
	Outside   int
	Others    int // check samples by other recipes, which the chart leaves out
	Form      twinForm
	Saved     string
}

type blankRow struct {
	Tray, Path, Figure string
	Failed             bool
}

type twinRow struct {
	Code, Raw, Day, Kind, First, Second, Relative, Expected string
	Outside, Rough                                          bool

	first, second assay.Density
	of            assay.Difference
	day           time.Time
}

// twinForm keys a second count.
type twinForm struct {
	Code, Eggs, ML field
	Kinds          []choice
	Refused        []refusal
}

func newTwinForm(l *catalog.Lang, code, eggs, ml, kind string) twinForm {
	f := twinForm{Code: field{Name: "code", Value: code}, Eggs: field{Name: "eggs", Value: eggs}, ML: field{Name: "ml", Value: ml}}
	for _, k := range []assay.Twin{assay.SameSuspension, assay.SameBag} {
		f.Kinds = append(f.Kinds, choice{k.String(), l.SayOf("twin", k.String()), k.String() == kind})
	}
	return f
}

func (o *office) qualityShow(w http.ResponseWriter, r *http.Request) error {
	l, err := o.lab(r.Context())
	if err != nil {
		return err
	}
	return o.showQuality(w, r, http.StatusOK, qualityView{Form: newTwinForm(o.Lang, "", "", amount(l.methods[0].AliquotML), "")})
}

func (o *office) showQuality(w http.ResponseWriter, r *http.Request, status int, v qualityView) error {
	s, err := o.season(r)
	if err != nil {
		return err
	}
	plan, err := o.Trays.Plan(r.Context(), s.Year)
	if err != nil {
		return err
	}
	checks, err := o.Controls.Controls(r.Context(), s.Year, tray.Check)
	if err != nil {
		return err
	}
	blanks, err := o.Controls.Controls(r.Context(), s.Year, tray.Blank)
	if err != nil {
		return err
	}
	twins, err := o.Twins.Twins(r.Context(), s.Year)
	if err != nil {
		return err
	}
	v.Season = strconv.Itoa(s.Year)
	v.chart(o.Lang, plan, checks)
	for _, b := range blanks {
		no := strconv.Itoa(b.Tray)
		v.Blanks = append(v.Blanks, blankRow{o.Lang.Say("tray.one", "no", no), "/office/trays/" + no, eggs(o.Lang, float64(b.Density)), b.Failed()})
	}
	v.twins(o.Lang, twins)
	v.sort(o.Lang, readSorting(r, "sort", "twins"))
	v.Form.Refused = refusals(v.Form.Code, v.Form.Eggs, v.Form.ML)
	p := o.page(r, o.Lang.Say("quality.title"))
	p.Wide, p.Scripts = true, []string{"count.js"}
	return shell.Render(w, r, status, qualityPage(p, v))
}

// chart draws the check samples against their own first results, or, before
// there are enough of them, against the density their soil is known to have.
func (v *qualityView) chart(l *catalog.Lang, plan desk.TrayPlan, checks []desk.Control) {
	if len(checks) == 0 {
		v.NoChart = l.Say("quality.nochart.none")
		return
	}
	all := len(checks)
	checks = ofOneRecipe(checks)
	v.Others = all - len(checks)
	var series []assay.Density
	for _, c := range checks {
		series = append(series, c.Density)
	}
	provisional := len(series) < assay.MinBaseline
	var chart assay.Chart
	var err error
	switch {
	case !provisional:
		chart, err = assay.ChartOf(series[:assay.MinBaseline])
	case plan.Target > 0:
		chart, err = assay.ChartBefore(plan.Target, checks[0].Method)
	default:
		v.NoChart = l.Say("quality.nochart.target", "least", assay.MinBaseline)
		return
	}
	if err != nil {
		v.NoChart = l.Say("quality.nochart.alike")
		return
	}
	drawn := newChartView(l, chart, provisional, checks)
	v.Chart = &drawn
}

// ofOneRecipe are the check samples counted by the recipe and version of the
// newest: counts of two recipes are not one series, and a change of recipe would
// look like a lab gone astray.
func ofOneRecipe(checks []desk.Control) []desk.Control {
	newest := checks[len(checks)-1].Method
	var out []desk.Control
	for _, c := range checks {
		if c.Method.Name == newest.Name && c.Method.Version == newest.Version {
			out = append(out, c)
		}
	}
	return out
}

func (v *qualityView) twins(l *catalog.Lang, twins []desk.Twin) {
	for _, t := range twins {
		d, err := assay.Compare(t.First, t.Second, t.Method, t.Kind)
		a, err1 := t.First.Density(t.Method)
		b, err2 := t.Second.Density(t.Method)
		if err != nil || err1 != nil || err2 != nil {
			continue // not reached: they were checked before they were stored
		}
		v.Twins = append(v.Twins, twinRow{
			Code: t.Code.String(), Raw: string(t.Code), Day: l.Date(t.Day), Kind: l.SayOf("twin", t.Kind.String()),
			First: eggs(l, float64(a.Density)), Second: eggs(l, float64(b.Density)),
			Relative: percent(d.Relative), Expected: percent(d.Expected), Outside: d.Outside, Rough: d.Rough,
			first: a.Density, second: b.Density, of: d, day: t.Day,
		})
		if d.Outside && !d.Rough {
			v.Outside++
		}
	}
}

// sort sorts the table of bags counted twice.
func (v *qualityView) sort(l *catalog.Lang, s sorting) {
	number := func(by shell.Column, label string, of func(twinRow) float64) sortColumn[twinRow] {
		return byMost(by, label, func(r twinRow) (float64, bool) { return of(r), true })
	}
	v.TwinHeads = arrange(&s, v.Twins,
		byWords("code", l.Say("signoff.col.code"), func(r twinRow) string { return r.Code }),
		inOrder[twinRow](l.Say("bag.col.day"), false, false),
		byWords("kind", l.Say("quality.col.kind"), func(r twinRow) string { return r.Kind }),
		number("first", l.Say("quality.col.first"), func(r twinRow) float64 { return float64(r.first) }),
		number("second", l.Say("quality.col.second"), func(r twinRow) float64 { return float64(r.second) }),
		number("relative", l.Say("quality.col.relative"), func(r twinRow) float64 { return r.of.Relative }),
		number("expected", l.Say("quality.col.expected"), func(r twinRow) float64 { return r.of.Expected }),
		notSorted[twinRow](l.Say("quality.col.flags"), false))
}

// qualityPost stores a second count. Its soil and water are those of the count
// that stands.
func (o *office) qualityPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	v := qualityView{Form: newTwinForm(o.Lang, line(form, "code"), line(form, "eggs"), line(form, "ml"), line(form, "kind"))}
	f := &v.Form
	code, err := bag.Parse(scanned(f.Code.Value))
	if err != nil {
		f.Code.Problem = codeProblem(o.Lang, err)
	}
	n, err := assay.ParseEggs(f.Eggs.Value)
	if err != nil {
		f.Eggs.Problem = o.Lang.Say("tray.problem.eggs")
	}
	ml, err := assay.ParseNumber(f.ML.Value)
	if err != nil || ml <= 0 {
		f.ML.Problem = o.Lang.Say("count.problem.missing.ml")
	}
	if len(refusals(f.Code, f.Eggs, f.ML)) > 0 {
		return o.showQuality(w, r, http.StatusUnprocessableEntity, v)
	}
	b, err := o.Lab.Find(r.Context(), code)
	if errors.Is(err, fault.ErrNotFound) || err == nil && b.Reading.Basis != assay.Counted {
		f.Code.Problem = o.Lang.Say("quality.problem.uncounted", "code", code.String())
		return o.showQuality(w, r, http.StatusUnprocessableEntity, v)
	}
	if err != nil {
		return err
	}
	c := b.Count
	c.Aliquots = []assay.Aliquot{{ML: ml, Eggs: n}}
	if err := c.Check(); err != nil {
		f.Eggs.Problem = o.Lang.Say("quality.problem.amount")
		return o.showQuality(w, r, http.StatusUnprocessableEntity, v)
	}
	kind := assay.SameSuspension
	if line(form, "kind") == assay.SameBag.String() {
		kind = assay.SameBag
	}
	if err := o.Twins.Duplicate(r.Context(), code, kind, c, shell.Staff(r).ID, o.Today()); err != nil {
		return err
	}
	v = qualityView{Saved: o.Lang.Say("quality.saved", "code", code.String()), Form: newTwinForm(o.Lang, "", "", f.ML.Value, kind.String())}
	return o.showQuality(w, r, http.StatusOK, v)
}
