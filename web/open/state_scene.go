package open

import (
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
)

// pickedState is the state with the figures that a measure is of.
type pickedState struct {
	measure atlas.Measure
	of      *gazette.StateView
	// counties has a picked for each county, in the state's order.
	counties []picked
}

// pickState chooses the tranches that a measure is of, and sums them up.
func (t teller) pickState(m atlas.Measure) (pickedState, error) {
	all := t.x.State()
	p := pickedState{measure: m, of: all, counties: make([]picked, len(all.Counties))}
	issue, ok := t.measured(m, *t.x.Issue)
	if ok {
		x, err := gazette.NewIndex(&issue)
		if err != nil {
			return p, err
		}
		p.of = x.State()
	}
	for i, v := range all.Counties {
		p.counties[i] = picked{measure: m, all: v, of: p.of.Counties[i]}
		if m == atlas.Standings {
			e, err := t.x.Edge()
			if err != nil {
				return p, err
			}
			p.counties[i].edge = e
		}
		if m == atlas.NewFigures {
			first, err := t.firstFinds(v)
			if err != nil {
				return p, err
			}
			p.counties[i].first = first
		}
	}
	return p, nil
}

// measured leaves of an issue the tranches that a measure is of; ok says that it
// is not all of them.
func (t teller) measured(m atlas.Measure, issue gazette.Issue) (out gazette.Issue, ok bool) {
	switch m {
	case atlas.RecentHighest:
		issue.Tranches = edition.Since(issue.Tranches, t.firstRecent())
	case atlas.NewFigures:
		issue.Tranches = slices.DeleteFunc(slices.Clone(issue.Tranches), func(tr edition.Tranche) bool { return tr.Edition != issue.Edition.Number })
	default:
		return issue, false
	}
	issue.Falls = nil
	return issue, true
}

// firstFinds are the townships of a county with a first find in the edition.
func (t teller) firstFinds(v *gazette.CountyView) (map[int]bool, error) {
	s, ok, err := t.x.Since(v)
	if err != nil {
		return nil, err
	}
	first := map[int]bool{}
	for _, a := range s.FirstFinds {
		first[int(a.ID)] = ok
	}
	return first, nil
}

// county is what a county shows on the map of counties.
func (t teller) countyFigure(p picked) figure {
	if p.edge != nil {
		return standing(p.edge.Counties[p.all.ID], p.all.Summary)
	}
	if p.of.HasFigures() || !p.all.HasFigures() {
		return t.figure(p.measure, p.of.Summary)
	}
	return figure{mark: atlas.Mark{Standing: atlas.Earlier}}
}

// stateScene composes the map of the state.
func (t teller) stateScene(p pickedState, c stateChoice) func(drawing) atlas.Scene {
	return func(d drawing) atlas.Scene {
		m := t.stateMap(p, c, d)
		if d.paper == atlas.Phone {
			// The counties' own names need the room.
			m.Towns, m.Water = nil, unnamed(m.Water)
		}
		return atlas.ComposeState(m, d.paper)
	}
}

// unnamed are lines without their names.
func unnamed(lines []atlas.Line) []atlas.Line {
	out := slices.Clone(lines)
	for i := range out {
		out[i].Name = ""
	}
	return out
}

// stateMap is the map of the state by a measure.
func (t teller) stateMap(p pickedState, c stateChoice, d drawing) atlas.State {
	im := t.imprint(t.say("map.heading", "state", t.about.State), t.stateLine(c), p.of.Summary, t.stateWords(p, c))
	im.Untitled = d.onPage()
	m := t.x.StateMap(im, gazette.Captions{County: func(*gazette.CountyView) (string, string) { return "", "" }})
	if !hasEdge(p.measure) {
		m.Edge = atlas.EdgeLines{}
	}
	for i := range m.Counties { // StateMap has them in the order of the view
		f, of, a := t.countyFigure(p.counties[i]), p.counties[i], &m.Counties[i]
		a.Mark, a.Value = f.mark, f.value
		a.Title, a.Href = t.figureTitle(of, t.county(of.all), nil, f), d.link("/county/"+of.all.Slug)
	}
	if !c.townships {
		return m
	}
	m.Towns = nil
	for _, of := range p.counties {
		t.addTownships(&m, of, d)
	}
	return m
}

// addTownships puts the townships of a county on the state's map.
func (t teller) addTownships(m *atlas.State, p picked, d drawing) {
	county := d.link("/county/" + p.all.Slug)
	for i := range p.all.Areas {
		f, v := t.area(p, i), &p.all.Areas[i]
		a := atlas.Area{ID: int(v.ID), Shape: v.Outline, Mark: f.mark, Value: f.value, First: p.first[int(v.ID)],
			Title: t.figureTitle(p, v.Label(), v.Joined, f), Href: county}
		if county != "" && v.HasFigures() {
			a.Href += "#" + townshipID(v.Slug)
		}
		m.Townships = append(m.Townships, a)
	}
	for i := range p.all.Joined {
		f, v := t.joint(p, i), &p.all.Joined[i]
		m.Joined = append(m.Joined, atlas.Joined{Shape: v.Shape, Members: idsOf(v), Mark: f.mark, Value: f.value, Href: county,
			Title: t.figureTitle(p, t.say("state.joined", "county", t.county(p.all), "number", i+1), nil, f)})
	}
}

// stateLine is the measure in words, under a map's title.
func (t teller) stateLine(c stateChoice) string {
	if c.townships {
		return t.measureLine(c.measure)
	}
	return t.lang.SayOf("state.subtitle", c.measure.String(), "from", year(t.firstRecent()), "to", t.season(), "month", t.lang.MonthYear(t.edition().Released))
}

// stateWords are the sentences beside the state's map.
func (t teller) stateWords(p pickedState, c stateChoice) atlas.Words {
	desc := t.say("map.desc.blank", "state", t.about.State)
	switch {
	case p.of.HasFigures() && c.townships:
		desc = t.lang.Count("state.desc.townships", p.of.Shown, "state", t.about.State, "measure", t.stateLine(c), "found", p.of.WithFinds, "shown", p.of.Shown)
	case p.of.HasFigures():
		desc = t.lang.Count("state.desc.counties", p.of.WithFigures, "state", t.about.State, "measure", t.stateLine(c), "found", p.of.FoundIn, "counties", p.of.WithFigures)
	}
	unsure := slices.ContainsFunc(p.counties, func(c picked) bool { return c.unsure() || c.of.HasFigures() && c.of.Judged() == 0 })
	return t.wordsOf(p.measure, t.lang.SayOf("paper.legend", p.measure.String(), "from", year(t.firstRecent()), "to", t.season()), desc, unsure)
}
