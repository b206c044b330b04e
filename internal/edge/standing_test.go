package edge_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edge"
)

func TestStands(t *testing.T) {
	look := func(place, none, unconfirmed, finds int) edge.Look {
		return edge.Look{Places: []int{place}, From: 2026, Through: 2026, None: none, Unconfirmed: unconfirmed, Finds: finds, Senders: 3}
	}
	s := edge.Survey{Season: 2026, Places: grid(), Looks: []edge.Look{
		look(0, 3, 0, 1), look(1, 6, 0, 0), look(10, 90, 0, 0), look(11, 4, 1, 0), look(55, 90, 0, 0),
		{Places: []int{70, 71}, From: 2026, Through: 2026, Finds: 4}, look(61, 0, 0, 2),
	}}
	out, err := edge.Stands(s, edge.DefaultOptions())
	require.NoError(t, err)
	require.Len(t, out, side*side)
	for place, want := range map[int]struct {
		edge.Standing
		near bool
	}{
		0:  {edge.Found, false},
		1:  {edge.ThinlyLooked, true},
		10: {edge.WellLooked, true}, // north of 0
		11: {edge.Unconfirmed, false},
		2:  {edge.NoFigures, false},
		55: {edge.WellLooked, false},
		70: {edge.NoFigures, false}, // a find somewhere in two is of neither
		71: {edge.NoFigures, false}, // and says more than the find south of it
		60: {edge.NoFigures, true},
		80: {edge.NoFigures, false},
	} {
		require.Equal(t, want.Standing, out[place].Standing, "place %d", place)
		require.Equal(t, want.near, out[place].NextToFind, "place %d", place)
	}
	require.Equal(t, 115, out[1].Worth.Fields, "23,040 acres, four tenths in host crops, fields of 80")
	require.Equal(t, 6, out[1].Worth.Bags)
	require.Positive(t, out[1].Worth.More)
	require.Zero(t, out[0].Worth, "no word of none found where it was found")

	// The same bags, years later.
	s.Season = 2040
	later, err := edge.Stands(s, edge.DefaultOptions())
	require.NoError(t, err)
	require.Equal(t, edge.ThinlyLooked, later[55].Standing)
	require.Equal(t, edge.Found, later[0].Standing, "a find stays one")
}
