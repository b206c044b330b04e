package stat_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sixmile/internal/stat"
)

// Reference library: R 4.2.2 chisq.test(x, p = t/sum(t)) on the same counts.
func TestIndexOfDispersionAgainstR(t *testing.T) {
	tests := []struct {
		name      string
		counts    []int
		exposures []float64
		x2, p     float64
		df        int
	}{
		{"four portions", []int{20, 32, 25, 41}, []float64{1, 1, 1, 1}, 8.4407, 0.03773, 3},
		{"twice as much in the second", []int{12, 30}, []float64{1, 2}, 0.42857, 0.5127, 1},
		{"ten", []int{75, 103, 121, 107, 79, 89, 97, 89, 60, 100}, []float64{2, 2, 2, 2, 2, 2, 2, 2, 2, 2}, 30.174, 0.0004098, 9},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d, err := stat.IndexOfDispersion(tt.counts, tt.exposures)
			require.NoError(t, err)
			require.True(t, d.Tested())
			require.Equal(t, tt.df, d.DF)
			require.InEpsilon(t, tt.x2, d.Statistic, 2e-5)
			require.InEpsilon(t, tt.p, d.P, 2e-4)
			require.InEpsilon(t, tt.x2/float64(tt.df), d.Phi, 2e-5)
		})
	}
}

func TestIndexOfDispersionWithNothingToTest(t *testing.T) {
	for name, tt := range map[string]struct {
		counts    []int
		exposures []float64
	}{
		"none": {}, "one": {[]int{40}, []float64{2}}, "all zero": {[]int{0, 0}, []float64{1, 1}},
		"under one expected": {[]int{1, 0, 1}, []float64{1, 1, 1}},
		"a sliver":           {[]int{40, 0}, []float64{50, 1}},
	} {
		d, err := stat.IndexOfDispersion(tt.counts, tt.exposures)
		require.NoError(t, err, name)
		require.Equal(t, stat.Dispersion{}, d, name)
	}
	for name, tt := range map[string]struct {
		counts    []int
		exposures []float64
	}{
		"lengths": {[]int{1}, nil}, "negative": {[]int{-1, 4}, []float64{1, 1}}, "no exposure": {[]int{1, 4}, []float64{1, 0}},
	} {
		_, err := stat.IndexOfDispersion(tt.counts, tt.exposures)
		require.ErrorIs(t, err, stat.ErrImpossible, name)
	}
}

func TestIndexOfDispersionProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		counts := rapid.SliceOfN(rapid.IntRange(1, 300), 2, 8).Draw(t, "counts")
		exposures := make([]float64, len(counts))
		doubled := make([]float64, len(counts))
		swapped := make([]int, len(counts))
		for i := range exposures {
			exposures[i], doubled[i], swapped[len(counts)-1-i] = 1, 2, counts[i]
		}
		d, err := stat.IndexOfDispersion(counts, exposures)
		require.NoError(t, err)
		same, err := stat.IndexOfDispersion(counts, doubled)
		require.NoError(t, err)
		require.InDelta(t, d.Statistic, same.Statistic, 1e-9*(1+d.Statistic), "the unit of exposure does not matter")
		back, err := stat.IndexOfDispersion(swapped, exposures)
		require.NoError(t, err)
		require.InDelta(t, d.Statistic, back.Statistic, 1e-9*(1+d.Statistic), "order does not matter")
		require.GreaterOrEqual(t, d.Statistic, 0.0)
		require.True(t, d.P >= 0 && d.P <= 1)
	})
}

// The test's own false alarms: 6,000 sets of Poisson portions a case, PCG
// seeded 36, 4. At one in twenty it may be off by four standard errors (0.011)
// and, with few eggs, by the coarseness of small whole numbers, for which 0.01
// is allowed.
func TestIndexOfDispersionFalseAlarms(t *testing.T) {
	const sets = 6000
	source := rand.NewPCG(36, 4)
	for _, tt := range []struct {
		n    int
		mean float64
	}{{2, 3}, {2, 30}, {3, 5}, {4, 50}, {8, 4}} {
		alarms := 0
		egg := distuv.Poisson{Lambda: tt.mean, Src: source}
		for range sets {
			counts, exposures := make([]int, tt.n), make([]float64, tt.n)
			for i := range counts {
				counts[i], exposures[i] = int(egg.Rand()), 2
			}
			d, err := stat.IndexOfDispersion(counts, exposures)
			require.NoError(t, err)
			if d.Tested() && d.P < 0.05 {
				alarms++
			}
		}
		require.InDelta(t, 0.05, float64(alarms)/sets, 0.021, "%d portions of %v eggs", tt.n, tt.mean)
	}
}
