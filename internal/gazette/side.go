package gazette

import (
	"sixmile/internal/atlas"
	"sixmile/internal/stat"
)

// Side is a half of a county, named by where it lies.
type Side string

// The halves, each with the one across from it.
const (
	North     Side = "n"
	East      Side = "e"
	South     Side = "s"
	West      Side = "w"
	Northeast Side = "ne"
	Southeast Side = "se"
	Southwest Side = "sw"
	Northwest Side = "nw"
)

// halves lists the ways to cut a county in two: the middle of a township is on
// the first side of a cut where x*X + y*Y is above zero, with X eastward and Y
// northward from the middle of the county in half widths and half heights.
var halves = []struct {
	side, across Side
	x, y         float64
}{
	{North, South, 0, 1}, {East, West, 1, 0}, {Northeast, Southwest, 1, 1}, {Southeast, Northwest, 1, -1},
}

// Part is the half of a county where the finds are.
type Part struct {
	Side, Across             Side
	Found, Shown             int // townships of Side with eggs, of those with figures of their own
	FoundAcross, ShownAcross int // and of the other half
}

// partConfidence is 95 % shared out over the four cuts that are tried
// (Bonferroni), so that a county without any pattern seldom shows one.
const partConfidence = 1 - (1-stat.Confidence)/4

// Part tells which half of the county has finds where the other has mostly none.
//
// The rule, for each of four cuts through the middle of the county: eggs were
// found in at least two thirds of one half's townships with figures of their own
// and in at most one third of the other's, and the difference is more than
// chance makes: its interval (Newcombe 1998, method 10) at 98.75 % lies above
// zero. Where several cuts pass, the one whose interval starts highest is taken.
// A township lies where its middle lies; one on the line is in neither half.
// False: no clear part.
//
// The rule is ours; no source. It goes by townships, and one with more bags is
// likelier to have a find.
func (v *CountyView) Part() (Part, bool) {
	lo, hi, ok := bounds(v.Outline)
	if !ok || hi.X == lo.X || hi.Y == lo.Y {
		return Part{}, false
	}
	var best Part
	bestLow := 0.0
	for _, h := range halves {
		p := Part{Side: h.side, Across: h.across}
		for i := range v.Areas {
			a := &v.Areas[i]
			x, y, ok := middle(a.Outline, lo, hi)
			if at := h.x*x + h.y*y; ok && a.HasFigures() {
				p.count(at, a.Finds > 0)
			}
		}
		if p.Found*p.ShownAcross < p.FoundAcross*p.Shown {
			p = Part{p.Across, p.Side, p.FoundAcross, p.ShownAcross, p.Found, p.Shown}
		}
		if low, ok := p.clear(); ok && low > bestLow {
			best, bestLow = p, low
		}
	}
	return best, bestLow > 0
}

// onLine is how near to the line a middle is on it, in half widths of a county:
// outlines are in whole meters.
const onLine = 1e-3

func (p *Part) count(at float64, found bool) {
	switch {
	case at > onLine:
		p.Shown++
		if found {
			p.Found++
		}
	case at < -onLine:
		p.ShownAcross++
		if found {
			p.FoundAcross++
		}
	}
}

// clear gives the lower end of the interval where the rule is met.
func (p Part) clear() (low float64, ok bool) {
	if 3*p.Found < 2*p.Shown || 3*p.FoundAcross > p.ShownAcross {
		return 0, false
	}
	i, err := stat.Newcombe(p.Found, p.Shown, p.FoundAcross, p.ShownAcross, partConfidence)
	return i.Low, err == nil && i.Low > 0
}

// middle is the middle of a shape's box, in half widths and half heights from
// the middle of the box lo, hi.
func middle(s atlas.Shape, lo, hi atlas.Point) (x, y float64, ok bool) {
	a, b, ok := bounds(s)
	along := func(a, b, lo, hi int32) float64 {
		return (float64(a) + float64(b) - float64(lo) - float64(hi)) / (float64(hi) - float64(lo))
	}
	return along(a.X, b.X, lo.X, hi.X), along(a.Y, b.Y, lo.Y, hi.Y), ok
}
