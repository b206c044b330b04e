package edge_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edge"
)

// The front of moving stands north to south: so does the edge, and its band lies
// on both sides of it.
func TestLinesFollowTheFront(t *testing.T) {
	f, err := edge.Fit(moving(1, 8, side), edge.DefaultOptions())
	require.NoError(t, err)
	inside := func(p edge.XY) bool {
		return p.Y >= 0 && p.Y <= (side-1)*sixMiles && p.X >= 0 && p.X <= (side-1)*sixMiles
	}
	l := f.Lines(inside)
	require.Len(t, l.Middle, 1, "one line from south to north")
	require.InDelta(t, 0.5, l.Level, 1e-12)
	want := 5 * sixMiles // where the chance of the last fall is even
	lo, hi := math.Inf(1), 0.0
	for _, p := range l.Middle[0] {
		require.True(t, inside(p))
		require.InDelta(t, want, p.X, 1.6*sixMiles)
		lo, hi = min(lo, p.Y), max(hi, p.Y)
	}
	require.Greater(t, hi-lo, 8*sixMiles)
	require.Less(t, mean(l.Inner), mean(l.Middle))
	require.Greater(t, mean(l.Outer), mean(l.Middle))

	o := edge.DefaultOptions()
	o.Levels = nil
	f, err = edge.Fit(moving(1, 8, side), o)
	require.NoError(t, err)
	require.Empty(t, f.Lines(inside), "no level to draw")
	require.Empty(t, f.Lines(func(edge.XY) bool { return false }).Middle)
}

func mean(lines [][]edge.XY) float64 {
	sum, n := 0.0, 0.0
	for _, l := range lines {
		for _, p := range l {
			sum, n = sum+p.X, n+1
		}
	}
	return sum / n
}
