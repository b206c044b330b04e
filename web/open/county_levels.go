package open

import (
	"fmt"
	"math"

	"sixmile/internal/assay"
	"sixmile/internal/gazette"
	"sixmile/internal/stat"
)

// bar is a share drawn as a bar with its range, in thousandths of its row.
type bar struct{ Length, Low, High int }

// barOf rounds a share and its interval to the nearest thousandth; what is there
// is never drawn as nothing.
func barOf(n, of int, i stat.Interval) bar {
	thousandths := func(f float64) int { return int(math.Round(1000 * f)) }
	b := bar{thousandths(float64(n) / float64(of)), thousandths(i.Low), thousandths(i.High)}
	if n > 0 {
		b.Length = max(b.Length, 2)
	}
	return b
}

// whisker is the path of the bar's range, with a short stroke at either end.
func (b bar) whisker() string {
	return fmt.Sprintf("M%d 5v10M%d 10H%dM%d 5v10", b.Low, b.Low, b.High, b.High)
}

// levelRow is a level with its number of bags.
type levelRow struct {
	Chip        chip
	Name, Range string
	Bags, Share string
	Bar         bar
}

// levels counts the county's bags by level. Those of coarse tranches, whose
// level is not shown, have a row of their own.
func (t teller) levels(v *gazette.CountyView) []levelRow {
	s := t.x.Issue.Scheme
	found := s.Found()
	var out []levelRow
	for _, b := range t.x.Bars(v.Figures) {
		share, low, high := b.PerHundred()
		r := levelRow{Bags: t.lang.Number(b.Bags), Share: t.say("county.levels.share", "share", share, "low", low, "high", high),
			Bar: barOf(b.Bags, b.Of, b.Interval)}
		switch c := b.Class; {
		case b.Unsorted:
			r.Name, r.Range = t.say("legend.found.unsorted"), t.say("county.levels.unsorted.range")
		case c.Kind == assay.None:
			r.Name, r.Range, r.Chip = t.className(c), t.say("county.levels.none.range"), t.classChip(c)
		case c.Kind == assay.Unconfirmed:
			r.Name, r.Range, r.Chip = t.className(c), t.say("county.levels.unconfirmed.range"), t.classChip(c)
		default:
			r.Name, r.Range, r.Chip = t.className(c), t.span(found, gazette.MarkOf(s, c).Lines-1), t.classChip(c)
		}
		out = append(out, r)
	}
	return out
}
