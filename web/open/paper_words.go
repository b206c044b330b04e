package open

import (
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
)

// paperImprint is what a map on paper says about itself.
func (t teller) paperImprint(p picked) atlas.Imprint {
	im := t.imprint(t.county(p.all), t.measureLine(p.measure), p.of.Summary, t.measureWords(p))
	if n := p.of.Rest.Samples; n > 0 {
		im.Totals = t.lang.Count("paper.totals", p.of.Samples, "year", year(p.of.Window.Through), "rest", n)
	}
	if im.Source != "" {
		im.Source += " " + t.say("paper.source.field")
	}
	switch p.measure {
	case atlas.ShareFound:
		im.Source += " " + t.say("paper.source.share")
	case atlas.Standings:
		im.Source += " " + t.say("paper.source.standing")
	case atlas.RecentHighest:
		im.Source += " " + t.say("paper.source.recent")
	}
	if t.about.Invented {
		im.Source = t.say("paper.invented", "state", t.about.State) + " " + im.Source
	}
	// The bars' fills are those of levels, which the legend of a number has not.
	if p.measure.Steps() == nil && p.measure != atlas.Standings {
		im.Bars = t.paperBars(p.of)
	}
	if p.measure == atlas.TypicalLevel && p.of.CoarseFinds > 0 {
		im.Words.Desc += " " + t.say("county.how.coarse")
	}
	return im
}

// measureLine is the measure in words, under a map's title.
func (t teller) measureLine(m atlas.Measure) string {
	return t.lang.SayOf("paper.subtitle", m.String(), "from", year(t.firstRecent()), "to", t.season(), "month", t.lang.MonthYear(t.edition().Released))
}

// paperBars are the bags at each level.
func (t teller) paperBars(v *gazette.CountyView) []atlas.Bar {
	var out []atlas.Bar
	for _, b := range t.x.Bars(v.Figures) {
		bar := atlas.Bar{Count: b.Bags, Number: t.lang.Number(b.Bags)}
		if b.Unsorted {
			bar.Name = t.say("legend.found.unsorted")
		} else {
			bar.Mark, bar.Name = gazette.MarkOf(t.x.Issue.Scheme, b.Class), t.className(b.Class)
		}
		out = append(out, bar)
	}
	return out
}

// measureWords are the sentences beside a map by a measure.
func (t teller) measureWords(p picked) atlas.Words {
	head := t.lang.SayOf("paper.legend", p.measure.String(), "from", year(t.firstRecent()), "to", t.season())
	return t.wordsOf(p.measure, head, t.paperDesc(p), p.unsure())
}

// wordsOf are the sentences beside any map by a measure; unsure says that a place
// has figures and no share.
func (t teller) wordsOf(m atlas.Measure, head, desc string, unsure bool) atlas.Words {
	w := t.words(head, desc)
	w.BarsHead = t.say("paper.bars")
	if m.Steps() != nil {
		w.Legend = t.amountRows(m, unsure, w.Legend)
	}
	switch m {
	case atlas.Standings:
		w.Legend = t.standingRows(w.Legend)
	case atlas.RecentHighest:
		w.Legend = append(w.Legend, atlas.LegendRow{Mark: atlas.Mark{Standing: atlas.Earlier},
			Name: t.say("paper.legend.older"), Note: t.say("paper.legend.older.note", "from", year(t.firstRecent()))})
	case atlas.NewFigures:
		lowest := atlas.Mark{Standing: atlas.Found, Lines: 1, Of: len(t.x.Issue.Scheme.Found())}
		w.Legend = append(w.Legend,
			atlas.LegendRow{Mark: atlas.Mark{Standing: atlas.Earlier}, Name: t.say("paper.legend.same"), Note: t.say("paper.legend.same.note")},
			atlas.LegendRow{First: true, Mark: lowest, Name: t.say("paper.legend.first"), Note: t.say("paper.legend.first.note")})
	}
	return w
}

// amountRows is the legend of a measure that is a number: its steps, and those
// of the rows given that explain what else such a map has.
func (t teller) amountRows(m atlas.Measure, unsure bool, rows []atlas.LegendRow) []atlas.LegendRow {
	value := func(n int) string {
		if m == atlas.ShareFound {
			return t.say("paper.percent", "n", n)
		}
		return t.lang.Number(n)
	}
	steps := m.Steps()
	var out []atlas.LegendRow
	for _, s := range steps {
		name := t.say("paper.step", "from", value(s.From), "to", value(s.To))
		switch {
		case s.To < 0:
			name = t.say("paper.step.open", "from", value(s.From))
		case s.From == s.To:
			name = value(s.From)
		}
		out = append(out, atlas.LegendRow{Mark: s.Mark, Name: name, Value: value(s.From)})
	}
	for _, r := range rows {
		switch {
		case r.Joined:
			r.Mark, r.Value = steps[1].Mark, value(steps[1].From)
			out = append(out, r)
		case r.Mark.Standing == atlas.NoFigures, r.Mark.Standing == atlas.Recalled:
			out = append(out, r)
		case r.Mark.Standing == atlas.Unconfirmed && unsure && m == atlas.ShareFound:
			r.Note = t.say("paper.legend.unsure.note")
			out = append(out, r)
		}
	}
	return out
}

// unsure tells whether a place has figures and no share: all its bags are
// unconfirmed.
func (p picked) unsure() bool {
	return slices.ContainsFunc(p.of.Areas, func(a gazette.TownshipView) bool { return a.HasFigures() && a.Judged() == 0 }) ||
		slices.ContainsFunc(p.of.Joined, func(j gazette.JoinedView) bool { return j.Judged() == 0 })
}

// paperDesc is the sentence that says what the map shows.
func (t teller) paperDesc(p picked) string {
	name := t.county(p.all)
	if p.of.Shown == 0 {
		return t.say("county.desc.blank", "county", name)
	}
	line := t.measureLine(p.measure)
	return t.lang.Count("paper.desc", p.of.Shown, "county", name, "measure", line, "found", p.of.WithFinds)
}
