package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Poisson returns the exact limits (Garwood 1936) of the mean behind a count
// of things that turn up independently of each other, such as the eggs on a
// slide of a well-stirred suspension. At zero the lower limit is zero and the
// upper one still leaves only one tail: 3.689 at 0.95.
func Poisson(count int, confidence float64) (Interval, error) {
	if count < 0 {
		return Interval{}, fmt.Errorf("Poisson: %w: count %d", ErrImpossible, count)
	}
	if err := checkConfidence(confidence); err != nil {
		return Interval{}, fmt.Errorf("Poisson: %w", err)
	}
	a := tail(confidence)
	i := Interval{High: mathext.GammaIncRegCompInv(float64(count)+1, a)}
	if count > 0 {
		i.Low = mathext.GammaIncRegInv(float64(count), a)
	}
	return i, nil
}

// Estimate is a value with the limits it is known to.
type Estimate struct {
	Value  float64
	Limits Interval
}

// Rate returns a count divided by what it was counted in, with exact Poisson
// limits in the same unit: eggs per milliliter looked at, finds per hundred
// bags, events per event expected. The exposure must be above zero and known
// without error.
func Rate(count int, exposure, confidence float64) (Estimate, error) {
	if !(exposure > 0) || math.IsInf(exposure, 1) {
		return Estimate{}, fmt.Errorf("Rate: %w: exposure %v", ErrImpossible, exposure)
	}
	limits, err := Poisson(count, confidence)
	if err != nil {
		return Estimate{}, fmt.Errorf("Rate: %w", err)
	}
	return Estimate{
		Value:  float64(count) / exposure,
		Limits: Interval{Low: limits.Low / exposure, High: limits.High / exposure},
	}, nil
}
