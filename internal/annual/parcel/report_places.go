package parcel

import (
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/annual"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
)

// shown are the counties that a chart or a table of the report has room for: all,
// or those with the most bags, by name.
func (w words) shown() (list []*gazette.CountyView, left int) {
	list = slices.Clone(w.x.State().Counties)
	if len(list) <= mostRows {
		return list, 0
	}
	slices.SortStableFunc(list, func(a, b *gazette.CountyView) int { return b.Samples - a.Samples })
	left = len(list) - mostRows
	list = list[:mostRows]
	slices.SortStableFunc(list, func(a, b *gazette.CountyView) int { return strings.Compare(a.Name, b.Name) })
	return list, left
}

// more says what had no room.
func (w words) more(left int) []string {
	if left == 0 {
		return nil
	}
	return []string{w.Lang.Count("annual.report.more", left)}
}

// countyTable is the counties by level.
func (w words) countyTable() (press.Part, error) {
	t := press.Table{Head: []string{w.say("annual.col.county"), w.say("annual.report.col.townships"), w.say("annual.col.bags"), w.say("annual.col.none_found"), w.say("annual.col.unconfirmed")}}
	found := w.x.Issue.Scheme.Found()
	for _, c := range found {
		t.Head = append(t.Head, annual.LevelName(w.Lang, c))
	}
	t.Head = append(t.Head, w.say("annual.report.col.unsorted"), w.say("annual.col.with_eggs"))
	row := func(name, townships string, s gazette.Summary) []string {
		cells := []string{name, townships, w.Lang.Number(s.Samples), w.Lang.Number(s.None), w.Lang.Number(s.Unconfirmed)}
		for _, c := range found {
			cells = append(cells, w.Lang.Number(s.Counts[c.Rank]))
		}
		return append(cells, w.Lang.Number(s.CoarseFinds), w.Lang.Number(s.Finds))
	}
	list, left := w.shown()
	all := 0
	for _, v := range w.x.State().Counties {
		all += len(v.Areas)
	}
	for _, v := range list {
		t.Rows = append(t.Rows, row(v.Name, w.say("map.shown", "shown", v.Shown, "all", len(v.Areas)), v.Summary))
	}
	s := w.x.State()
	t.Rows = append(t.Rows, row(w.say("map.row.all"), w.say("map.shown", "shown", s.Shown, "all", all), s.Summary))
	return press.Part{Turn: true, Section: press.Section{Head: w.say("annual.sheet.counties"), Paras: []string{w.say("annual.report.counties")}, Table: t},
		Small: w.more(left)}, nil
}

// fall is what came in of the edition's own fall, by county.
func (w words) fall() press.Part {
	out := press.Part{Section: press.Section{Head: w.say("annual.report.fallhead", "year", strconv.Itoa(w.edition().Season)), Paras: []string{w.say("annual.report.fallsay")}},
		Chart: press.Chart{Head: w.say("annual.chart.fall")}}
	list, left := w.shown()
	for _, v := range list {
		row := press.ChartRow{Label: v.Name, Blank: !v.HasFall, Number: w.say("annual.chart.few")}
		if v.HasFall {
			row.At = float64(v.Fall.Samples)
			row.Number = w.say("annual.chart.with", "n", v.Fall.Samples, "finds", v.Fall.Finds)
			if v.Fall.SevenOrFewer() {
				row.Number = w.say("annual.chart.seven", "n", v.Fall.Samples)
			}
		}
		out.Chart.Max = max(out.Chart.Max, row.At)
		out.Chart.Rows = append(out.Chart.Rows, row)
	}
	out.Chart.Ticks, out.Chart.Max = ticks(int(out.Chart.Max), w.Lang.Number)
	out.Small = w.more(left)
	return out
}

// shares is the share of bags with eggs of each county, with its range.
func (w words) shares() press.Part {
	out := press.Part{Turn: true, Section: press.Section{Head: w.say("annual.report.shares"), Paras: []string{w.say("annual.report.shares.say")}},
		Chart: press.Chart{Head: w.say("annual.chart.share"), Max: 100, Ticks: w.hundredths()}, After: []string{w.say("annual.report.chosen")}}
	list, left := w.shown()
	for _, v := range list {
		row := press.ChartRow{Label: v.Name, Range: true, Blank: !v.HasShare, Number: w.say("legend.blank")}
		if v.HasShare {
			share, low, high := v.Share.PerHundred()
			row.At, row.Low, row.High = float64(share), float64(low), float64(high)
			row.Number = w.say("annual.chart.of", "finds", v.Share.Finds, "judged", v.Share.Judged)
		}
		out.Chart.Rows = append(out.Chart.Rows, row)
	}
	out.Small = w.more(left)
	return out
}

// hundredths are the words under a scale of shares.
func (w words) hundredths() (out []string) {
	for n := 0; n <= 100; n += 20 {
		out = append(out, w.percent(n))
	}
	return out
}

// coverage is how much of each county the map shows.
func (w words) coverage() press.Part {
	out := press.Part{Section: press.Section{Head: w.say("annual.report.coverage"), Paras: []string{w.say("annual.report.coverage.say", "k", w.edition().K)}},
		Chart: press.Chart{Head: w.say("annual.chart.coverage"), Max: 100, Ticks: w.hundredths()}}
	list, left := w.shown()
	for _, v := range list {
		row := press.ChartRow{Label: v.Name, Number: w.say("map.shown", "shown", v.Shown, "all", len(v.Areas))}
		if n := len(v.Areas); n > 0 {
			row.At = 100 * float64(v.Shown) / float64(n)
		}
		out.Chart.Rows = append(out.Chart.Rows, row)
	}
	out.After = []string{w.say("annual.report.joined")}
	out.Small = w.more(left)
	return out
}

