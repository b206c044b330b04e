package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// NegativeBinomial returns limits of the mean behind a count of things that
// come in clumps, so that the variance of the count is phi times its mean.
//
// The count is taken as negative binomial with mean m and size m/(phi-1): what
// comes of clumps strewn at random whose sizes follow a logarithmic series
// (Quenouille 1949), and so fit for portions of any volume, whose sum is of the
// same kind. The limits are the two means that leave one tail each, as for
// Poisson (Garwood 1936); at phi 1 they are the Poisson limits. phi is taken as
// known. Where it was estimated from few portions the limits cover less often
// than they say: stat's tests state by how much.
//
// A phi under 1 is taken as 1. A phi above the count is taken as the count, for
// no clump seen can hold more than was seen in all.
func NegativeBinomial(count int, phi, confidence float64) (Interval, error) {
	if math.IsNaN(phi) || math.IsInf(phi, 0) || phi < 0 {
		return Interval{}, fmt.Errorf("NegativeBinomial: %w: variance %v times the mean", ErrImpossible, phi)
	}
	phi = math.Min(phi, float64(count))
	if phi < 1+1e-6 {
		i, err := Poisson(count, confidence)
		if err != nil {
			return Interval{}, fmt.Errorf("NegativeBinomial: %w", err)
		}
		return i, nil
	}
	if err := checkConfidence(confidence); err != nil {
		return Interval{}, fmt.Errorf("NegativeBinomial: %w", err)
	}
	a := tail(confidence)
	return Interval{
		Low:  falling(func(mean float64) float64 { return NegativeBinomialBelow(count-1, mean, phi) }, 1-a, float64(count)),
		High: falling(func(mean float64) float64 { return NegativeBinomialBelow(count, mean, phi) }, a, float64(count)),
	}, nil
}

// NegativeBinomialBelow is the chance that a count with this mean and a
// variance phi times the mean is at most x: the Poisson chance at phi 1. It is
// NaN for a mean that is not above zero or a phi under 1.
func NegativeBinomialBelow(x int, mean, phi float64) float64 {
	switch {
	case !(mean > 0) || math.IsInf(mean, 1) || !(phi >= 1) || math.IsInf(phi, 1):
		return math.NaN()
	case x < 0:
		return 0
	case phi < 1+1e-6:
		return mathext.GammaIncRegComp(float64(x)+1, mean)
	}
	return mathext.RegIncBeta(mean/(phi-1), float64(x)+1, 1/phi)
}

// falling finds where a function that falls from 1 to 0 over the numbers above
// zero reaches a level, starting near a guess.
func falling(f func(float64) float64, level, near float64) float64 {
	low, high := 0.0, math.Max(near, 1)
	for range 200 {
		if f(high) < level {
			break
		}
		low, high = high, high*2
	}
	for range 200 {
		middle := low + (high-low)/2
		if middle <= low || middle >= high || high-low < 1e-11*high {
			break
		}
		if f(middle) < level {
			high = middle
		} else {
			low = middle
		}
	}
	return low + (high-low)/2
}
