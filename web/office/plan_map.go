package office

import (
	"bytes"
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/atlas"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/plan"
	"sixmile/internal/press"
)

// planMap draws what a saved plan suggests for one county: where to ask first. The
// table beside it says the same.
func (o *office) planMap(w http.ResponseWriter, r *http.Request) error {
	p, x, err := o.savedPlan(r)
	if err != nil {
		return err
	}
	county, ok := x.County(chi.URLParam(r, "county"))
	if !ok {
		return fault.ErrNotFound
	}
	paper := atlas.Phone
	if r.URL.Query().Has("wide") {
		paper = atlas.TabloidWide
	}
	var b bytes.Buffer
	if err := press.SVG(&b, atlas.ComposeCounty(suggestionMap(o.Lang, x, county, p), paper), press.Options{Lang: o.Lang.Tag()}); err != nil {
		return err
	}
	return showSVG(w, r, b.Bytes())
}

// suggestionMap has the county's townships filled by the bags that are suggested
// for each, and the line where finds meet none found, as the public map has it.
func suggestionMap(l *catalog.Lang, x *gazette.Index, v *gazette.CountyView, p plan.Saved) atlas.County {
	bags := map[place.ID]int{}
	all := 0
	for i, g := range p.Given {
		if bags[g.ID] = p.Places[i].Bags; g.County == v.ID {
			all += p.Places[i].Bags
		}
	}
	m := x.CountyMap(v, atlas.Imprint{
		Title: l.Say("plan.map.title", "county", v.Name), Subtitle: l.Say("plan.map.fall", "year", strconv.Itoa(p.Season)), Band: l.Say("plan.map.band"), Totals: l.Count("plan.towns.bags", all), Date: l.Date(p.Day),
		Edition: l.Say("plan.map.from", "number", strconv.Itoa(p.Edition)),
		Words: atlas.Words{
			LegendHead: l.Say("plan.map.legend"), Legend: suggestionLegend(l), Desc: l.Say("plan.map.desc", "county", v.Name),
			Miles: l.Say("legend.miles"), Kilometers: l.Say("legend.kilometers"), North: l.Say("legend.north"), River: l.Say("legend.river"),
			Road: l.Say("legend.road"), Ridge: l.Say("legend.ridge"), Town: l.Say("legend.town"), Edge: l.Say("worth.legend.edge"), EdgeBand: l.Say("worth.legend.band"),
		},
	}, gazette.Captions{
		Township: func(t *gazette.TownshipView) (string, string) {
			return l.Say("plan.map.town", "town", t.Label(), "bags", l.Count("plan.towns.bags", bags[t.ID])), ""
		},
		Joined: func(int, *gazette.JoinedView) (string, string) { return "", "" },
	})
	m.Joined = nil
	for i := range m.Areas {
		n := bags[place.ID(m.Areas[i].ID)]
		if m.Areas[i].Mark = atlas.SamplesMark(n); n > 0 {
			m.Areas[i].Value = l.Number(n)
		}
	}
	return m
}

// suggestionLegend is the steps of bags.
func suggestionLegend(l *catalog.Lang) (out []atlas.LegendRow) {
	for _, s := range atlas.SampleCount.Steps() {
		name := l.Say("paper.step", "from", l.Number(s.From), "to", l.Number(s.To))
		switch {
		case s.To < 0:
			name = l.Say("paper.step.open", "from", l.Number(s.From))
		case s.From == s.To:
			name = l.Number(s.From)
		}
		out = append(out, atlas.LegendRow{Mark: s.Mark, Name: name, Value: l.Number(s.From)})
	}
	return append(out, atlas.LegendRow{Name: l.Say("plan.map.none")})
}
