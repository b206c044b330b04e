package open

import (
	"cmp"
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

// statePage is everything the first page prints.
type statePage struct {
	shell.Page
	Released     bool
	Head         string
	Lede         string
	EditionLine  string
	Wide, Narrow string // the map, drawn twice; "" where no places are loaded
	Short        string
	Caption      string
	Heads        []shell.ColumnHead // of the table of counties, but for that of the figure
	Rows         []countyRow        // by name
	Total        countyRow
	How          []string

	Measures, Divisions []mapPick // what can be chosen
	Figure              string    // the measure's name, over its column
	Says                string    // what a place on the map shows
	ByTownship          bool
	Places              []placeLine // townships and joined ones with a mark, by county
	PlacesHead          string
	Query               string // of the choice, for the files
}

// atMap opens a page at its map.
const atMap = "#map"

// mapPick is something to choose.
type mapPick struct {
	Name, Href string
	Chosen     bool
}

// placeLine is what a township, or joined ones, show on the map.
type placeLine struct {
	Name, County, Href string
	Chip               chip
	Level              string
}

// countyRow is a line of the table of counties.
type countyRow struct {
	Name, Slug  string
	Chip        chip
	Level       string
	HasFigures  bool
	Shown       string // townships with figures, of all
	Found       string // of those, with eggs
	Bags, Finds string

	of           gazette.Summary // what it says, for sorting
	shown, found int
}

// by is what a row has in a column.
func (r countyRow) by(c shell.Column) (n int, has bool) {
	switch c {
	case byShown:
		n = r.shown
	case byFound:
		n = r.found
	case byBags:
		n = r.of.Samples
	case byFinds:
		n = r.of.Finds
	}
	return n, r.HasFigures
}

// sorted is the page with its table of counties sorted by a column.
func (p statePage) sorted(by shell.Column) statePage {
	p.Rows = slices.Clone(p.Rows)
	sortRows(p.Rows, by, countyRow.by)
	leading(p.Heads, p.Address, stateColumns, by)
	p.Address = shell.SortedAddress(p.Address, by)
	return p
}

// statePage puts the page's words together; the maps are added by the caller.
func (t teller) statePage(figures pickedState, c stateChoice) statePage {
	s := t.x.State()
	p := statePage{
		Page:     shell.Page{Lang: t.lang, About: t.about, Title: t.say("map.title"), Area: "map", Wide: true, Address: "/" + c.query()},
		Released: t.released(), Head: t.say("map.title"), Lede: t.say("map.lede", "state", t.about.State),
		EditionLine: t.editionLine(), Caption: t.say("map.table.caption", "state", t.about.State),
		Short: t.say("map.found.blank"),
		How:   t.stateHow(c),
	}
	if e, err := t.x.Edge(); err == nil && e.Known() && hasEdge(c.measure) {
		p.How = append(p.How, t.edgeSays(e, t.x.Issue.Outline)...)
	}
	if !p.Released {
		p.Head, p.Lede = t.say("map.empty.head"), t.say("map.empty.lede", "k", t.number(t.edition().K))
	}
	if s.HasFigures() {
		p.Short = t.lang.Count("map.found", s.WithFigures, "found", s.FoundIn,
			"townships", t.lang.Count("map.found.townships", s.Shown, "found", s.WithFinds))
	}
	all := 0
	for i, v := range s.Counties {
		all += len(v.Areas)
		r := t.countyRow(v.Summary, t.countyFigure(figures.counties[i]), v.Shown, v.WithFinds, len(v.Areas))
		r.Name, r.Slug = t.county(v), v.Slug
		r.of, r.shown, r.found = v.Summary, v.Shown, v.WithFinds
		p.Rows = append(p.Rows, r)
	}
	slices.SortStableFunc(p.Rows, func(a, b countyRow) int { return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Slug, b.Slug)) })
	p.Total = t.countyRow(s.Summary, t.figure(c.measure, figures.of.Summary), s.Shown, s.WithFinds, all)
	p.Total.Name = t.say("map.row.all")
	for i, key := range []string{"map.col.county", "map.col.shown", "map.col.found", "map.col.bags", "map.col.finds"} {
		p.Heads = append(p.Heads, shell.ColumnHead{Label: t.say(key), Num: i > 0})
	}
	t.choices(&p, c)
	if c.townships {
		p.Places = t.placeLines(figures)
		p.PlacesHead = t.lang.Count("state.places", len(p.Places))
	}
	return p
}

