package gazette

import (
	"slices"

	"sixmile/internal/edition"
	"sixmile/internal/stat"
)

// Contrast is two shares beside each other, of bags that are not the same, and
// the interval of how much larger the first is: Newcombe 1998, method 10, at
// stat.Confidence. Who sent bags in chose to, here and there, so a difference is
// one of bags and tells no cause.
type Contrast struct {
	Here, There Share
	Interval    stat.Interval // of Here minus There, -1 to 1
}

// contrast is false where either side has no bag that is sure either way.
func contrast(here, there edition.Figures) (Contrast, bool) {
	i, err := stat.Newcombe(here.Finds, here.Judged(), there.Finds, there.Judged(), stat.Confidence)
	if err != nil {
		return Contrast{}, false
	}
	a, _ := shareOf(here)
	b, _ := shareOf(there)
	return Contrast{Here: a, There: b, Interval: i}, true
}

// PerHundred is the interval in whole hundredths, rounded outward.
func (c Contrast) PerHundred() (low, high int) {
	return floorPercent(c.Interval.Low), ceilPercent(c.Interval.High)
}

// Turned is the same contrast the other way round.
func (c Contrast) Turned() Contrast {
	return Contrast{Here: c.There, There: c.Here, Interval: stat.Interval{Low: -c.Interval.High, High: -c.Interval.Low}}
}

// Lean tells which way a contrast points.
type Lean int

// The ways. Open means that the interval holds no difference at all, or one of
// less than a bag in a hundred.
const (
	Open Lean = iota
	More
	Fewer
)

// Lean is More or Fewer only where the whole interval is on that side of zero,
// a hundredth at the least.
func (c Contrast) Lean() Lean {
	low, high := c.PerHundred()
	switch {
	case low >= 1:
		return More
	case high <= -1:
		return Fewer
	}
	return Open
}

// Against compares the county with another.
func (v *CountyView) Against(n *CountyView) (Contrast, bool) { return contrast(v.Figures, n.Figures) }

// Elsewhere is the rest of the state: everything but one county.
type Elsewhere struct {
	Summary
	Shown, WithFinds int
	Share            Share
	HasShare         bool
}

// Elsewhere sums up every county but v.
func (x *Index) Elsewhere(v *CountyView) (Elsewhere, error) {
	others := slices.DeleteFunc(slices.Clone(x.Issue.Tranches), func(t edition.Tranche) bool { return t.County == v.ID })
	sum, err := summarize(x.ranks, others)
	if err != nil {
		return Elsewhere{}, err
	}
	e := Elsewhere{Summary: sum, Shown: x.state.Shown - v.Shown, WithFinds: x.state.WithFinds - v.WithFinds}
	e.Share, e.HasShare = shareOf(sum.Figures)
	return e, nil
}

// AgainstRest compares the county with the rest of the state. The county itself
// is left out of it: Newcombe's interval is for bags that are not the same.
func (v *CountyView) AgainstRest(e Elsewhere) (Contrast, bool) { return contrast(v.Figures, e.Figures) }
