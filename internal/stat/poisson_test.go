package stat_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sixmile/internal/stat"
)

// Garwood 1936, Biometrika 28:437-442. The upper limit of 0 and both limits of
// 10 were read in publications that quote the table; the other rows follow
// from the chi-square formula and agree with R 4.2.2 poisson.test.
func TestPoissonOfGarwood(t *testing.T) {
	tests := []struct {
		count     int
		low, high float64
	}{
		{0, 0, 3.6889},
		{1, 0.0253, 5.5716},
		{2, 0.2422, 7.2247},
		{3, 0.6187, 8.7673},
		{4, 1.0899, 10.2416},
		{5, 1.6235, 11.6683},
		{10, 4.7954, 18.3904},
		{20, 12.2165, 30.8884},
		{100, 81.3640, 121.6268},
	}
	for _, tt := range tests {
		got, err := stat.Poisson(tt.count, stat.Confidence)
		require.NoError(t, err)
		requireNear(t, stat.Interval{Low: tt.low, High: tt.high}, got, 6e-5)
	}
}

// Reference library: R 4.2.2 poisson.test, run for this test. The large counts
// are there because a slide can hold them and because quantile routines tend
// to lose digits first out there.
func TestPoissonAgainstR(t *testing.T) {
	tests := []struct {
		count      int
		confidence float64
		low, high  float64
	}{
		{137, 0.95, 115.020534434, 161.956404688},
		{1000, 0.95, 938.973018408, 1063.95213602},
		{20000, 0.95, 19723.7676006, 20279.1336279},
		{1000000, 0.95, 998040.98334, 1001961.91195},
		{7, 0.80, 3.89476680488, 11.7709144615},
		{7, 0.90, 3.28531569189, 13.1481138024},
		{7, 0.99, 2.0373374787, 17.1335932689},
	}
	for _, tt := range tests {
		got, err := stat.Poisson(tt.count, tt.confidence)
		require.NoError(t, err)
		require.InEpsilon(t, tt.low, got.Low, 1e-9)
		require.InEpsilon(t, tt.high, got.High, 1e-9)
	}
}

// 137 events where 24.19893 were expected: example data of the R package
// DescTools (read); estimate and limits computed, and the same from R 4.2.2
// poisson.test(137, 24.19893).
func TestRateExample(t *testing.T) {
	got, err := stat.Rate(137, 24.19893, stat.Confidence)
	require.NoError(t, err)
	require.InDelta(t, 5.66140734322, got.Value, 1e-9)
	requireNear(t, stat.Interval{Low: 4.75312480485, High: 6.69270933418}, got.Limits, 1e-9)
}

func TestPoissonRefusesTheImpossible(t *testing.T) {
	_, err := stat.Poisson(-1, stat.Confidence)
	require.ErrorIs(t, err, stat.ErrImpossible)
	_, err = stat.Poisson(3, 1.2)
	require.ErrorIs(t, err, stat.ErrImpossible)
	_, err = stat.Rate(-1, 2, stat.Confidence)
	require.ErrorIs(t, err, stat.ErrImpossible)
	for _, exposure := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err = stat.Rate(3, exposure, stat.Confidence)
		require.ErrorIs(t, err, stat.ErrImpossible, "exposure %v", exposure)
	}
}

func TestPoissonRisesAndHoldsTheCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(0, 100000).Draw(t, "count")
		confidence := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		got, err := stat.Poisson(count, confidence)
		require.NoError(t, err)
		require.True(t, got.Contains(float64(count)), "%d in %v", count, got)
		require.GreaterOrEqual(t, got.Low, 0.0)
		more, err := stat.Poisson(count+1, confidence)
		require.NoError(t, err)
		require.Less(t, got.Low, more.Low)
		require.Less(t, got.High, more.High)
		wider, err := stat.Poisson(count, (1+confidence)/2)
		require.NoError(t, err)
		require.LessOrEqual(t, wider.Low, got.Low)
		require.Greater(t, wider.High, got.High)
	})
}

// Coverage added up over outcomes, no drawing: the limits must hold the true
// mean at least 95 times in a hundred (the property Garwood's limits are built
// to have).
func TestPoissonCoverage(t *testing.T) {
	for mean := 0.05; mean < 40; mean += 0.35 {
		outcome := distuv.Poisson{Lambda: mean}
		covered := 0.0
		for count := 0; count < 150; count++ {
			i, err := stat.Poisson(count, stat.Confidence)
			require.NoError(t, err)
			if i.Contains(mean) {
				covered += outcome.Prob(float64(count))
			}
		}
		require.GreaterOrEqual(t, covered, stat.Confidence-1e-9, "mean %v", mean)
	}
}

func TestIntervalScale(t *testing.T) {
	i := stat.Interval{Low: 1, High: 3}
	require.Equal(t, stat.Interval{Low: 50, High: 150}, i.Scale(50))
	require.Equal(t, stat.Interval{Low: -6, High: -2}, i.Scale(-2))
	require.Equal(t, 2.0, i.Width())
	require.True(t, i.Contains(1))
	require.True(t, i.Contains(3))
	require.False(t, i.Contains(3.0001))
}
