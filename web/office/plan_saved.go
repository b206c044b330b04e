package office

import (
	"bytes"
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/plan"
	"sixmile/web/shell"
)

// savedView is a plan that was kept, on its way to being issued.
type savedView struct {
	Done   string
	Title  string
	About  string
	Lead   string
	Result *planResult
	File   string
	Back   string // address of the look-back
}

// savedPlan reads the plan of an address, with the newest figures.
func (o *office) savedPlan(r *http.Request) (plan.Saved, *gazette.Index, error) {
	no, err := strconv.Atoi(chi.URLParam(r, "no"))
	if err != nil || no < 1 || no > 1<<30 {
		return plan.Saved{}, nil, fault.ErrNotFound
	}
	p, err := o.Plans.Get(r.Context(), no)
	if err != nil {
		return plan.Saved{}, nil, err
	}
	x, err := o.almanac.newest(r.Context(), o.Figures)
	return p, x, err
}

func (o *office) planSaved(w http.ResponseWriter, r *http.Request) error {
	p, x, err := o.savedPlan(r)
	if err != nil {
		return err
	}
	before, err := o.Handed.Issued(r.Context(), p.Season-1)
	if err != nil {
		return err
	}
	issued, err := o.Handed.Issued(r.Context(), p.Season)
	if err != nil {
		return err
	}
	seasons, err := o.Program.Seasons(r.Context())
	if err != nil {
		return err
	}
	open := false
	for _, s := range seasons {
		open = open || s.Year == p.Season
	}
	v := newSavedView(o.Lang, x, p, before, issued, open)
	if r.URL.Query().Get("done") == "saved" {
		v.Done = o.Lang.Say("plan.saved")
	}
	v.Result.sort(o.Lang, readSorting(r, "sort", "lots-planned"))
	page := o.page(r, v.Title)
	page.Wide = true
	return shell.Render(w, r, http.StatusOK, savedPage(page, v))
}

// newSavedView is the page; open tells that the plan's fall is there to issue
// bags for.
func newSavedView(l *catalog.Lang, x *gazette.Index, p plan.Saved, before, issued map[place.ID]int, open bool) savedView {
	v := savedView{
		Title: l.Say("plan.one", "year", strconv.Itoa(p.Season)), File: planPath(p.No) + "/plan.csv",
		Back:   "/office/lookback?plan=" + strconv.Itoa(p.No),
		Result: newPlanResult(l, x, p.Season, p.Plan, p.Given, before),
	}
	reach := l.Say("plan.reach.come")
	if p.Ask.Reach == plan.AsSuggested {
		reach = l.Say("plan.reach.asked")
	}
	v.About = l.Say("plan.about", "day", l.Date(p.Day), "number", strconv.Itoa(p.Edition), "least", l.Number(p.Ask.Least),
		"back", percent(p.Ask.Return), "reach", reach)
	for i, lot := range p.Lots {
		row := &v.Result.Rows[i]
		row.Issued, row.issued = l.Number(issued[lot.County]), issued[lot.County]
		if rest := lot.Bags - issued[lot.County]; rest > 0 && open {
			row.Issue, row.IssueBag = issuePath(lot.County, p.Season, rest), l.Number(rest)
		}
	}
	total := 0
	for _, n := range issued {
		total += n
	}
	v.Result.Total.Issued = l.Number(total)
	v.Result.addTowns(l, x, p.Plan, p.Given, nil)
	for i := range v.Result.Counties {
		c := &v.Result.Counties[i]
		c.Map = planPath(p.No) + "/map/" + c.Slug
	}
	return v
}

// planFile is a saved plan as a table: counties, then townships.
func (o *office) planFile(w http.ResponseWriter, r *http.Request) error {
	p, x, err := o.savedPlan(r)
	if err != nil {
		return err
	}
	var file bytes.Buffer
	if err := writePlan(&file, x, p); err != nil {
		return err
	}
	return sendFile(w, r, kindTable, "plan-"+strconv.Itoa(p.Season)+"-"+strconv.Itoa(p.No)+".csv", file.Bytes())
}

func writePlan(to *bytes.Buffer, x *gazette.Index, p plan.Saved) error {
	acres := plan.ByAcres(p.Given, p.Ask.Bags, p.Ask.Least)
	county := countyNames(x)
	town := map[place.ID]string{}
	for _, c := range x.Issue.Counties {
		for _, t := range c.Townships {
			town[t.ID] = t.Label()
		}
	}
	rows := [][]string{{"fall", "county", "township", "host_acres", "bags", "bags_by_acres", "chance_of_finds_next_bag", "expected_first_finds"}}
	fall := strconv.Itoa(p.Season)
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }
	for _, l := range p.Lots {
		rows = append(rows, []string{fall, county[l.County], "", strconv.Itoa(l.Acres), strconv.Itoa(l.Bags),
			strconv.Itoa(acres[l.County]), "", number(l.Gains[plan.Finds])})
	}
	for i, g := range p.Given {
		chance := ""
		if !g.Found {
			chance = number(g.Find)
		}
		rows = append(rows, []string{fall, county[g.County], town[g.ID], strconv.Itoa(g.Acres), strconv.Itoa(p.Places[i].Bags), "", chance, ""})
	}
	return writeTable(to, rows)
}
