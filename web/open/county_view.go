package open

import (
	"cmp"
	"slices"
	"strconv"

	"sixmile/internal/assay"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// countyPage is everything the page of a county prints.
type countyPage struct {
	shell.Page
	Head         string
	Name, Slug   string
	EditionLine  string
	Wide, Narrow string   // the map, drawn twice
	Short        []string // sentences
	Blank        string   // instead of Short, where there are no figures
	Fall         []string
	Highest      string
	Share        string
	Levels       []levelRow
	LevelCaption string
	Rows         []placeRow
	Total        placeRow
	How          []string
	Neighbors    []neighborRow
}

// levelRow is a level with its number of bags; bar is 0 to 100.
type levelRow struct {
	Chip        chip
	Name, Range string
	Bags        string
	Bar         int
}

// placeRow is a line of the table.
type placeRow struct {
	ID         string
	Name       string
	Code       string // a township's, where its name is another
	Note       string
	HasFigures bool
	Chip       chip
	Level      string
	// See leads from a township without figures of its own to those it shares.
	See, SeeID                     string
	Bags, Finds, Unconfirmed, Year string
}

// neighborRow is a county next door.
type neighborRow struct {
	Name, Slug, Text string
	Chip             chip
}

func townshipID(slug string) string { return "t-" + slug }

func joinedID(i int) string { return "joined-" + strconv.Itoa(i+1) }

// countyPage puts the page's words together; the maps are added by the caller.
func (t teller) countyPage(v *gazette.CountyView) countyPage {
	p := countyPage{
		Page: shell.Page{Lang: t.lang, About: t.about, Title: t.county(v), Area: "map", Wide: true},
		Head: t.say("county.title", "county", t.county(v)),
		Name: t.county(v), Slug: v.Slug, EditionLine: t.editionLine(),
		How: t.how(v), Fall: t.fall(v),
	}
	for _, n := range v.Neighbors {
		p.Neighbors = append(p.Neighbors, t.neighbor(n))
	}
	if !v.HasFigures() {
		p.Blank = t.say("county.short.blank", "county", t.county(v), "k", t.number(t.edition().K))
	} else {
		p.Short, p.Highest, p.Share = t.short(v), t.highest(v), t.share(v)
		p.Levels = t.levels(v)
		p.LevelCaption = t.lang.Count("county.levels.caption", v.Samples)
	}
	p.Rows = t.rows(v)
	p.Total = t.figures(t.say("county.row.total"), v.Summary)
	return p
}

// short is where eggs were found.
func (t teller) short(v *gazette.CountyView) []string {
	var out []string
	if v.Shown > 0 {
		out = append(out, t.lang.Count("county.short.found", v.Shown, "found", v.WithFinds))
	}
	if n := len(v.Joined); n > 0 {
		found := 0
		for _, j := range v.Joined {
			if j.Finds > 0 {
				found++
			}
		}
		out = append(out, t.lang.Count("county.short.joined", n, "found", found))
	}
	if v.Rest.Finds > 0 {
		out = append(out, t.say("county.short.rest"))
	}
	return out
}

// fall is about how much came in this fall. Five finds are "five or fewer", and
// none means none (edition.FallFigure).
func (t teller) fall(v *gazette.CountyView) []string {
	f, year := v.Fall, strconv.Itoa(v.Fall.Season)
	switch {
	case !t.released():
		return nil
	case !v.HasFall:
		return []string{t.say("county.fall.untold", "year", strconv.Itoa(t.edition().Season))}
	}
	var out []string
	switch {
	case f.Finds == 0:
		out = append(out, t.say("county.fall.none", "year", year, "bags", f.Samples))
	case f.FiveOrFewer():
		out = append(out, t.say("county.fall.few", "year", year, "bags", f.Samples))
	default:
		out = append(out, t.say("county.fall.found", "year", year, "bags", f.Samples, "finds", f.Finds))
	}
	if f.Highest.Known() {
		out = append(out, t.say("county.fall.highest", "level", t.level(f.Highest)))
	}
	return append(out, t.say("county.fall.note"))
}

// highest is the highest level, and where.
func (t teller) highest(v *gazette.CountyView) string {
	var places []string
	at := v.Highest()
	name := shortNames(v)
	for _, a := range at.Townships {
		places = append(places, name[a.ID])
	}
	for i := range v.Joined {
		for _, j := range at.Joined {
			if j == &v.Joined[i] {
				places = append(places, t.say("county.highest.joined", "number", i+1))
			}
		}
	}
	if at.Rest {
		places = append(places, t.say("county.highest.rest"))
	}
	if len(places) == 0 {
		return t.say("county.highest.only", "level", t.level(v.Level))
	}
	line := t.say("county.highest", "level", t.level(v.Level), "places", t.list(places, 6))
	if !v.Level.Exact {
		line += " " + t.say("county.highest.more")
	}
	return line
}

func (t teller) share(v *gazette.CountyView) string {
	if !v.HasShare {
		return ""
	}
	share, low, high := v.Share.PerHundred()
	return t.say("county.share", "n", v.Share.Judged, "finds", v.Share.Finds, "share", share, "low", low, "high", high)
}

// levels counts the county's bags by level. Those of coarse tranches, whose
// level is not shown, have a row of their own.
func (t teller) levels(v *gazette.CountyView) []levelRow {
	s := t.x.Issue.Scheme
	found := s.Found()
	row := func(name, span string, c chip, n int) levelRow {
		return levelRow{Name: name, Range: span, Chip: c, Bags: t.lang.Number(n), Bar: percent(n, v.Samples)}
	}
	var out []levelRow
	for i, c := range s.Classes {
		n, span := 0, ""
		switch c.Kind {
		case assay.None:
			n, span = v.None, t.say("county.levels.none.range")
		case assay.Unconfirmed:
			n, span = v.Unconfirmed, t.say("county.levels.unconfirmed.range")
		default:
			n, span = v.Counts[i], t.span(found, gazette.MarkOf(s, c).Lines-1)
		}
		out = append(out, row(t.className(c), span, t.classChip(c), n))
	}
	if v.CoarseFinds > 0 {
		out = append(out, row(t.say("legend.found.unsorted"), t.say("county.levels.unsorted.range"), chip{}, v.CoarseFinds))
	}
	return out
}

// percent is n of all in whole hundredths for a bar; what is there is never
// drawn as nothing.
func percent(n, all int) int {
	if n == 0 || all == 0 {
		return 0
	}
	return max(1, (100*n+all/2)/all)
}

// rows are the townships by name, the joined ones and the rest of the county.
func (t teller) rows(v *gazette.CountyView) []placeRow {
	var out []placeRow
	name := shortNames(v)
	for i := range v.Areas {
		a := &v.Areas[i]
		r := t.figures(a.Code, a.Summary)
		r.ID = townshipID(a.Slug)
		if a.Label() != a.Code {
			r.Name, r.Code = a.Name, a.Code
		}
		if !a.HasFigures() && len(a.Joined) > 0 {
			r.See, r.SeeID = t.say("county.row.see", "number", a.Joined[0]+1), joinedID(a.Joined[0])
		}
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b placeRow) int { return cmp.Or(natural(a.Name, b.Name), natural(a.Code, b.Code)) })
	for i := range v.Joined {
		r := t.figures(t.say("county.row.joined", "number", i+1), v.Joined[i].Summary)
		r.ID = joinedID(i)
		names := make([]string, len(v.Joined[i].Members))
		for k, m := range v.Joined[i].Members {
			names[k] = name[m.ID]
		}
		r.Note = t.say("county.row.members", "places", t.list(names, len(names)))
		out = append(out, r)
	}
	if v.Rest.HasFigures() {
		r := t.figures(t.say("county.row.rest"), v.Rest)
		r.ID, r.Note = "rest", t.say("county.row.rest.note")
		out = append(out, r)
	}
	return out
}

