package stat

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Confidence is the confidence every printed interval has unless it says
// otherwise.
const Confidence = 0.95

// ErrImpossible is matched by every error of this package: the input cannot
// have come from a count (more finds than samples, a negative count, a
// confidence outside 0 to 1).
var ErrImpossible = errors.New("impossible input")

// Interval is a closed range of values, Low at or under High.
type Interval struct{ Low, High float64 }

// Contains reports whether v lies in the interval, its ends included.
func (i Interval) Contains(v float64) bool { return i.Low <= v && v <= i.High }

// Width is the distance between the ends, in the unit of the ends.
func (i Interval) Width() float64 { return i.High - i.Low }

// Scale multiplies both ends by a factor at or above zero, as when a count is
// turned into a density. A negative factor swaps the ends so that Low stays
// the lower one.
func (i Interval) Scale(factor float64) Interval {
	a, b := i.Low*factor, i.High*factor
	return Interval{Low: math.Min(a, b), High: math.Max(a, b)}
}

// checkConfidence refuses a confidence that is not strictly between 0 and 1.
func checkConfidence(confidence float64) error {
	if !(confidence > 0 && confidence < 1) {
		return fmt.Errorf("%w: confidence %v is not between 0 and 1", ErrImpossible, confidence)
	}
	return nil
}

// tail is the error probability left at each end.
func tail(confidence float64) float64 { return (1 - confidence) / 2 }

// deviate is the standard normal deviate that leaves tail(confidence) above
// it: 1.95996 at 0.95.
func deviate(confidence float64) float64 {
	// The lower tail is asked for and its sign turned, because 1-tail loses
	// digits when the confidence is very near one.
	return -distuv.UnitNormal.Quantile(tail(confidence))
}
