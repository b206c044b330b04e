package stat

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	reference "gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// The twelve gauge readings of the NIST/SEMATECH e-Handbook of Statistical
// Methods, section 7.2.6.2, percentiles: by 1 + p(N-1) the 90th is 95.1957 (from
// memory; 95.1937 + 0.9 x 0.0022 on paper).
func TestQuantileOfPublishedReadings(t *testing.T) {
	readings := []float64{95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682}
	before := slices.Clone(readings)
	q, err := Quantile(0.9, readings)
	require.NoError(t, err)
	require.InDelta(t, 95.1957, q, 0.00005)
	require.Equal(t, before, readings)
	for p, want := range map[float64]float64{0: 95.0610, 1: 95.1990, 0.5: (95.1567 + 95.1591) / 2} {
		q, err := Quantile(p, readings)
		require.NoError(t, err)
		require.InDelta(t, want, q, 1e-9)
	}
}

// Hyndman and Fan's definition 7 puts the k-th of n values at (k-1)/(n-1).
func TestQuantileMeetsEveryValue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(0, 1e6), 2, 40).Draw(t, "values")
		sorted := slices.Sorted(slices.Values(values))
		last := math.Inf(-1)
		for k := range sorted {
			q, err := Quantile(float64(k)/float64(len(sorted)-1), values)
			require.NoError(t, err)
			require.InDelta(t, sorted[k], q, 1e-6*(1+sorted[k]))
			require.GreaterOrEqual(t, q, last-1e-6*(1+sorted[k]))
			last = q
		}
	})
}

// Against a reference library, and 4, 1 and 1/32, whose geometric mean is 1/2 by
// the definition.
func TestGeometricMean(t *testing.T) {
	g, err := GeometricMean([]float64{4, 1, 1.0 / 32})
	require.NoError(t, err)
	require.InDelta(t, 0.5, g, 1e-12)
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(1, 1e6), 1, 60).Draw(t, "values")
		g, err := GeometricMean(values)
		require.NoError(t, err)
		require.InEpsilon(t, reference.GeometricMean(values, nil), g, 1e-9)
	})
	for _, bad := range [][]float64{nil, {0}, {1, -1}, {math.NaN()}, {math.Inf(1)}} {
		_, err := GeometricMean(bad)
		require.ErrorIs(t, err, ErrImpossible)
	}
	for _, p := range []float64{-0.1, 1.1, math.NaN()} {
		_, err := Quantile(p, []float64{1})
		require.ErrorIs(t, err, ErrImpossible)
	}
	_, err = Quantile(0.5, nil)
	require.ErrorIs(t, err, ErrImpossible)
}
