package stat

import (
	"fmt"
	"math"
	"slices"
)

// Quantile is the value under which a share p of the values lies, by linear
// interpolation between the values in order: the value at 1 + p(n-1), which is
// definition 7 of Hyndman and Fan (1996), Am. Stat. 50:361-365. The values need
// not be sorted; they stay as they are.
func Quantile(p float64, values []float64) (float64, error) {
	if len(values) == 0 || !(p >= 0 && p <= 1) {
		return 0, fmt.Errorf("Quantile: %w: %d values, share %v", ErrImpossible, len(values), p)
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	if math.IsNaN(sorted[0]) { // NaN sorts first
		return 0, fmt.Errorf("Quantile: %w: a value is no number", ErrImpossible)
	}
	at := p * float64(len(sorted)-1)
	low := int(at)
	if low == len(sorted)-1 {
		return sorted[low], nil
	}
	return sorted[low] + (at-float64(low))*(sorted[low+1]-sorted[low]), nil
}

// GeometricMean is the nth root of the product of n values over zero: the mean to
// describe densities by, which spread by factors.
func GeometricMean(values []float64) (float64, error) {
	if len(values) == 0 {
		return 0, fmt.Errorf("GeometricMean: %w: no values", ErrImpossible)
	}
	sum := 0.0
	for _, v := range values {
		if !(v > 0) || math.IsInf(v, 1) {
			return 0, fmt.Errorf("GeometricMean: %w: %v", ErrImpossible, v)
		}
		sum += math.Log(v)
	}
	return math.Exp(sum / float64(len(values))), nil
}
