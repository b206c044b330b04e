package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Dispersion tells whether counts of one suspension differ more than counting
// alone makes them.
type Dispersion struct {
	Statistic float64 // index of dispersion: about DF when only counting is at work
	DF        int     // number of counts less one; 0: not tested
	P         float64 // chance of a statistic this large or larger, counting alone at work
	Phi       float64 // Statistic / DF: variance over mean, about 1 when only counting is at work
}

// Tested reports whether there was anything to test.
func (d Dispersion) Tested() bool { return d.DF > 0 }

// MinExpected is the fewest things expected in each count for the test to be
// made: one. Under it the chi-square distribution is no guide, and the limits of
// so few are wide anyway. (Cochran 1954 asks for no expectation under one.)
const MinExpected = 1

// IndexOfDispersion tests whether counts come from one Poisson process looked
// at for so long each: counts of eggs in portions of so many milliliters of one
// well-stirred suspension. With N counted in all and t the exposures,
//
//	X² = Σ (xᵢ - eᵢ)² / eᵢ,  eᵢ = N tᵢ / Σt
//
// is about chi-square with one degree of freedom less than there are counts
// (Fisher, Thornton and Mackenzie 1922); with equal exposures it is Σ(x - x̄)²/x̄.
// The test is one-sided: only counts that differ too much are of interest.
//
// The zero Dispersion comes back when there is nothing to test: one count, or
// fewer than MinExpected expected in one of them. The error matches
// ErrImpossible: a negative count, an exposure that is not above zero, or lists
// of different lengths.
func IndexOfDispersion(counts []int, exposures []float64) (Dispersion, error) {
	if len(counts) != len(exposures) {
		return Dispersion{}, fmt.Errorf("IndexOfDispersion: %w: %d counts, %d exposures", ErrImpossible, len(counts), len(exposures))
	}
	n, total := 0.0, 0.0
	for i, x := range counts {
		if x < 0 || !(exposures[i] > 0) || math.IsInf(exposures[i], 1) {
			return Dispersion{}, fmt.Errorf("IndexOfDispersion: %w: count %d in %v", ErrImpossible, x, exposures[i])
		}
		n += float64(x)
		total += exposures[i]
	}
	if len(counts) < 2 {
		return Dispersion{}, nil
	}
	d := Dispersion{DF: len(counts) - 1}
	for i, x := range counts {
		expected := n * exposures[i] / total
		if expected < MinExpected {
			return Dispersion{}, nil
		}
		off := float64(x) - expected
		d.Statistic += off * off / expected
	}
	d.P = chiSquareAbove(d.Statistic, d.DF)
	d.Phi = d.Statistic / float64(d.DF)
	return d, nil
}

// chiSquareAbove is the chance that a chi-square variable with df degrees of
// freedom exceeds x.
func chiSquareAbove(x float64, df int) float64 {
	return mathext.GammaIncRegComp(float64(df)/2, x/2)
}