// shortNames calls townships by their names alone; those of one county that
// have the same name keep their codes.
func shortNames(v *gazette.CountyView) map[place.ID]string {
	seen := make(map[string]int, len(v.Areas))
	for i := range v.Areas {
		seen[v.Areas[i].Name]++
	}
	out := make(map[place.ID]string, len(v.Areas))
	for i := range v.Areas {
		a := &v.Areas[i]
		out[a.ID] = a.Label()
		if a.Name != "" && seen[a.Name] == 1 {
			out[a.ID] = a.Name
		}
	}
	return out
}

func (t teller) figures(name string, s gazette.Summary) placeRow {
	if !s.HasFigures() {
		return placeRow{Name: name, Level: t.say("county.row.blank"), Chip: t.chip(s.Level)}
	}
	year, key := strconv.Itoa(s.Window.Through), "upto"
	if s.Window.Only {
		key = "only"
	}
	return placeRow{
		Name: name, HasFigures: true, Chip: t.chip(s.Level), Level: t.level(s.Level),
		Bags: t.lang.Number(s.Samples), Finds: t.lang.Number(s.Finds), Unconfirmed: t.lang.Number(s.Unconfirmed),
		Year: t.lang.SayOf("county.years", key, "year", year),
	}
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

func (t teller) neighbor(n *gazette.CountyView) neighborRow {
	r := neighborRow{Name: t.county(n), Slug: n.Slug, Chip: t.chip(n.Level), Text: t.say("county.near.blank")}
	if n.HasFigures() {
		r.Text = t.say("county.near.found", "level", t.level(n.Level), "found", n.WithFinds, "shown", n.Shown)
	}
	return r
}
