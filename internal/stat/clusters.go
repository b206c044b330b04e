package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// minCluster is the mean per clump under which clumping makes no difference
// that could be printed: the variance is one in a thousand over Poisson's.
const minCluster = 1e-3

// Clusters returns limits of the mean behind a count of things that come in
// clumps of a known mean size: a Poisson number of clumps, of each of which a
// Poisson number with this mean is seen (Neyman 1939, type A). The limits are
// the two means that leave one tail each, as for Poisson. The error matches
// ErrImpossible.
func Clusters(count int, perClump, confidence float64) (Interval, error) {
	if count < 0 || !(perClump >= 0) || math.IsInf(perClump, 1) {
		return Interval{}, fmt.Errorf("Clusters: %w: %d in clumps of %v", ErrImpossible, count, perClump)
	}
	if err := checkConfidence(confidence); err != nil {
		return Interval{}, fmt.Errorf("Clusters: %w", err)
	}
	if perClump < minCluster {
		return Poisson(count, confidence)
	}
	a, near := tail(confidence), float64(count)+perClump
	i := Interval{High: falling(func(mean float64) float64 { return ClustersBelow(count, mean, perClump) }, a, near)}
	if count > 0 {
		i.Low = falling(func(mean float64) float64 { return ClustersBelow(count-1, mean, perClump) }, 1-a, near)
	}
	return i, nil
}

// ClustersBelow is the chance that such a count with this mean is at most x:
// the Poisson chances of x or fewer, over all numbers of clumps. NaN for a mean
// or a clump that is not above zero.
func ClustersBelow(x int, mean, perClump float64) float64 {
	if !(mean > 0) || math.IsInf(mean, 1) || !(perClump > 0) || math.IsInf(perClump, 1) {
		return math.NaN()
	}
	if x < 0 {
		return 0
	}
	clumps := mean / perClump
	reach := 9*math.Sqrt(clumps) + 40 // what lies beyond has chances under 1e-15
	first := math.Max(0, math.Floor(clumps-reach))
	sum := 0.0
	for n := first; n <= clumps+reach; n++ {
		lg, _ := math.Lgamma(n + 1)
		weight := math.Exp(n*math.Log(clumps) - clumps - lg)
		if n == 0 {
			sum += weight
			continue
		}
		sum += weight * mathext.GammaIncRegComp(float64(x)+1, n*perClump)
	}
	return sum
}
