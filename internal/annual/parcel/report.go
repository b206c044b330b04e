package parcel

import (
	"io"
	"strconv"

	"sixmile/internal/annual"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
)

// mostRows bounds a table of the report: two pages. What is longer stands in the
// workbook, and the report says so.
const mostRows = 96

// report writes the report to print.
func (p *parcel[C]) report(w io.Writer) error {
	words := p.words
	r := press.Report{
		Title: words.title(), Band: words.band(), Foot: words.foot(), Page: words.say("annual.page"),
		Facts: words.factRow(), Lead: words.lead(),
	}
	r.Subtitle = words.say("annual.report.subtitle", "program", words.Program.Name, "month", words.Lang.MonthYear(words.edition().Released), "code", words.edition().Code)
	r.Parts = append(r.Parts, words.inShort(), words.fall(), words.mapPart(atlas.HighestLevel), words.mapPart(atlas.ShareFound), words.mapPart(atlas.SampleCount))
	counties, err := words.countyTable()
	if err != nil {
		return err
	}
	since, err := words.since()
	if err != nil {
		return err
	}
	r.Parts = append(r.Parts, words.howTo(), counties, words.coverage(), words.shares(), words.byEdition(), since)
	for _, t := range p.b.Tables() {
		if own, ok := words.ownPart(t); ok {
			r.Parts = append(r.Parts, own)
		}
	}
	r.Parts = append(r.Parts, words.trust(), words.winter(), words.sources())
	pages, err := r.Pages()
	if err != nil {
		return err
	}
	return press.PDF(w, pages, press.PDFOptions{Title: words.title(), Lang: words.Lang.Tag(), Date: words.edition().Released})
}

// factRow is what is to be seen first.
func (w words) factRow() []press.Fact {
	s := w.x.State()
	townships := 0
	for _, v := range s.Counties {
		townships += len(v.Areas)
	}
	out := []press.Fact{
		{Number: w.Lang.Number(s.Samples), Text: w.say("annual.fact.bags")},
		{Number: w.Lang.Number(s.Finds), Text: w.say("annual.fact.finds")},
		{Number: w.Lang.Number(s.FoundIn), Text: w.say("annual.fact.counties", "all", len(s.Counties))},
		{Number: w.Lang.Number(s.Shown), Text: w.say("annual.fact.townships", "all", townships)},
	}
	return out
}

func (w words) lead() []string {
	var out []string
	if w.Program.Invented {
		out = append(out, w.say("paper.invented", "state", w.Program.State))
	}
	s := w.x.State()
	if s.HasFigures() {
		out = append(out, w.Lang.Count("map.found", s.WithFigures, "found", s.FoundIn,
			"townships", w.Lang.Count("map.found.townships", s.Shown, "found", s.WithFinds)))
	}
	out = append(out, w.Lang.SayOf("annual.what", string(w.name)), w.year()+" "+w.standing())
	if w.name == annual.OfficeName {
		out = append(out, w.say("annual.records"))
	}
	return append(out, w.say("annual.volunteers"), w.say("county.caution.advice"), w.say("annual.cite", "citation", w.citation()))
}

// inShort is the bags at each level, and the middle bag.
func (w words) inShort() press.Part {
	s := w.x.State()
	out := press.Part{Turn: true, Section: press.Section{Head: w.say("annual.report.short")}}
	if !s.HasFigures() {
		out.Paras = []string{w.say("map.found.blank")}
		return out
	}
	out.Paras = append(out.Paras, w.say("annual.report.levels"))
	out.Chart = press.Chart{Head: w.say("annual.chart.levels")}
	for _, b := range w.levelFills(s.Figures) {
		out.Chart.Max = max(out.Chart.Max, float64(b.Bags))
		row := press.ChartRow{Label: b.Name, At: float64(b.Bags),
			Number: w.say("annual.chart.number", "n", b.Bags, "share", w.percent(b.Share), "low", w.percent(b.Low), "high", w.percent(b.High))}
		if b.Of > 0 {
			row.Fill = atlas.Paint{Role: atlas.Level, Step: uint8(b.Step), Of: uint8(b.Of)}
		}
		out.Chart.Rows = append(out.Chart.Rows, row)
	}
	out.Chart.Ticks, out.Chart.Max = ticks(int(out.Chart.Max), w.Lang.Number)
	if l, known := gazette.Typical(s.Figures); known {
		out.After = append(out.After, w.say("annual.report.typical", "level", w.level(l)))
	}
	if text, told := w.fallOfAll(); told {
		out.After = append(out.After, text)
	}
	out.After = append(out.After, w.say("annual.report.range"))
	return out
}

