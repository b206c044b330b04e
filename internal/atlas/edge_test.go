package atlas_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
)

// shapes is what of a swatch is drawn in it, without a color.
func shapes(m atlas.Mark) string {
	out := ""
	for _, it := range atlas.Swatch(m, "", atlas.Box{X0: 0, Y0: 0, X1: 900, Y1: 600})[1:] {
		switch it := it.(type) {
		case atlas.Segments:
			out += fmt.Sprintf("%d strokes %v dash %v; ", it.Kind, it.Lines, it.Dash)
		case atlas.Text:
			out += it.S + "; "
		}
	}
	return out
}

// The marks of standings differ from each other and from those of levels without
// their colors, for a photocopier.
func TestStandingMarksDiffer(t *testing.T) {
	marks := []atlas.Mark{
		{Standing: atlas.Staked}, {Standing: atlas.HalfStaked}, {Standing: atlas.WellLooked}, {Standing: atlas.ThinlyLooked},
		{Standing: atlas.WellLooked, Near: true}, {Standing: atlas.ThinlyLooked, Near: true}, {Standing: atlas.HalfStaked, Near: true}, {Near: true},
		{Standing: atlas.NoneFound, Of: 3}, {Standing: atlas.Unconfirmed, Of: 3}, {Standing: atlas.Recalled}, {Standing: atlas.Earlier}, {Standing: atlas.Waiting},
		{Standing: atlas.Found, Lines: 1, Of: 3}, {Standing: atlas.Found, Lines: 2, Of: 3}, {Standing: atlas.Found, Lines: 3, Of: 3},
	}
	seen, names := map[string]atlas.Mark{}, map[string]bool{}
	for _, m := range marks {
		s := shapes(m)
		require.NotEmpty(t, s, m)
		other, twice := seen[s]
		require.False(t, twice, "%v looks like %v", m, other)
		require.False(t, names[m.String()], m)
		seen[s], names[m.String()] = m, true
	}
}

// Stakes stand where furrows lie.
func TestStakesAreUpright(t *testing.T) {
	for _, m := range []atlas.Mark{{Standing: atlas.Staked}, {Standing: atlas.HalfStaked}} {
		for _, it := range atlas.Swatch(m, "", atlas.Box{X1: 900, Y1: 600}) {
			if s, ok := it.(atlas.Segments); ok {
				for _, l := range s.Lines {
					require.Equal(t, l.A.X, l.B.X)
				}
			}
		}
	}
}

// The lines are drawn above the marks, inside the frame, and explained only where
// they are drawn.
func TestEdgeIsDrawnAndExplained(t *testing.T) {
	square := func(x int32) atlas.Shape {
		return atlas.Shape{{{{X: x}, {X: x + 9000}, {X: x + 9000, Y: 9000}, {X: x, Y: 9000}}}}
	}
	state := atlas.State{Outline: square(0), Counties: []atlas.Area{{ID: 1, Code: "Alder", Shape: square(0)}}}
	state.Words.Edge, state.Words.EdgeBand = "the edge", "its band"
	words := func() (out []string, edge bool) {
		var walk func([]atlas.Item)
		walk = func(items []atlas.Item) {
			for _, it := range items {
				switch it := it.(type) {
				case atlas.Text:
					out = append(out, it.S)
				case atlas.Group:
					edge = edge || it.ID == "edge"
					walk(it.Items)
				}
			}
		}
		walk(atlas.ComposeState(state, atlas.LetterWide).Items)
		return out, edge
	}
	got, drawn := words()
	require.NotContains(t, got, "the edge")
	require.False(t, drawn)
	state.Edge.Middle = []atlas.Line{{Path: []atlas.Point{{X: 4000, Y: -90000}, {X: 4500, Y: 90000}}}}
	got, drawn = words()
	require.Contains(t, got, "the edge")
	require.NotContains(t, got, "its band")
	require.True(t, drawn)
	state.Edge.Limits = state.Edge.Middle
	got, _ = words()
	require.Contains(t, got, "its band")
}
