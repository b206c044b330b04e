package office

import (
	"net/url"
	"strconv"

	"sixmile/internal/catalog"
	"sixmile/internal/edge"
	"sixmile/internal/gazette"
	"sixmile/internal/outlook"
	"sixmile/internal/place"
	"sixmile/internal/plan"
	"sixmile/web/shell"
)

// planView is the page where the next season's bags are planned.
type planView struct {
	None     bool // nothing was released yet
	Thin     bool // too little for a surface of chances
	From     string
	Refused  []refusal
	Season   field
	Seasons  []choice
	Bags     field
	Least    field
	Back     field
	BackHint string
	Weights  []planWeight
	Reach    field

	Acres     []planAcres
	AcresOpen bool
	Result    *planResult
	Saved     []planSaved
}

type planWeight struct {
	field
	Name, Hint string
}

type planAcres struct {
	field
	Name string
}

// planSaved is a plan that was kept.
type planSaved struct{ Path, Season, Day, Bags, Expected string }

// planResult is a plan in words.
type planResult struct {
	Season, Before string // falls
	Rows           []planRow
	Heads          []shell.ColumnHead // of the table of counties
	Total          planRow
	Aims           []aimRow
	Lead           string // what it finds against acres and last fall, in a sentence
	Counties       []planCounty
	HasBefore      bool
	Fresh          bool // just worked out: it knows what the last bags buy
}

// planRow is a county's line.
type planRow struct {
	County, Acres           string
	Bags, ByAcres, Before   string
	Expected                string // first finds
	LastFind, LastWorth     string // of the last bag: chance of a first find; worth, an average bag being 1
	Issued, Issue, IssueBag string // of a saved plan: bags issued so far; address that issues the rest; how many

	lot                     plan.Lot
	byAcres, before, issued int
}

// aimRow compares three ways of handing out on one aim, as shares of the best
// that can be had of it.
type aimRow struct{ Name, Plan, ByAcres, Before string }

// planCounty is what a county's educator gets: townships to ask first.
type planCounty struct {
	Name, Bags string
	Slug       string // of the county, in addresses
	Map        string // address of the map; "" before the plan is saved
	Towns      []planTown
}

type planTown struct{ Name, Bags, Chance, Standing string }

// addResult puts a plan that was just worked out on the page.
func (v *planView) addResult(l *catalog.Lang, x *gazette.Index, season int, p plan.Plan, ahead outlook.Outlook, before map[place.ID]int) {
	v.Result = newPlanResult(l, x, season, p, ahead.Places, before)
	v.Result.Fresh = true
	v.Result.sort(l, sorting{})
	v.Result.addTowns(l, x, p, ahead.Places, ahead.Stands)
}

// newPlanResult compares a plan with acres and with what was issued the fall
// before.
func newPlanResult(l *catalog.Lang, x *gazette.Index, season int, p plan.Plan, given []plan.Place, before map[place.ID]int) *planResult {
	r := &planResult{Season: strconv.Itoa(season), Before: strconv.Itoa(season - 1)}
	acres := plan.ByAcres(given, p.Ask.Bags, p.Ask.Least)
	scaled := scaledTo(before, p.Ask.Bags)
	r.HasBefore = len(scaled) > 0
	name := countyNames(x)
	sum, beforeSum := 0, 0
	for _, lot := range p.Lots {
		row := planRow{
			County: name[lot.County], Acres: l.Number(lot.Acres), Bags: l.Number(lot.Bags), ByAcres: l.Number(acres[lot.County]),
			Before: l.Number(before[lot.County]), Expected: oneDecimal(lot.Gains[plan.Finds]),
			lot: lot, byAcres: acres[lot.County], before: before[lot.County],
		}
		if lot.Bags > 0 && p.Value > 0 {
			row.LastFind = oneDecimal(100*lot.Last[plan.Finds]) + "%"
			row.LastWorth = twoDecimals(p.Weighed(lot.Last) * float64(p.Ask.Bags) / p.Value)
		}
		r.Rows = append(r.Rows, row)
		sum += lot.Acres
		beforeSum += before[lot.County]
	}
	byAcres, _ := p.Worth(given, acres)
	byBefore, _ := p.Worth(given, scaled)
	r.Total = planRow{Acres: l.Number(sum), Bags: l.Number(p.Ask.Bags), ByAcres: l.Number(p.Ask.Bags), Before: l.Number(beforeSum),
		Expected: oneDecimal(p.Total[plan.Finds])}
	for _, a := range plan.Aims() {
		row := aimRow{Name: l.SayOf("plan.aim", a.String()), Plan: shareOf(p.Total[a], p.Best[a]), ByAcres: shareOf(byAcres[a], p.Best[a])}
		if r.HasBefore {
			row.Before = shareOf(byBefore[a], p.Best[a])
		}
		r.Aims = append(r.Aims, row)
	}
	r.Lead = l.Say("plan.lead", "plan", oneDecimal(p.Total[plan.Finds]), "acres", oneDecimal(byAcres[plan.Finds]))
	return r
}

