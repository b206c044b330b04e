package gazette

import (
	"math"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/stat"
)

// Bar is how many of a sum's bags are at one level, with the Wilson interval of
// their share of all of them at stat.Confidence.
type Bar struct {
	Class assay.Class
	// Unsorted is the bar of finds whose level is not shown; its Class is zero.
	Unsorted bool
	Bags, Of int
	Interval stat.Interval
}

// PerHundred is the bar's share and its interval in hundredths, rounded as
// Share's are.
func (b Bar) PerHundred() (share, low, high int) { return perHundred(b.Bags, b.Of, b.Interval) }

// Bars counts the bags of a sum by level, lowest first, finds without a level
// last where there are any. Their bags add up to the sum's; nil without bags.
func (x *Index) Bars(f edition.Figures) []Bar {
	if f.Samples == 0 {
		return nil
	}
	var out []Bar
	add := func(b Bar) {
		b.Of = f.Samples
		// The sum has bags, and no more at one level than there are.
		b.Interval, _ = stat.Wilson(b.Bags, b.Of, stat.Confidence)
		out = append(out, b)
	}
	for i, c := range x.Issue.Scheme.Classes {
		switch c.Kind {
		case assay.None:
			add(Bar{Class: c, Bags: f.None})
		case assay.Unconfirmed:
			add(Bar{Class: c, Bags: f.Unconfirmed})
		default:
			add(Bar{Class: c, Bags: f.Counts[i]})
		}
	}
	if f.CoarseFinds > 0 {
		add(Bar{Unsorted: true, Bags: f.CoarseFinds})
	}
	return out
}

// Typical is the level of the middle bag, of two middle ones the lower: at
// least half of the bags are at it or under it. False where it is not known.
func Typical(f edition.Figures) (Level, bool) {
	rank, known := f.Typical()
	return Level{Rank: rank, Exact: true}, known
}

// perHundred rounds the share as maps do (atlas.Percent: only none is 0 and only
// all is 100) and the interval outward, so that what is printed is never narrower
// than it.
func perHundred(n, of int, i stat.Interval) (share, low, high int) {
	return atlas.Percent(n, of), floorPercent(i.Low), ceilPercent(i.High)
}

// Ends that are whole hundredths but for the rounding of a machine stay whole.
const hair = 1e-9

func floorPercent(f float64) int { return int(math.Floor(100*f + hair)) }
func ceilPercent(f float64) int  { return int(math.Ceil(100*f - hair)) }
