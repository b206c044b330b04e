package assay

import (
	"fmt"
	"math"
)

// Chart is a control chart of check samples: portions of one lot of soil of
// known density, or the same slide counted again, one point a tray.
//
// It works in square roots of densities. Counting leaves a scatter that grows
// with the density itself and is the same at every density once roots are taken
// (Bartlett 1936), so one sigma serves the whole chart. Lines are turned back
// into densities for drawing.
type Chart struct {
	Center float64 // root of the density aimed at
	Sigma  float64 // standard deviation of a root
}

// MinBaseline is the fewest results a chart can be built on: twenty, common
// practice (twenty to twenty-five subgroups) with no source.
const MinBaseline = 20

// ChartOf builds a chart on a run of good results in the order they were made.
// Sigma is the mean moving range over 1.128, the expected range of two normal
// values (tables of control chart constants give d₂ = 1.128), so that a slow
// drift does not widen the lines that should catch it. The error is an *Invalid
// at baseline: TooSmall for fewer than MinBaseline results, Negative or
// NotFinite, or NotPositive when they do not vary at all.
func ChartOf(baseline []Density) (Chart, error) {
	if len(baseline) < MinBaseline {
		return Chart{}, fmt.Errorf("ChartOf: %w", findings{"baseline": TooSmall}.err())
	}
	sum, moved, last := 0.0, 0.0, 0.0
	for i, d := range baseline {
		if p := belowZero(float64(d)); p != "" {
			return Chart{}, fmt.Errorf("ChartOf: %w", findings{"baseline": p}.err())
		}
		root := math.Sqrt(float64(d))
		sum += root
		if i > 0 {
			moved += math.Abs(root - last)
		}
		last = root
	}
	c := Chart{Center: sum / float64(len(baseline)), Sigma: moved / float64(len(baseline)-1) / 1.128}
	if c.Sigma == 0 {
		return Chart{}, fmt.Errorf("ChartOf: %w", findings{"baseline": NotPositive}.err())
	}
	return c, nil
}

// ChartBefore is the chart of a check soil of known density before there are
// MinBaseline results of it: sigma is what counting and cysts leave at the
// least, Method.DensitySpread, in roots. A real lab scatters more, so it flags
// too often rather than too seldom, and pages say that it is provisional. The
// error is an *Invalid: of the method with its fields under "method.", or at
// target.
func ChartBefore(target Density, m Method) (Chart, error) {
	found := m.problems().under("method.")
	found.add("target", amountProblem(float64(target), float64(MaxDensity)))
	if err := found.err(); err != nil {
		return Chart{}, fmt.Errorf("ChartBefore: %w", err)
	}
	// The derivative of a root: sd of √d is sd of d over 2√d.
	root := math.Sqrt(float64(target))
	return Chart{Center: root, Sigma: float64(m.DensitySpread(target)) / (2 * root)}, nil
}

// Line is the density at so many sigmas from the center: 0 the center line, -3
// and 3 the outer limits. A line that would lie under zero is zero.
func (c Chart) Line(sigmas float64) Density {
	root := math.Max(0, c.Center+sigmas*c.Sigma)
	return Density(root * root)
}

// Sigmas is how far a result lies from the center.
func (c Chart) Sigmas(d Density) float64 {
	return (math.Sqrt(float64(d)) - c.Center) / c.Sigma
}

// Rule is a rule by which a point of a chart is flagged. Together they are the
// four zone rules of the Western Electric handbook (1956, from memory); the
// sides of the center line are kept apart.
type Rule uint8

// The rules.
const (
	BeyondThree  Rule = iota + 1 // one point beyond three sigmas
	TwoOfThree                   // two of three in a row beyond two sigmas, one side
	FourOfFive                   // four of five in a row beyond one sigma, one side
	EightOneSide                 // eight in a row on one side of the center
)

// String is the rule's key.
func (r Rule) String() string {
	switch r {
	case BeyondThree:
		return "beyond_three"
	case TwoOfThree:
		return "two_of_three"
	case FourOfFive:
		return "four_of_five"
	case EightOneSide:
		return "eight_one_side"
	}
	return ""
}

// Rules lists the rules.
func Rules() []Rule { return []Rule{BeyondThree, TwoOfThree, FourOfFive, EightOneSide} }

// Point is one result on a chart.
type Point struct {
	Density Density
	Sigmas  float64
	Flags   []Rule // empty: nothing to say
}

// Points flags a series of results in the order they were made. A rule is
// flagged at the point that completes it, and that point must itself lie in the
// zone. With all four rules a lab in good order sees a flag about one time in
// 92 points, with BeyondThree alone one in 370 (Champ and Woodall 1987): a flag
// asks for a look, it proves nothing.
func (c Chart) Points(series []Density) []Point {
	points := make([]Point, len(series))
	for i, d := range series {
		points[i] = Point{Density: d, Sigmas: c.Sigmas(d)}
		for _, rule := range Rules() {
			if rule.completes(points[:i+1]) {
				points[i].Flags = append(points[i].Flags, rule)
			}
		}
	}
	return points
}

// completes reports whether the last point completes the rule.
func (r Rule) completes(points []Point) bool {
	switch r {
	case BeyondThree:
		return zone(points, 1, 1, 3)
	case TwoOfThree:
		return zone(points, 2, 3, 2)
	case FourOfFive:
		return zone(points, 4, 5, 1)
	case EightOneSide:
		return zone(points, 8, 8, 0)
	}
	return false
}

// zone reports whether at least need of the last span points, the last among
// them, lie beyond so many sigmas on the last one's side.
func zone(points []Point, need, span int, sigmas float64) bool {
	last := points[len(points)-1].Sigmas
	side := math.Copysign(1, last)
	if !(side*last > sigmas) {
		return false
	}
	beyond := 0
	for _, p := range points[max(0, len(points)-span):] {
		if side*p.Sigmas > sigmas {
			beyond++
		}
	}
	return beyond >= need
}
