package open

import (
	"slices"
	"strconv"

	"sixmile/internal/desk"
	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

// countyPage is everything the page of a county prints, in the order in which an
// educator asks for it.
type countyPage struct {
	shell.Page
	Head         string
	Name, Slug   string
	EditionLine  string
	Wide, Narrow string // the map, drawn twice

	Short []string // where eggs were found
	Blank string   // instead of Short, where there are no figures
	Fall  []string

	Levels           []levelRow
	LevelCaption     string
	Highest, Typical string

	Part, PartRule string
	First          []string
	Recalled       string
	Heads          []shell.ColumnHead // of the table of places
	Rows           []placeRow
	Total          placeRow

	Near   []nearRow // this county, its neighbors, the rest of the state
	NearOf string    // the fall of the column "this fall"

	Years  []string
	Share  string
	Rounds []roundRow
	Trend  string
	Method string // of counts by more than one method, or by one not known

	Trust  []string
	Winter []adviceRow
	Bags   []string

	Points []point
	How    []string
}

// countyView is a county with what its page compares it with.
type countyView struct {
	*gazette.CountyView
	rest     gazette.Elsewhere
	since    gazette.Since
	hasSince bool
	rounds   []gazette.Round
	trend    gazette.Trend
	hasTrend bool
	office   *desk.Office // nil: none is listed
	over     bool         // its last day has passed
}

// view works out what a county's page needs beside the county itself.
func (t teller) view(v *gazette.CountyView, office *desk.Office, over bool) (c countyView, err error) {
	c = countyView{CountyView: v, office: office, over: over}
	if c.rest, err = t.x.Elsewhere(v); err != nil {
		return c, err
	}
	if c.since, c.hasSince, err = t.x.Since(v); err != nil {
		return c, err
	}
	if c.rounds, err = t.x.Rounds(v); err != nil {
		return c, err
	}
	c.trend, c.hasTrend, err = t.x.Trend(c.rounds)
	return c, err
}

// sorted is the page with its table of places sorted by a column.
func (p countyPage) sorted(by shell.Column) countyPage {
	p.Rows = slices.Clone(p.Rows)
	sortRows(p.Rows, by, placeRow.by)
	leading(p.Heads, p.Address, countyColumns, by)
	p.Address = shell.SortedAddress(p.Address, by)
	return p
}

// countyPage puts the page's words together; the maps are added by the caller.
func (t teller) countyPage(v countyView) countyPage {
	p := countyPage{
		Page: shell.Page{Lang: t.lang, About: t.about, Title: t.county(v.CountyView), Area: "map", Wide: true, Address: "/county/" + v.Slug},
		Head: t.say("county.title", "county", t.county(v.CountyView)),
		Name: t.county(v.CountyView), Slug: v.Slug, EditionLine: t.editionLine(),
		How: t.how(v.CountyView), Fall: t.fall(v.CountyView),
		Winter: t.winter(), Bags: t.bags(v), Points: t.points(v),
	}
	if !v.HasFigures() {
		p.Blank = t.say("county.short.blank", "county", t.county(v.CountyView), "k", t.number(t.edition().K))
	} else {
		p.Short, p.Highest, p.Typical, p.Share = t.short(v.CountyView), t.highest(v.CountyView), t.typical(v.CountyView), t.share(v.CountyView)
		p.Levels = t.levels(v.CountyView)
		p.LevelCaption = t.lang.Count("county.levels.caption", v.Samples)
		p.Part, p.PartRule = t.part(v.CountyView)
		p.First = t.first(v)
		p.Years, p.Rounds, p.Trend = t.years(v.CountyView), t.rounds(v), t.trend(v)
		p.Method = t.counting(v)
		p.Trust = t.trust(v.CountyView)
	}
	if t.released() {
		p.Near, p.NearOf = t.near(v), t.season()
	}
	if v.Recalled > 0 {
		p.Recalled = t.lang.Count("county.recalled", v.Recalled)
	}
	p.Rows = t.rows(v.CountyView)
	for i, key := range []string{"county.col.township", "county.col.level", "county.col.bags", "county.col.finds", "county.col.unconfirmed", "county.col.years"} {
		p.Heads = append(p.Heads, shell.ColumnHead{Label: t.say(key), Num: i >= 2 && i <= 4})
	}
	p.Total = t.figures(t.say("county.row.total"), v.Summary)
	return p
}

// how explains what this map has.
func (t teller) how(v *gazette.CountyView) []string {
	out := []string{t.say("map.how.lines"), t.say("map.how.highest"), t.say("map.how.group", "k", t.number(t.edition().K)),
		t.say("map.how.none"), t.say("map.how.unconfirmed"), t.say("map.how.blank")}
	if len(v.Joined) > 0 {
		out = append(out, t.say("county.how.joined"))
	}
	if v.Rest.HasFigures() {
		out = append(out, t.say("county.how.rest"))
	}
	if v.CoarseFinds > 0 {
		out = append(out, t.say("county.how.coarse"))
	}
	if v.HasFigures() {
		out = append(out, t.say("county.how.falls", "year", strconv.Itoa(t.edition().Season)))
	}
	return append(out, t.say("map.how.volunteers"))
}
