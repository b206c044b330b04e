package open

import (
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
	"sixmile/web/shell"
)

// printPage is everything the page prints on which a map is chosen.
type printPage struct {
	shell.Page
	Name, Slug  string
	EditionLine string
	Older       string // where the edition is not the newest
	Measures    []option
	Editions    []option
	Without     []option
	Papers      []option
	Looks       []option
	Drawing     string // the map on its sheet
	Dark        bool   // on a dark ground
	Tall        bool
	Says        string // what the drawing shows
	Map, Sheets []fileRow
	YearsHref   string
}

// option is one of a list, as a form sends it.
type option struct {
	Value, Name, Note string
	Chosen            bool
}

// fileRow is a file to take along.
type fileRow struct{ Name, Kind, Note, Href string }

// printPage puts the page's words together; newest is the edition that is shown
// where nobody asks for another.
func (j printJob) printPage(newest *gazette.Index, drawing string) printPage {
	t := j.t
	name := t.county(j.v)
	p := printPage{
		Page: shell.Page{Lang: t.lang, About: t.about, Title: t.say("paper.print.title", "county", name), Area: "map", Wide: true,
			Address: "/county/" + j.v.Slug + "/print" + j.c.query(newest.Issue.Edition.Code),
			Scripts: []string{"paper.js"}},
		Name: name, Slug: j.v.Slug, EditionLine: t.editionLine(), Drawing: drawing, Dark: j.c.theme == press.Dark,
		Says: t.lang.SayOf("paper.says", j.c.measure.String(), "from", year(t.firstRecent()), "to", t.season()), YearsHref: "/county/" + j.v.Slug + "/years",
	}
	w, h := j.c.paper.Size()
	p.Tall = h > w
	if e := newest.Issue.Edition; e.Code != j.c.code {
		p.Older = t.say("paper.older", "month", t.lang.MonthYear(e.Released))
	}
	for _, m := range atlas.Measures() {
		p.Measures = append(p.Measures, option{Value: m.String(), Name: t.lang.SayOf("paper.measure", m.String()), Chosen: m == j.c.measure})
	}
	for _, e := range slices.Backward(newest.Editions()) {
		p.Editions = append(p.Editions, option{Value: e.Code, Chosen: e.Code == j.c.code,
			Name: t.say("paper.edition", "month", t.lang.MonthYear(e.Released), "code", e.Code)})
	}
	has := map[layer]bool{neighborLayer: len(t.x.Issue.Counties) > 1, riverLayer: len(t.x.Issue.Rivers) > 0,
		ridgeLayer: meets(t.x.Issue.Ridge, j.v.Outline), townLayer: len(t.x.Issue.Towns) > 0, roadLayer: len(t.x.Issue.Roads) > 0}
	for _, l := range layerNames {
		if has[l.layer] || j.c.without&l.layer != 0 {
			p.Without = append(p.Without, option{Value: l.name, Name: t.lang.SayOf("paper.without", l.name), Chosen: j.c.without&l.layer != 0})
		}
	}
	for _, s := range sheetPapers {
		p.Papers = append(p.Papers, option{Value: s.String(), Name: t.lang.SayOf("paper.paper", s.String()), Chosen: s == j.c.paper})
	}
	for _, s := range press.Themes() {
		p.Looks = append(p.Looks, option{Value: s.String(), Name: t.lang.SayOf("paper.look", s.String()), Chosen: s == j.c.theme})
	}
	p.Map, p.Sheets = j.fileRows()
	return p
}

// fileRows are the files of the choice: those of the map, and the other sheets.
func (j printJob) fileRows() (maps, sheets []fileRow) {
	for _, f := range paperFiles {
		key := plainName(f.name)
		r := fileRow{Name: j.t.lang.SayOf("paper.get", key), Note: j.t.lang.SayOf("paper.get.note", key),
			Kind: j.t.lang.SayOf("paper.kind", f.ext()), Href: "/county/" + j.v.Slug + "/paper/" + f.name + j.c.only(f.uses).query("")}
		if f.uses&byMeasure != 0 {
			maps = append(maps, r)
		} else {
			sheets = append(sheets, r)
		}
	}
	return maps, sheets
}
