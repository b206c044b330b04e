package open

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// mostInRegion is how many counties a region may have: what fits on a sheet and
// can still be read from the back of a room.
const mostInRegion = 8

// region is some counties that are looked at together.
type region struct {
	slugs  []string // in the state's order, each once
	choice stateChoice
}

// readRegion reads which counties an address names: in=a,b, or in=a&in=b from a
// form. A name that is no county's is fault.ErrNotFound. Many says that there are
// more than a region may have.
func readRegion(r *http.Request, x *gazette.Index) (g region, many bool, err error) {
	if g.choice, err = readStateChoice(r.URL.Query()); err != nil {
		return g, false, err
	}
	named := map[string]bool{}
	for _, list := range r.URL.Query()["in"] {
		for slug := range strings.SplitSeq(list, ",") {
			if slug == "" {
				continue
			}
			if _, there := x.County(slug); !there {
				return g, false, fmt.Errorf("no such county: %w", fault.ErrNotFound)
			}
			named[slug] = true
		}
	}
	for _, v := range x.State().Counties {
		if named[v.Slug] {
			g.slugs = append(g.slugs, v.Slug)
		}
	}
	return g, len(g.slugs) > mostInRegion, nil
}

// query is the one question that asks for the region by a choice.
func (g region) query(c stateChoice) string {
	q := "?in=" + strings.Join(g.slugs, ",")
	if more := c.query(); more != "" {
		q += "&" + more[1:]
	}
	return q
}

// within is the teller of the region alone: its counties, their groups of results,
// and nothing of the rest of the state.
func (t teller) within(g region) (teller, error) {
	issue := *t.x.Issue
	issue.Counties, issue.Tranches, issue.Outline = nil, nil, nil
	var names []string
	for _, c := range t.x.Issue.Counties {
		if !slices.Contains(g.slugs, c.Slug) {
			continue
		}
		issue.Counties = append(issue.Counties, c)
		issue.Tranches = append(issue.Tranches, edition.OfCounty(t.x.Issue.Tranches, c.ID)...)
		names = append(names, c.Name)
	}
	issue.Falls = slices.DeleteFunc(slices.Clone(issue.Falls), func(f edition.FallFigure) bool {
		return !slices.ContainsFunc(issue.Counties, func(c gazette.County) bool { return c.ID == f.County })
	})
	x, err := gazette.NewIndex(&issue)
	if err != nil {
		return t, err
	}
	t.x, t.about.State = x, t.lang.Count("region.name", len(names), "counties", t.list(names, mostInRegion))
	return t, nil
}

// around are the counties that a region's map shows pale.
func (t teller) around(g region) (out []atlas.Area) {
	for _, c := range t.x.Issue.Counties {
		if !slices.Contains(g.slugs, c.Slug) {
			out = append(out, atlas.Area{ID: int(c.ID), Code: c.Name, Shape: c.Outline})
		}
	}
	return out
}

// regionScene composes the region's map.
func (in teller) regionScene(p pickedState, g region, around []atlas.Area) func(drawing) atlas.Scene {
	return func(d drawing) atlas.Scene {
		m := in.stateMap(p, g.choice, d)
		m.Neighbors = around
		return atlas.ComposeState(m, d.paper)
	}
}

// region answers with the map of some counties, or asks for them.
func (m *maps) region(w http.ResponseWriter, r *http.Request) error {
	now, t, err := m.read(r.Context())
	if err != nil {
		return err
	}
	g, many, err := readRegion(r, now.index)
	if err != nil {
		return err
	}
	if many || len(g.slugs) == 0 {
		status := http.StatusOK
		if many {
			status = http.StatusUnprocessableEntity
		}
		return shell.Render(w, r, status, regionAskTempl(t.regionAsk(g, many)))
	}
	if want := g.query(g.choice); "?"+r.URL.RawQuery != want {
		w.Header().Set("Cache-Control", "no-cache")
		http.Redirect(w, r, "/region"+want, http.StatusFound)
		return nil
	}
	s, err := m.shelf.sheet(now, "region"+g.query(g.choice), func() (*sheet, error) {
		in, p, err := t.regionFigures(g)
		if err != nil {
			return nil, err
		}
		page1 := in.regionPage(t, p, g)
		if page1.Wide, page1.Narrow, err = t.both(in.regionScene(p, g, t.around(g))); err != nil {
			return nil, err
		}
		return page(now.issue.Edition, regionTempl(page1))
	})
	if err != nil {
		return err
	}
	m.send(w, r, now, s)
	return nil
}

func (t teller) regionFigures(g region) (teller, pickedState, error) {
	in, err := t.within(g)
	if err != nil {
		return in, pickedState{}, err
	}
	p, err := in.pickState(g.choice.measure)
	return in, p, err
}

// regionPage is a state's page, of some counties.
func (in teller) regionPage(t teller, p pickedState, g region) statePage {
	v := in.statePage(p, g.choice)
	v.About, v.Address = t.about, "/region"+g.query(g.choice)
	v.Title = in.say("map.heading", "state", in.about.State)
	v.Head, v.Query = v.Title, g.query(g.choice)
	for i, m := range atlas.Measures() {
		v.Measures[i].Href = "/region" + g.query(stateChoice{measure: m, townships: g.choice.townships}) + atMap
	}
	for i := range v.Divisions {
		v.Divisions[i].Href = "/region" + g.query(stateChoice{measure: g.choice.measure, townships: i == 1}) + atMap
	}
	return v
}

// regionAsk is the form that asks for counties.
type regionAsk struct {
	shell.Page
	Many     string // the problem, if there are too many
	Counties []option
}

func (t teller) regionAsk(g region, many bool) regionAsk {
	v := regionAsk{Page: shell.Page{Lang: t.lang, About: t.about, Title: t.say("region.title"), Area: "map", Address: "/region"}}
	if many {
		v.Many = t.say("region.many", "most", mostInRegion, "n", len(g.slugs))
	}
	ids := map[place.ID]bool{}
	for _, c := range t.x.Issue.Counties {
		if !ids[c.ID] {
			v.Counties = append(v.Counties, option{Value: c.Slug, Name: t.say("county.name", "name", c.Name), Chosen: slices.Contains(g.slugs, c.Slug)})
			ids[c.ID] = true
		}
	}
	slices.SortStableFunc(v.Counties, func(a, b option) int { return strings.Compare(a.Name, b.Name) })
	return v
}