// stateHow says how this map is read: levels by their lines, numbers by themselves.
func (t teller) stateHow(c stateChoice) []string {
	var out []string
	switch {
	case c.measure.Steps() != nil:
		out = append(out, t.say("map.how.number"))
	case c.measure == atlas.HighestLevel:
		out = append(out, t.say("map.how.lines"), t.say("map.how.highest"))
	case c.measure != atlas.Standings:
		out = append(out, t.say("map.how.lines"))
	}
	out = append(out, t.say("map.how.group", "k", t.number(t.edition().K)), t.say("map.how.none"), t.say("map.how.unconfirmed"))
	if c.townships {
		out = append(out, t.say("map.how.blank"))
		if slices.ContainsFunc(t.x.State().Counties, func(v *gazette.CountyView) bool { return len(v.Joined) > 0 }) {
			out = append(out, t.say("county.how.joined"))
		}
	}
	return append(out, t.say("map.how.volunteers"))
}

// placeLines are all places that the map of townships has a mark for, by county
// and in the order of its page. Those without figures are left out.
func (t teller) placeLines(figures pickedState) []placeLine {
	var out []placeLine
	for _, p := range figures.counties {
		add := func(name, anchor string, f figure) {
			if f.mark.Standing == atlas.NoFigures {
				return
			}
			l := placeLine{Name: name, County: t.county(p.all), Href: "/county/" + p.all.Slug + "#" + anchor, Chip: chipOf(f.mark), Level: t.figureName(f)}
			if f.mark.Standing == atlas.Recalled {
				l.Level = t.say("county.row.recalled")
			}
			out = append(out, l)
		}
		for i := range p.all.Areas {
			v := &p.all.Areas[i]
			add(v.Label(), townshipID(v.Slug), t.area(p, i))
		}
		for i := range p.all.Joined {
			add(t.say("county.highest.joined", "number", i+1), joinedID(i), t.joint(p, i))
		}
	}
	slices.SortStableFunc(out, func(a, b placeLine) int { return cmp.Compare(a.County, b.County) })
	return out
}

// choices are the links to every other map of the state.
func (t teller) choices(p *statePage, c stateChoice) {
	p.Figure, p.ByTownship, p.Query = t.lang.SayOf("paper.measure", c.measure.String()), c.townships, c.query()
	p.Says = t.lang.SayOf("state.says", c.measure.String(), "from", year(t.firstRecent()), "to", t.season())
	for _, m := range atlas.Measures() {
		to := stateChoice{measure: m, townships: c.townships}
		p.Measures = append(p.Measures, mapPick{t.lang.SayOf("paper.measure", m.String()), "/" + to.query() + atMap, m == c.measure})
	}
	for _, townships := range []bool{false, true} {
		name := t.say("state.by.counties")
		if townships {
			name = t.say("state.by.townships")
		}
		to := stateChoice{measure: c.measure, townships: townships}
		p.Divisions = append(p.Divisions, mapPick{name, "/" + to.query() + atMap, townships == c.townships})
	}
}

// countyRow has the figure that the map shows first.
func (t teller) countyRow(s gazette.Summary, f figure, shown, found, all int) countyRow {
	r := countyRow{Chip: chipOf(f.mark), Level: t.say("map.blank"), HasFigures: s.HasFigures(),
		Shown: t.say("map.shown", "shown", shown, "all", all)}
	if r.HasFigures {
		r.Level, r.Found = t.figureName(f), t.lang.Number(found)
		r.Bags, r.Finds = t.lang.Number(s.Samples), t.lang.Number(s.Finds)
	}
	return r
}

// figureName is what a mark says, in a few words.
func (t teller) figureName(f figure) string {
	switch {
	case f.stand != nil:
		return t.standingName(*f.stand)
	case f.mark.Standing == atlas.Earlier:
		return t.say("paper.legend.same")
	case f.value != "":
		return f.value
	case f.mark.Standing == atlas.Unconfirmed && f.level == (gazette.Level{}):
		return t.say("paper.legend.unsure.note")
	}
	return t.level(f.level)
}
