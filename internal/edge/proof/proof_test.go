package proof_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edge"
	"sixmile/internal/edge/proof"
)

// One world of the recorded run of cmd/measure.
func TestTrial(t *testing.T) {
	const seed = 1
	p, err := proof.Run(seed, 12)
	require.NoError(t, err)
	s, err := p.Survey(edge.DefaultOptions())
	require.NoError(t, err)
	require.Equal(t, proof.LastSeason, s.Season)
	require.Greater(t, len(s.Looks), 300)
	trial, err := proof.Try(p, seed, edge.DefaultOptions())
	require.NoError(t, err)
	require.True(t, trial.Said)
	require.True(t, trial.PaceIn, "pace %v of %+v", trial.True, trial.Front)
	require.True(t, trial.BearingIn, "bearing %v of %+v", trial.True, trial.Front)
	require.Greater(t, len(trial.Points), 200)
	require.InDelta(t, 1, proof.Slope(trial.Points), 0.4)
}
