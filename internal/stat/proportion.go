package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// checkShare refuses x of n that cannot have been counted.
func checkShare(x, n int) error {
	switch {
	case n <= 0:
		return fmt.Errorf("%w: %d samples", ErrImpossible, n)
	case x < 0 || x > n:
		return fmt.Errorf("%w: %d of %d", ErrImpossible, x, n)
	}
	return nil
}

// Wilson returns the score interval (Wilson 1927) of the share x of n. It is
// the everyday interval for a share with finds: it stays inside 0 to 1 and is
// neither empty at 0 of n nor as wide as the exact one.
func Wilson(x, n int, confidence float64) (Interval, error) {
	if err := checkShare(x, n); err != nil {
		return Interval{}, fmt.Errorf("Wilson: %w", err)
	}
	if err := checkConfidence(confidence); err != nil {
		return Interval{}, fmt.Errorf("Wilson: %w", err)
	}
	return wilson(x, n, deviate(confidence)), nil
}

// wilson is Wilson for input already checked, z the normal deviate.
func wilson(x, n int, z float64) Interval {
	size, finds := float64(n), float64(x)
	misses := size - finds
	middle := 2*finds + z*z
	half := z * math.Sqrt(z*z+4*finds*misses/size)
	scale := 2 * (size + z*z)
	i := Interval{Low: (middle - half) / scale, High: (middle + half) / scale}
	// Rounding must not leave a hair above zero at 0 of n or under one at n
	// of n, where the formula gives exactly the end of the range.
	if x == 0 {
		i.Low = 0
	}
	if x == n {
		i.High = 1
	}
	return i
}

// ClopperPearson returns the exact binomial interval (Clopper and Pearson
// 1934) of the share x of n. It covers the true share at least as often as the
// confidence says, whatever the share, and is wider for it.
func ClopperPearson(x, n int, confidence float64) (Interval, error) {
	if err := checkShare(x, n); err != nil {
		return Interval{}, fmt.Errorf("ClopperPearson: %w", err)
	}
	if err := checkConfidence(confidence); err != nil {
		return Interval{}, fmt.Errorf("ClopperPearson: %w", err)
	}
	a := tail(confidence)
	i := Interval{Low: 0, High: 1}
	if x > 0 {
		i.Low = mathext.InvRegIncBeta(float64(x), float64(n-x+1), a)
	}
	if x < n {
		// One minus the lower limit of the misses: the same value as the upper
		// beta quantile, without subtracting the tail from one.
		i.High = 1 - mathext.InvRegIncBeta(float64(n-x), float64(x+1), a)
	}
	return i, nil
}

// Newcombe returns the interval of the difference of two shares, x1 of n1
// minus x2 of n2, put together from their two Wilson intervals (Newcombe 1998,
// method 10, no continuity correction). The samples must be independent: it
// does not fit the same fields sampled twice.
func Newcombe(x1, n1, x2, n2 int, confidence float64) (Interval, error) {
	if err := checkShare(x1, n1); err != nil {
		return Interval{}, fmt.Errorf("Newcombe: first share: %w", err)
	}
	if err := checkShare(x2, n2); err != nil {
		return Interval{}, fmt.Errorf("Newcombe: second share: %w", err)
	}
	if err := checkConfidence(confidence); err != nil {
		return Interval{}, fmt.Errorf("Newcombe: %w", err)
	}
	z := deviate(confidence)
	w1, w2 := wilson(x1, n1, z), wilson(x2, n2, z)
	p1, p2 := float64(x1)/float64(n1), float64(x2)/float64(n2)
	difference := p1 - p2
	return Interval{
		Low:  difference - math.Hypot(p1-w1.Low, w2.High-p2),
		High: difference + math.Hypot(w1.High-p1, p2-w2.Low),
	}, nil
}
