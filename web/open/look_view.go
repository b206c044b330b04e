package open

import (
	"math"
	"strconv"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/lookahead"
)

// lookView is everything the look-ahead shows.
type lookView struct {
	Form   lookForm
	Levels []startLevel
	Set    lookahead.Set
	Newer  bool // another set is in force now
	Table  string
	Trials []trialRow // the set against published series

	Start     string // a sentence: what it started from
	Cuts      []lookCut
	Rotations []lookAnswer
	Soybean   bool // at least one year of soybean is in it
	Unknown   bool // great northern beans are in it
}

// lookCut is a cut point of the level table.
type lookCut struct {
	Density int
	Level   string // the level that ends there
}

// lookAnswer is one rotation with what it may come to.
type lookAnswer struct {
	Name  string // A to D
	Crops string // in a row, as words
	With  string // what stands in it beside crops; empty for nothing
	Years int
	Short string // the sentence below its chart
	End   lookRow
	Yield string // the soybean years' losses together
	Rows  []lookRow
	Chart lookChart
}

// lookRow is one fall.
type lookRow struct {
	When, Crop   string
	Middle       string
	Half, Eight  string
	Under        []string
	Yield        string
	YieldBetween string
}

// answer fills in what each rotation comes to.
func (v *lookView) answer(l *catalog.Lang, s assay.Scheme, ask lookAsk, outlooks []lookahead.Outlook) {
	start := ask.Field.Start
	if start.High > 0 {
		v.Start = l.Say("look.start.level", "level", l.SayOf("level", v.Form.Level), "low", whole(start.Low), "high", whole(start.High))
	} else {
		v.Start = l.Say("look.start.count", "eggs", whole(start.Low))
	}
	for _, c := range s.Found() {
		if !math.IsInf(float64(c.Upper), 1) {
			v.Cuts = append(v.Cuts, lookCut{whole(float64(c.Upper)), l.SayOf("level", c.Name)})
		}
	}
	top := chartTop(outlooks)
	for i, o := range outlooks {
		r := v.Form.Rotations[ask.At[i]]
		a := lookAnswer{Name: r.Name, Crops: cropsInWords(l, o.Plan.Crops), With: l.SayOf("look.with", withOf(o.Plan)), Years: len(o.Plan.Crops)}
		for year, y := range o.Years {
			a.Rows = append(a.Rows, rowOf(l, year, y))
			v.Soybean = v.Soybean || y.Yield != nil
			v.Unknown = v.Unknown || y.Crop == lookahead.GreatNorthern
		}
		a.End = a.Rows[len(a.Rows)-1]
		last := o.Last().Eggs
		a.Short = l.Count("look.short", a.Years, "middle", eggsWord(l, last.Median), "low", eggsWord(l, last.Low80), "high", eggsWord(l, last.High80))
		a.Yield = lostOver(l, o)
		a.Chart = chartOf(l, o, v.Cuts, top)
		a.Chart.Label = l.Say("look.chart.label", "name", a.Name, "crops", a.Crops)
		v.Rotations = append(v.Rotations, a)
	}
}

func withOf(p lookahead.Plan) string {
	switch {
	case p.Weeds && p.Volunteers:
		return "both"
	case p.Weeds:
		return "weeds"
	case p.Volunteers:
		return "volunteers"
	}
	return "neither"
}

func cropsInWords(l *catalog.Lang, crops []lookahead.Crop) string {
	var names []string
	for _, c := range crops {
		names = append(names, l.SayOf("look.row", string(c)))
	}
	return strings.Join(names, " · ")
}

func rowOf(l *catalog.Lang, year int, y lookahead.Year) lookRow {
	row := lookRow{
		When: l.Say("look.year", "n", strconv.Itoa(year)), Middle: eggsWord(l, y.Eggs.Median),
		Half:  l.Say("look.between", "low", eggsWord(l, y.Eggs.Low50), "high", eggsWord(l, y.Eggs.High50)),
		Eight: l.Say("look.between", "low", eggsWord(l, y.Eggs.Low80), "high", eggsWord(l, y.Eggs.High80)),
	}
	if year == 0 {
		row.When = l.Say("look.now")
	} else {
		row.Crop = l.SayOf("look.row", string(y.Crop))
	}
	for _, u := range y.Under {
		row.Under = append(row.Under, chanceWord(l, u))
	}
	if y.Yield != nil {
		row.Yield = l.Say("look.percent", "n", whole(100*y.Yield.Median))
		row.YieldBetween = l.Say("look.percent.between", "low", whole(100*y.Yield.Low80), "high", whole(100*y.Yield.High80))
	}
	return row
}

// lostOver is the range of losses over all soybean years of a rotation: from the
// least of the year that loses least to the most of the one that loses most.
func lostOver(l *catalog.Lang, o lookahead.Outlook) string {
	low, high, any := 1.0, 0.0, false
	for _, y := range o.Years {
		if y.Yield != nil {
			low, high, any = min(low, 1-y.Yield.High80), max(high, 1-y.Yield.Low80), true
		}
	}
	if !any {
		return l.Say("look.nosoybean")
	}
	return l.Say("look.percent.between", "low", whole(100*low), "high", whole(100*high))
}

// eggsWord writes a density with two digits that count.
func eggsWord(l *catalog.Lang, eggs float64) string {
	if eggs < chartLow {
		return l.Say("look.few", "n", chartLow)
	}
	return l.Number(twoDigits(eggs))
}

// chanceWord writes a chance of 100, and never that something is certain.
func chanceWord(l *catalog.Lang, p float64) string {
	n := whole(100 * p)
	switch {
	case n < 1:
		return l.Say("look.chance.under")
	case n > 99:
		return l.Say("look.chance.over")
	}
	return l.Say("look.chance", "n", n)
}

// trialRow is one published count against the set's band.
type trialRow struct {
	Name, Fall, From, Seen, Eight string
	Inside                        bool
	Low, Wide, At                 float64 // the band and the count on a scale of trialWide
}

// trialWide is the width of a trial's drawing: powers of ten from 10 to 100,000.
const trialWide = 120

func trialRows(l *catalog.Lang, verdicts []lookahead.Verdict) []trialRow {
	var out []trialRow
	at := func(eggs float64) float64 {
		return math.Round(10*trialWide*min(max((math.Log10(eggs)-1)/4, 0), 1)) / 10
	}
	for _, v := range verdicts {
		out = append(out, trialRow{
			Name: l.SayOf("look.trial", v.Trial), Fall: l.Say("look.year", "n", strconv.Itoa(v.Year)),
			From: l.Number(whole(v.From)), Seen: l.Number(whole(v.Seen)), Inside: v.Inside,
			Eight: l.Say("look.between", "low", eggsWord(l, v.Eggs.Low80), "high", eggsWord(l, v.Eggs.High80)),
			Low:   at(v.Eggs.Low80), Wide: at(v.Eggs.High80) - at(v.Eggs.Low80), At: at(v.Seen),
		})
	}
	return out
}

// heldOf counts the trials' counts inside the band.
func heldOf(rows []trialRow) (inside int) {
	for _, r := range rows {
		if r.Inside {
			inside++
		}
	}
	return inside
}

// plainNumber writes a figure of a parameter set as it was typed.
func plainNumber(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
