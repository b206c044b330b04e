package world

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

const draws = 20000

// The chance to see no egg, from generating functions (standard theory of
// compound Poisson sums): a cyst with gamma eggs shows none on the slide with
// probability z = (1 + a·m/s)^-s; Poisson cysts under gamma cores show none
// with (1 + λ(1-z)/c)^-c.
func TestChanceToSeeNoEgg(t *testing.T) {
	for _, density := range []int{50, 150, 600} {
		rng := stream(5, uint64(density))
		one, none, bare := 0, 0, 0
		for range draws {
			c := washAndCount(rng, density)
			if c.Aliquots != 1 {
				continue
			}
			one++
			if c.Eggs == 0 {
				none++
				if !c.Cyst {
					bare++
				}
			}
		}
		empty := func(z float64) float64 {
			return math.Pow(1+float64(density)/eggsPerCyst*(1-z)/coreShape, -coreShape)
		}
		z := math.Pow(1+0.02*eggsPerCyst/cystShape, -cystShape)
		want := empty(z) - lookAlike*empty(0)
		require.InDelta(t, want, float64(none)/float64(one), 4*0.5/math.Sqrt(float64(one)), "%d eggs", density)
		require.Less(t, bare, none, "some slides without eggs come with a cyst")
	}
}

func TestCountsAreUnbiased(t *testing.T) {
	for _, density := range []int{800, 5000, 20000} {
		rng := stream(6, uint64(density))
		sum := 0.0
		for range 4000 {
			c := washAndCount(rng, density)
			require.Equal(t, c.Aliquots*2, c.AliquotML)
			// The lab formula: eggs ÷ mL looked at × suspension × 100 ÷ soil.
			sum += float64(c.Eggs) / float64(c.AliquotML) * float64(c.SuspensionML) * 100 / float64(c.SoilCM3)
		}
		require.InEpsilon(t, float64(density), sum/4000, 0.03)
	}
}

// Schmitt, Barker, Noe and Koenning 1990, J. Nematol.: most composite samples
// come within 50 % of the mean.
func TestMostCountsAreWithinHalfOfTheMean(t *testing.T) {
	rng := stream(7, 1)
	within := 0
	for range 2000 {
		c := washAndCount(rng, 5000)
		if d := float64(c.Eggs) * 100 / float64(c.AliquotML); d > 2500 && d < 7500 {
			within++
		}
	}
	require.Greater(t, within, 1400)
	require.Less(t, within, 1950, "cores scatter more than eggs on a slide do")
}

// Clean soil shows no cyst, and now and then an egg or two of a look-alike.
func TestCleanSoil(t *testing.T) {
	rng := stream(8, 1)
	seen := 0
	for range draws {
		c := washAndCount(rng, 0)
		require.False(t, c.Cyst)
		require.LessOrEqual(t, c.Eggs, 2)
		if c.Eggs > 0 {
			seen++
		}
	}
	require.InDelta(t, lookAlike, float64(seen)/draws, 0.005)
}

// Mean and variance of a Poisson count are equal; of a gamma with mean 1 the
// variance is one over its shape.
func TestSamplers(t *testing.T) {
	rng := stream(9, 1)
	moments := func(draw func() float64) (float64, float64) {
		var sum, square float64
		for range draws {
			v := draw()
			sum += v
			square += v * v
		}
		m := sum / draws
		return m, square/draws - m*m
	}
	for _, want := range []float64{0.3, 4, 20, 75.5} {
		m, v := moments(func() float64 { return float64(poisson(rng, want)) })
		require.InEpsilon(t, want, m, 0.03)
		require.InEpsilon(t, want, v, 0.06)
	}
	m, v := moments(func() float64 { return gamma(rng, 4) })
	require.InDelta(t, 1, m, 0.02)
	require.InDelta(t, 0.25, v, 0.02)
	require.Zero(t, poisson(rng, 0))
}
