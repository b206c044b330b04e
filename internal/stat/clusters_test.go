package stat_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/stat"
)

// Reference library: R 4.2.2. The chances come from Neyman's recursion from
// term to term, the limits from uniroot on them; nothing of the mixture summed
// here.
func TestClustersAgainstR(t *testing.T) {
	for _, tt := range []struct {
		x              int
		mean, perClump float64
		want           float64
	}{{0, 9, 3, 0.0578073820173}, {5, 9, 3, 0.3161011125119}, {20, 12, 3, 0.8827652371878}, {10, 6, 0.5, 0.9214572068471}} {
		require.InEpsilon(t, tt.want, stat.ClustersBelow(tt.x, tt.mean, tt.perClump), 1e-10)
	}
	for _, tt := range []struct {
		count     int
		perClump  float64
		low, high float64
	}{{5, 3, 0.367074367118, 21.002274800126}, {42, 3, 21.3054145550, 73.8281372171}, {10, 0.5, 3.95469931946, 20.41915518982}} {
		got, err := stat.Clusters(tt.count, tt.perClump, stat.Confidence)
		require.NoError(t, err)
		require.InEpsilon(t, tt.low, got.Low, 1e-7)
		require.InEpsilon(t, tt.high, got.High, 1e-7)
	}
}

// None seen: exp(-m/c (1 - e^-c)) = 0.025 has a closed form.
func TestClustersOfNone(t *testing.T) {
	got, err := stat.Clusters(0, 3, stat.Confidence)
	require.NoError(t, err)
	require.Zero(t, got.Low)
	require.InEpsilon(t, -math.Log(0.025)*3/(1-math.Exp(-3)), got.High, 1e-9)
}

func TestClustersProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(0, 120).Draw(t, "count")
		perClump := rapid.Float64Range(0.05, 20).Draw(t, "per clump")
		poisson, err := stat.Poisson(count, stat.Confidence)
		require.NoError(t, err)
		small, err := stat.Clusters(count, 1e-6, stat.Confidence)
		require.NoError(t, err)
		require.Equal(t, poisson, small, "clumps of next to nothing")
		got, err := stat.Clusters(count, perClump, stat.Confidence)
		require.NoError(t, err)
		require.True(t, got.Contains(float64(count)))
		require.GreaterOrEqual(t, got.High, poisson.High*(1-1e-6))
		require.GreaterOrEqual(t, got.Width(), poisson.Width()*(1-1e-6))
	})
}

func TestClustersRefusals(t *testing.T) {
	for _, per := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, err := stat.Clusters(3, per, stat.Confidence)
		require.ErrorIs(t, err, stat.ErrImpossible)
		require.True(t, math.IsNaN(stat.ClustersBelow(3, 5, per)))
	}
	_, err := stat.Clusters(-1, 3, stat.Confidence)
	require.ErrorIs(t, err, stat.ErrImpossible)
	_, err = stat.Clusters(1, 3, 2)
	require.ErrorIs(t, err, stat.ErrImpossible)
	require.True(t, math.IsNaN(stat.ClustersBelow(3, 0, 1)))
	require.Zero(t, stat.ClustersBelow(-1, 5, 1))
}

func BenchmarkClustersOfAFullSlide(b *testing.B) {
	for b.Loop() {
		if _, err := stat.Clusters(20000, 3, stat.Confidence); err != nil {
			b.Fatal(err)
		}
	}
}
