package gazette

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/edge"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// neighborly is two counties of eight townships, each next to the one before it.
func neighborly() *Issue {
	issue := ground(2)
	for n := range issue.Counties {
		for i := range issue.Counties[n].Townships {
			if t := &issue.Counties[n].Townships[i]; i > 0 {
				t.Neighbors = []place.ID{t.ID - 1}
			}
		}
	}
	return issue
}

func TestEdgeStandings(t *testing.T) {
	issue := neighborly()
	classes := make([]int, len(issue.Scheme.Classes)) // none, unconfirmed, found ...
	counts := func(none, unconfirmed, finds int) []int {
		c := append([]int(nil), classes...)
		c[0], c[1], c[2] = none, unconfirmed, finds
		return c
	}
	issue.Tranches = []edition.Tranche{
		tranche(100, edition.KindTownship, []place.ID{111}, counts(3, 0, 2)...),
		tranche(100, edition.KindTownship, []place.ID{112}, counts(4, 0, 0)...),
		tranche(100, edition.KindTownship, []place.ID{114}, counts(4, 1, 0)...),
		tranche(100, edition.KindDistrict, []place.ID{115, 116, 117, 118}, counts(9, 0, 0)...),
		tranche(200, edition.KindRemainder, []place.ID{200}, counts(7, 0, 0)...),
	}
	x, err := NewIndex(issue)
	require.NoError(t, err)
	e, err := x.Edge()
	require.NoError(t, err)
	for id, want := range map[place.ID]atlas.Mark{
		111: {Standing: atlas.Staked},
		112: {Standing: atlas.ThinlyLooked, Near: true},
		113: {},
		114: {Standing: atlas.HalfStaked},
		115: {},
		211: {},
	} {
		require.Equal(t, want, StandMark(e.Stands[id]), "township %d", id)
	}
	v, _ := x.County("county-1")
	joined := e.Joined(v, 0)
	require.Equal(t, edge.ThinlyLooked, joined.Standing)
	require.Equal(t, 9, joined.Worth.Bags)
	require.InDelta(t, 4*10000*10000/squareMeters*0.4/80, float64(joined.Worth.Fields), 0.5, "fields of four townships")
	require.Equal(t, edge.Found, e.Counties[100].Standing)
	require.Equal(t, 7, e.Counties[200].Worth.Bags, "the remainder counts for its county")
	require.True(t, e.Counties[200].NextToFind)
	require.Nil(t, e.Surface, "too little to say")

	again, err := x.Edge()
	require.NoError(t, err)
	require.Same(t, e, again, "worked out once")
}

func TestAcresAndHolds(t *testing.T) {
	mile := int32(1609)
	require.InDelta(t, 640, acres(square(0, 0, mile)), 0.5, "a square mile")
	ring := square(0, 0, 100)
	ring[0] = append(ring[0], square(25, 25, 50)[0][0]) // with a hole
	require.InDelta(t, (100*100-50*50)/squareMeters, acres(ring), 1e-9)
	require.True(t, holds(ring, edge.XY{X: 10, Y: 10}))
	require.False(t, holds(ring, edge.XY{X: 50, Y: 50}))
	require.False(t, holds(ring, edge.XY{X: 101, Y: 50}))
	lines := inShape([]atlas.Line{{Path: []atlas.Point{{X: -9, Y: 5}, {X: 1, Y: 5}, {X: 9, Y: 5}, {X: 120, Y: 5}, {X: 5, Y: 5}}}}, square(0, 0, 100))
	require.Len(t, lines, 1, "a single point is no line")
	require.Len(t, lines[0].Path, 2)
	require.False(t, math.IsNaN(acres(nil)))
}