// sort sorts the table of counties. One that was just worked out is the answer to
// a form, which a link cannot ask for again: its heads lead nowhere.
func (r *planResult) sort(l *catalog.Lang, s sorting) {
	columns := []sortColumn[planRow]{
		byWords("", l.Say("lots.col.county"), func(r planRow) string { return r.County }),
		byNumber("bags", l.Say("plan.col.bags"), func(r planRow) int { return r.lot.Bags }),
		byNumber("byacres", l.Say("plan.col.byacres"), func(r planRow) int { return r.byAcres }),
		byNumber("before", l.Say("plan.col.before", "year", r.Before), func(r planRow) int { return r.before }),
		byNumber("acres", l.Say("plan.col.acres"), func(r planRow) int { return r.lot.Acres }),
		byMost("expected", l.Say("plan.col.expected"), func(r planRow) (float64, bool) { return r.lot.Gains[plan.Finds], true }),
	}
	if r.Fresh {
		columns = append(columns, notSorted[planRow](l.Say("plan.col.lastfind"), true), notSorted[planRow](l.Say("plan.col.lastworth"), true))
		for i := range columns {
			columns[i].fixed = true
		}
	} else {
		columns = append(columns, byNumber("issued", l.Say("plan.col.issued"), func(r planRow) int { return r.issued }),
			notSorted[planRow](l.Say("plan.col.issue"), false))
	}
	r.Heads = arrange(&s, r.Rows, columns...)
}

// shareOf is a gain as a share of the best there is; empty where there is none
// to be had.
func shareOf(gain, best float64) string {
	if best <= 0 {
		return ""
	}
	return percent(gain / best)
}

func twoDecimals(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

// scaledTo is the same shares of another number of bags, by largest remainders
// of what whole bags leave.
func scaledTo(bags map[place.ID]int, total int) map[place.ID]int {
	var places []plan.Place
	for c, n := range bags {
		places = append(places, plan.Place{ID: c, County: c, Acres: n})
	}
	if len(places) == 0 {
		return nil
	}
	return plan.ByAcres(places, total, 0)
}

func countyNames(x *gazette.Index) map[place.ID]string {
	out := map[place.ID]string{}
	for _, c := range x.Issue.Counties {
		out[c.ID] = c.Label()
	}
	return out
}

// addTowns adds the suggestion for each county's educator. Stands may be nil:
// a saved plan does not keep them.
func (r *planResult) addTowns(l *catalog.Lang, x *gazette.Index, p plan.Plan, given []plan.Place, stands []edge.Stand) {
	at := map[place.ID]int{}
	for i, g := range given {
		at[g.ID] = i
	}
	bags := map[place.ID]int{}
	for _, lot := range p.Lots {
		bags[lot.County] = lot.Bags
	}
	for _, c := range x.Issue.Counties {
		county := planCounty{Name: c.Label(), Slug: c.Slug, Bags: l.Count("plan.towns.bags", bags[c.ID])}
		for _, t := range c.Townships {
			i, ok := at[t.ID]
			if !ok || p.Places[i].Bags == 0 {
				continue
			}
			town := planTown{Name: t.Label(), Bags: l.Number(p.Places[i].Bags)}
			if !given[i].Found {
				town.Chance = percent(given[i].Find)
			}
			if stands != nil {
				town.Standing = l.SayOf("plan.stand", stands[i].Standing.String())
			} else if given[i].Found {
				town.Standing = l.Say("plan.stand.found")
			}
			county.Towns = append(county.Towns, town)
		}
		if len(county.Towns) > 0 {
			r.Counties = append(r.Counties, county)
		}
	}
}

// issuePath is the form that issues a lot, filled in.
func issuePath(county place.ID, season, bags int) string {
	q := url.Values{"county": {strconv.Itoa(int(county))}, "season": {strconv.Itoa(season)}, "bags": {strconv.Itoa(bags)}}
	return "/office/lots?" + q.Encode() + "#issue"
}
