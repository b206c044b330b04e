package proof_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edge"
	"sixmile/internal/edge/proof"
)

// Three worlds of the recorded run of cmd/measure: of intervals of nine in ten two
// may be missed in six, and a slope over all of them is less scattered than one.
func TestTrials(t *testing.T) {
	in := 0
	var points []proof.Point
	for seed := range uint64(3) {
		seed++
		p, err := proof.Run(seed, 12)
		require.NoError(t, err)
		s, err := p.Survey(edge.DefaultOptions())
		require.NoError(t, err)
		require.Equal(t, proof.LastSeason, s.Season)
		require.Greater(t, len(s.Looks), 300)
		trial, err := proof.Try(p, seed, edge.DefaultOptions())
		require.NoError(t, err)
		require.True(t, trial.Said)
		for _, is := range []bool{trial.PaceIn, trial.BearingIn} {
			if is {
				in++
			}
		}
		require.Greater(t, len(trial.Points), 200)
		points = append(points, trial.Points...)
		t.Logf("world %d: pace inside %t, bearing inside %t, slope %.2f", seed, trial.PaceIn, trial.BearingIn, proof.Slope(trial.Points))
	}
	require.GreaterOrEqual(t, in, 4)
	require.InDelta(t, 1, proof.Slope(points), 0.2, "the aim of the recorded run")
}
