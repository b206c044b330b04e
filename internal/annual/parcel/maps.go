package parcel

import (
	"strconv"

	"sixmile/internal/annual"
	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
)

// stateMap is the state by a measure, for a page of the report.
func (w words) stateMap(m atlas.Measure) *atlas.State {
	s := w.x.State()
	im := atlas.Imprint{
		Title: w.title(), Totals: w.say("map.totals.none"), Source: w.say("map.source", "source", w.x.Issue.Scheme.Source), Band: w.mapBand(),
		Edition: w.say("map.edition", "month", w.Lang.MonthYear(w.edition().Released), "code", w.edition().Code),
		Date:    w.say("map.cutoff", "date", w.Lang.Date(w.edition().Cutoff)),
		Words: atlas.Words{
			LegendHead: w.Lang.SayOf("annual.legend", m.String()), Legend: w.legend(m), Miles: w.say("legend.miles"),
			Kilometers: w.say("legend.kilometers"), North: w.say("legend.north"), River: w.say("legend.river"), Town: w.say("legend.town"),
			Desc: w.Lang.Count("map.desc", s.WithFigures, "state", w.Program.State, "found", s.FoundIn, "counties", s.WithFigures),
		},
	}
	if s.HasFigures() {
		im.Totals = w.Lang.Count("map.totals", s.Samples, "year", strconv.Itoa(s.Window.Through))
	}
	out := w.x.StateMap(im, gazette.Captions{County: func(v *gazette.CountyView) (string, string) { return w.county(v), "" }})
	out.Towns, out.Ridge = nil, nil
	for i, v := range s.Counties { // StateMap has them in the order of the view
		out.Counties[i].Mark, out.Counties[i].Value = w.mark(m, v)
	}
	return &out
}

// mapBand says on the map itself that its page is not for release: a picture may
// be cut out.
func (w words) mapBand() string {
	if w.name == annual.PublicName {
		return ""
	}
	return w.Lang.SayOf("annual.band", string(w.name))
}

// mark is what a county shows by a measure.
func (w words) mark(m atlas.Measure, v *gazette.CountyView) (atlas.Mark, string) {
	switch {
	case !v.HasFigures():
		return atlas.Mark{}, ""
	case m == atlas.ShareFound && v.Judged() == 0:
		return atlas.Mark{Standing: atlas.Unconfirmed, Of: len(w.x.Issue.Scheme.Found())}, ""
	case m == atlas.ShareFound:
		return atlas.ShareMark(v.Finds, v.Judged()), w.percent(atlas.Percent(v.Finds, v.Judged()))
	case m == atlas.SampleCount:
		return atlas.SamplesMark(v.Samples), w.Lang.Number(v.Samples)
	}
	return v.Level.Mark(w.x.Issue.Scheme), ""
}

// legend is the rows that a measure needs.
func (w words) legend(m atlas.Measure) []atlas.LegendRow {
	blank := atlas.LegendRow{Name: w.say("legend.blank"), Note: w.say("legend.blank.note")}
	if steps := m.Steps(); steps != nil {
		return append(w.steps(m, steps), blank)
	}
	var out []atlas.LegendRow
	s := w.x.Issue.Scheme
	for _, c := range s.Classes {
		row := atlas.LegendRow{Mark: gazette.MarkOf(s, c), Name: annual.LevelName(w.Lang, c)}
		switch c.Kind {
		case assay.None:
			row.Note = w.say("legend.none.note")
		case assay.Unconfirmed:
			row.Note = w.say("legend.unconfirmed.note")
		default:
			row.Note = annual.Span(w.Lang, s, c)
		}
		out = append(out, row)
	}
	return append(out, blank)
}

func (w words) steps(m atlas.Measure, steps []atlas.AmountStep) (out []atlas.LegendRow) {
	value := w.Lang.Number
	if m == atlas.ShareFound {
		value = w.percent
	}
	for _, s := range steps {
		name := w.say("paper.step", "from", value(s.From), "to", value(s.To))
		switch {
		case s.To < 0:
			name = w.say("paper.step.open", "from", value(s.From))
		case s.From == s.To:
			name = value(s.From)
		}
		out = append(out, atlas.LegendRow{Mark: s.Mark, Name: name, Value: value(s.From)})
	}
	return out
}

// levelFills are the bags at each level of a sum, as rows of a chart.
func (w words) levelFills(f edition.Figures) (rows []levelBar) {
	for _, b := range w.x.Bars(f) {
		row := levelBar{Bags: b.Bags, Name: w.say("legend.found.unsorted")}
		row.Share, row.Low, row.High = b.PerHundred()
		if !b.Unsorted {
			row.Name, row.Step, row.Of = annual.LevelName(w.Lang, b.Class), min(b.Class.Rank, 255), len(w.x.Issue.Scheme.Found())
		}
		rows = append(rows, row)
	}
	return rows
}

// levelBar is a bar of that chart. Step and Of are the fill's.
type levelBar struct {
	Name                         string
	Bags, Share, Low, High, Step int
	Of                           int
}