// fallOfAll is what came in of the edition's own fall, in all counties that have a
// figure: between two numbers, since what was rounded does not add up. A county's 5
// finds are seven or fewer, and fives added up would tell of finds where there were
// none.
func (w words) fallOfAll() (text string, told bool) {
	counties := 0
	var bags, finds [2]int
	for _, v := range w.x.State().Counties {
		if !v.HasFall {
			continue
		}
		counties++
		least, most := edition.Behind(v.Fall.Samples)
		bags[0], bags[1] = bags[0]+max(least, 5), bags[1]+most // of five senders or more
		least, most = edition.Behind(v.Fall.Finds)
		finds[0], finds[1] = finds[0]+least, finds[1]+most
	}
	return w.Lang.Count("annual.report.fall", counties, "year", strconv.Itoa(w.edition().Season),
		"least", bags[0], "most", bags[1], "low", finds[0], "high", finds[1]), counties > 0
}

func (w words) level(l gazette.Level) string {
	c, known := l.Class(w.x.Issue.Scheme)
	switch {
	case !known:
		return w.say("legend.blank")
	case !l.Exact:
		return w.say("legend.atleast", "level", annual.LevelName(w.Lang, c))
	}
	return annual.LevelName(w.Lang, c)
}

// ticks are the words under a scale up to at least most, in steps of 1, 2, 2.5 or 5
// times a power of ten, and where the scale ends.
func ticks(most int, word func(int) string) (words []string, end float64) {
	step := 1
	for _, s := range []int{1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500} {
		if step = s; step*5 >= most {
			break
		}
	}
	for step*5 < most {
		step *= 2
	}
	for n := 0; ; n += step {
		words = append(words, word(n))
		if n >= most {
			return words, float64(n)
		}
	}
}

// mostMapped is how many counties a page has room to draw.
const mostMapped = 300

func (w words) mapPart(m atlas.Measure) press.Part {
	if len(w.x.Issue.Counties) > mostMapped {
		return press.Part{Section: press.Section{Head: w.Lang.SayOf("annual.map.head", m.String()), Paras: []string{w.say("annual.map.large")}}}
	}
	return press.Part{Turn: true, Map: w.stateMap(m), Section: press.Section{Head: w.Lang.SayOf("annual.map.head", m.String()),
		Paras: []string{w.Lang.SayOf("annual.map.say", m.String())}},
		After: w.mapSays(m), Small: []string{w.say("map.how.blank"), w.say("map.how.volunteers")}}
}

// mapSays are sentences under a map, each from its figures.
func (w words) mapSays(m atlas.Measure) []string {
	s := w.x.State()
	var top []*gazette.CountyView
	for _, v := range s.Counties {
		if v.HasFigures() {
			top = append(top, v)
		}
	}
	if len(top) == 0 {
		return []string{w.say("map.found.blank")}
	}
	switch m {
	case atlas.HighestLevel:
		return []string{w.say("map.how.highest"), w.say("map.how.lines")}
	case atlas.SampleCount:
		best := top[0]
		for _, v := range top {
			if v.Samples > best.Samples {
				best = v
			}
		}
		return []string{w.say("annual.map.most", "county", w.county(best), "n", best.Samples, "all", s.Samples)}
	}
	return []string{w.say("annual.report.range"), w.say("annual.report.chosen")}
}

// howTo is the level table, and what is not in the report.
func (w words) howTo() press.Part {
	t := press.Table{Head: []string{w.say("annual.col.level"), w.say("annual.col.meaning")}}
	s := w.x.Issue.Scheme
	for _, c := range s.Classes {
		meaning := w.Lang.SayOf("annual.meaning", c.Kind.String())
		if span := annual.Span(w.Lang, s, c); span != "" {
			meaning = w.say("annual.report.eggs", "span", span)
		}
		t.Rows = append(t.Rows, []string{annual.LevelName(w.Lang, c), meaning})
	}
	return press.Part{Turn: true, Section: press.Section{Head: w.say("map.how.head"),
		Paras: []string{w.say("map.how.lines"), w.say("map.how.group", "k", w.edition().K), w.say("map.how.blank"), w.say("map.how.none"), w.say("map.how.unconfirmed")},
		List:  w.notIn(), Table: t},
		Small: []string{w.say("annual.levels", "source", s.Source)}}
}
