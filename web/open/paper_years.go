package open

import (
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

func (j printJob) yearsPDF() ([]byte, error) {
	s, err := j.years(j.c.paper)
	if err != nil {
		return nil, err
	}
	return j.pdf(j.t.say("paper.file.years"), s)
}

// years composes the county edition by edition, by the tranches that stand now.
// Only so many small maps can be told apart; the latest are shown.
func (j printJob) years(paper atlas.Paper) (atlas.Scene, error) {
	t := j.t
	editions := t.x.Editions()
	editions = editions[max(0, len(editions)-maxHistory):]
	p, err := t.pick(j.v, atlas.HighestLevel)
	if err != nil {
		return atlas.Scene{}, err
	}
	im := t.paperImprint(p)
	im.Title, im.Subtitle = t.say("paper.years.title", "county", t.county(j.v)), t.say("paper.years.note")
	im.Words.Desc, im.Bars = im.Title, nil
	var maps []atlas.County
	for _, e := range editions {
		c, err := t.asOf(j.v, e)
		if err != nil {
			return atlas.Scene{}, err
		}
		c.Title = t.lang.MonthYear(e.Released)
		maps = append(maps, c)
	}
	return atlas.ComposeYears(im, maps, paper), nil
}

// asOf is the county's map as an edition showed it, by the tranches that stand
// now.
func (t teller) asOf(v *gazette.CountyView, e gazette.Edition) (atlas.County, error) {
	then, err := t.x.AsOf(v, e)
	if err != nil {
		return atlas.County{}, err
	}
	issue := *t.x.Issue
	issue.Edition = e
	x := *t.x
	x.Issue = &issue
	old := t
	old.x = &x
	p := picked{measure: atlas.HighestLevel, all: then, of: then}
	return x.CountyMap(then, old.paperImprint(p), gazette.Captions{
		Township: func(a *gazette.TownshipView) (string, string) { return t.areaTitle(a), "" },
		Joined:   func(i int, j *gazette.JoinedView) (string, string) { return t.joinedTitle(i, j), "" },
	}), nil
}

// yearsPage is one step through the years.
type yearsPage struct {
	shell.Page
	Name, Slug   string
	Heading      string
	Wide, Narrow string // the map, drawn twice
	Added        string // what this edition added
	Steps        []yearStep
	Prev, Next   string // addresses; "" at either end
	PDF, Print   string
}

// yearStep is an edition one can go to.
type yearStep struct {
	Name, Code, Href string
	Here             bool
	Added            string // how many bags; "" for none
}

// yearsPage puts the words of a step together. The teller is of the newest
// edition.
func (t teller) yearsPage(v *gazette.CountyView, c choice, rounds []gazette.Round) yearsPage {
	name := t.county(v)
	p := yearsPage{
		Page: shell.Page{Lang: t.lang, About: t.about, Title: t.say("paper.years.title", "county", name), Area: "map", Wide: true,
			Address: "/county/" + v.Slug + "/years" + c.query(t.edition().Code),
			Scripts: []string{"paper.js"}},
		Name: name, Slug: v.Slug,
		PDF:   "/county/" + v.Slug + "/paper/years.pdf" + choice{code: t.edition().Code, paper: sheetPapers[0]}.query(""),
		Print: "/county/" + v.Slug + "/print" + choice{code: c.code, paper: sheetPapers[0]}.query(t.edition().Code),
	}
	editions := t.x.Editions()
	at := slices.IndexFunc(editions, func(e gazette.Edition) bool { return e.Code == c.code })
	for i, e := range editions {
		s := yearStep{Name: t.lang.MonthYear(e.Released), Code: e.Code, Href: t.stepHref(v, e), Here: i == at}
		for _, r := range rounds {
			if r.Edition.Number == e.Number {
				s.Added = t.lang.Count("paper.years.row", r.Samples, "finds", r.Finds)
				if s.Here {
					p.Added = t.lang.Count("paper.years.added", r.Samples, "finds", r.Finds)
				}
			}
		}
		p.Steps = append(p.Steps, s)
	}
	if at < 0 {
		return p
	}
	p.Heading = t.say("paper.years.map", "month", p.Steps[at].Name, "code", p.Steps[at].Code)
	if p.Added == "" {
		p.Added = t.say("paper.years.nothing")
	}
	if at > 0 {
		p.Prev = p.Steps[at-1].Href
	}
	if at+1 < len(editions) {
		p.Next = p.Steps[at+1].Href
	}
	return p
}

func (t teller) stepHref(v *gazette.CountyView, e gazette.Edition) string {
	return "/county/" + v.Slug + "/years" + choice{code: e.Code, paper: sheetPapers[0]}.query(t.edition().Code)
}