// mostEditions bounds the chart of editions.
const mostEditions = 40

// byEdition is what each edition added, in all counties.
func (w words) byEdition() press.Part {
	out := press.Part{Turn: true, Section: press.Section{Head: w.say("annual.report.editions"), Paras: []string{w.say("annual.report.editions.say")}},
		Chart: press.Chart{Head: w.say("annual.chart.added")}}
	editions := w.x.Editions()
	left := max(len(editions)-mostEditions, 0)
	bags, finds := w.perEdition()
	for _, e := range editions[left:] {
		out.Chart.Max = max(out.Chart.Max, float64(bags[e.Number]))
		out.Chart.Rows = append(out.Chart.Rows, press.ChartRow{
			Label:  w.say("annual.chart.edition", "month", w.Lang.MonthYear(e.Released), "code", e.Code),
			Number: w.say("annual.chart.with", "n", bags[e.Number], "finds", finds[e.Number]), At: float64(bags[e.Number])})
	}
	out.Chart.Ticks, out.Chart.Max = ticks(int(out.Chart.Max), w.Lang.Number)
	out.After = []string{w.say("annual.report.notrend")}
	return out
}

// perEdition sums up the bags that each edition added, and those with eggs.
func (w words) perEdition() (bags, finds map[int]int) {
	bags, finds = make(map[int]int), make(map[int]int)
	for _, v := range w.x.State().Counties {
		rounds, err := w.x.Rounds(v)
		if err != nil {
			continue // the index was made of the same tranches: there is none
		}
		for _, r := range rounds {
			bags[r.Edition.Number] += r.Samples
			finds[r.Edition.Number] += r.Finds
		}
	}
	return bags, finds
}

// since is the townships with a first find, by county.
func (w words) since() (press.Part, error) {
	out := press.Part{Section: press.Section{Head: w.say("annual.report.since"), Paras: []string{w.say("annual.report.since.none")}}}
	t := press.Table{Head: []string{w.say("annual.col.county"), w.say("annual.report.firstfinds"), w.say("annual.report.firstshown")}}
	list, left := w.shown()
	for _, v := range list {
		s, ok, err := w.x.Since(v)
		if err != nil {
			return out, err
		}
		if !ok {
			return out, nil
		}
		out.Paras = []string{w.say("annual.report.since.say", "month", w.Lang.MonthYear(s.Last.Released), "code", s.Last.Code)}
		if len(s.FirstFinds)+len(s.First) > 0 {
			t.Rows = append(t.Rows, []string{v.Name, w.codes(s.FirstFinds), strconv.Itoa(len(s.First))})
		}
	}
	out.Table, out.Small = t, w.more(left)
	out.After = []string{w.say("annual.report.firstnote")}
	return out, nil
}

// codes lists townships, a few by name.
func (w words) codes(list []*gazette.TownshipView) string {
	const most = 5
	var out []string
	for _, a := range list[:min(most, len(list))] {
		out = append(out, a.Code)
	}
	if n := len(list) - most; n > 0 {
		out = append(out, w.Lang.Count("map.list.others", n))
	}
	if len(out) == 0 {
		return w.say("map.dash")
	}
	return strings.Join(out, ", ")
}

// trust is what "none found" is worth.
func (w words) trust() press.Part {
	out := press.Part{Turn: true, Section: press.Section{Head: w.say("county.trust.head")}}
	if d, known := w.x.Missed(); known {
		out.Paras = append(out.Paras, w.say("county.trust.missed", "eggs", gazette.Rounded(d)))
	}
	out.Paras = append(out.Paras, w.say("map.how.none"), w.say("map.how.unconfirmed"), w.say("map.how.volunteers"))
	t := press.Table{Head: []string{w.say("annual.col.method"), w.say("annual.col.soil_cm3"), w.say("annual.col.suspension_ml"), w.say("annual.col.aliquot_ml"), w.say("annual.col.missed")}}
	number := func(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }
	for _, m := range w.x.Issue.Methods {
		missed := w.say("map.dash")
		if d := m.MissedOneInTwenty(); d > 0 {
			missed = w.Lang.Number(gazette.Rounded(d))
		}
		t.Rows = append(t.Rows, []string{m.Name + " " + strconv.Itoa(m.Version), number(m.SoilCM3), number(m.SuspensionML), number(m.AliquotML), missed})
	}
	out.Table = t
	return out
}

// winter is what the published work says to do; none of it depends on figures.
func (w words) winter() press.Part {
	return press.Part{Section: press.Section{Head: w.say("county.winter.head"), List: []string{
		w.say("county.winter.nonhost") + " (" + w.say("county.winter.nonhost.source") + ")",
		w.say("county.winter.resistance") + " (" + w.say("county.winter.resistance.source") + ")",
		w.say("county.winter.drybean") + " (" + w.say("county.winter.drybean.source") + ")",
		w.say("county.winter.clean") + " (" + w.say("county.winter.clean.source") + ")"}}}
}

// sources closes the report.
func (w words) sources() press.Part {
	return press.Part{Turn: true, Section: press.Section{Head: w.say("annual.report.sources"), Paras: []string{
		w.say("annual.levels", "source", w.x.Issue.Scheme.Source), w.say("annual.report.intervals"), w.say("annual.cite", "citation", w.citation()),
		w.say("annual.report.check", "code", w.edition().Code)}, List: []string{
		w.say("county.caution.field"), w.say("county.caution.advice"), w.say("county.caution.soil"), w.say("county.caution.value"), w.say("annual.label")}}}
}
