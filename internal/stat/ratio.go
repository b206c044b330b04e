package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Ratio is the ratio of the means of two groups of measurements.
type Ratio struct {
	Value float64 // mean of the upper group over mean of the lower one
	SE    float64 // delta method: √(v₁/m₂² + m₁² v₂/m₂⁴), v the variances of the means
	// Limits are Fieller's. Known is false where there are none: fewer than two
	// measurements in a group, no spread in either, or a lower mean that cannot
	// be told from zero, when the limits would not be one range.
	Limits Interval
	Known  bool
}

// RatioOfMeans returns the ratio of the means of two independent groups with
// its standard error (delta method) and its limits by Fieller's theorem (1954):
// the ratios r for which
//
//	(m₁ - r m₂)² ≤ t² (v₁ + r² v₂)
//
// The groups may spread differently, so t has Satterthwaite's degrees of
// freedom, taken at the estimate (Tamhane and Logan 2004). A lower limit under
// zero is given as zero, since what is counted is not negative. The error
// matches ErrImpossible: an empty group, a value that is negative or not finite,
// or a lower mean of zero.
func RatioOfMeans(upper, lower []float64, confidence float64) (Ratio, error) {
	if err := checkConfidence(confidence); err != nil {
		return Ratio{}, fmt.Errorf("RatioOfMeans: %w", err)
	}
	m1, v1, err := meanAndVariance(upper)
	if err != nil {
		return Ratio{}, fmt.Errorf("RatioOfMeans: upper group: %w", err)
	}
	m2, v2, err := meanAndVariance(lower)
	if err != nil {
		return Ratio{}, fmt.Errorf("RatioOfMeans: lower group: %w", err)
	}
	if m2 == 0 {
		return Ratio{}, fmt.Errorf("RatioOfMeans: %w: lower mean is zero", ErrImpossible)
	}
	r := Ratio{Value: m1 / m2}
	if len(upper) < 2 || len(lower) < 2 {
		r.SE = math.NaN()
		return r, nil
	}
	u, w := v1, r.Value*r.Value*v2
	r.SE = math.Sqrt(u+w) / m2
	if u+w == 0 {
		return r, nil
	}
	df := (u + w) * (u + w) / (u*u/float64(len(upper)-1) + w*w/float64(len(lower)-1))
	t := -distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(tail(confidence))
	r.Limits, r.Known = fieller(m1, v1, m2, v2, t)
	return r, nil
}

// fieller solves the inequality; it is false where its solution is not one
// range.
func fieller(m1, v1, m2, v2, t float64) (Interval, bool) {
	a := m2*m2 - t*t*v2
	c := m1*m1 - t*t*v1
	b := m1 * m2
	d := b*b - a*c
	if a <= 0 || d < 0 {
		return Interval{}, false
	}
	return Interval{Low: math.Max(0, (b-math.Sqrt(d))/a), High: (b + math.Sqrt(d)) / a}, true
}

// meanAndVariance gives the mean of a group and the variance of that mean.
func meanAndVariance(group []float64) (mean, variance float64, err error) {
	n := float64(len(group))
	if n == 0 {
		return 0, 0, fmt.Errorf("%w: empty group", ErrImpossible)
	}
	for _, x := range group {
		if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
			return 0, 0, fmt.Errorf("%w: %v", ErrImpossible, x)
		}
		mean += x / n
	}
	for _, x := range group {
		variance += (x - mean) * (x - mean)
	}
	if n < 2 {
		return mean, 0, nil
	}
	return mean, variance / (n - 1) / n, nil
}
