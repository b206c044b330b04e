package world

import (
	"math"
	"math/rand/v2"
)

// stream is an independent source of chance for one part of the model, so that
// a change to one part leaves the others as they were.
func stream(seed uint64, part uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, 0x5CA1E<<20|part))
}

// chance is true with probability p.
func chance(rng *rand.Rand, p float64) bool { return rng.Float64() < p }

// between is a whole number from lo to hi, both included.
func between(rng *rand.Rand, lo, hi int) int { return lo + rng.IntN(hi-lo+1) }

// noise is a lognormal factor with median 1.
func noise(rng *rand.Rand, sigma float64) float64 {
	return math.Exp(sigma * rng.NormFloat64())
}

// poisson draws a Poisson count. Large means are summed from small ones, for
// which multiplying uniforms (Knuth's way) is exact.
func poisson(rng *rand.Rand, mean float64) int {
	n := 0
	for ; mean > 20; mean -= 20 {
		n += smallPoisson(rng, 20)
	}
	return n + smallPoisson(rng, mean)
}

func smallPoisson(rng *rand.Rand, mean float64) int {
	limit, product := math.Exp(-mean), 1.0
	for n := 0; ; n++ {
		if product *= rng.Float64(); product <= limit {
			return n
		}
	}
}

// gamma draws a gamma variate with mean 1 and the given whole-number shape: a
// sum of exponential ones.
func gamma(rng *rand.Rand, shape int) float64 {
	sum := 0.0
	for range shape {
		sum += rng.ExpFloat64()
	}
	return sum / float64(shape)
}

// pick chooses among weighted values.
func pick[T any](rng *rand.Rand, choices []weighted[T]) T {
	total := 0.0
	for _, c := range choices {
		total += c.weight
	}
	at := rng.Float64() * total
	for _, c := range choices {
		if at -= c.weight; at < 0 {
			return c.value
		}
	}
	return choices[len(choices)-1].value
}

type weighted[T any] struct {
	value  T
	weight float64
}
