package place

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func square(id, county ID, x, y, size int32) Outlined {
	return Outlined{Place{ID: id, Kind: Township, County: county}, [][]int32{{x, y, x + size, y, x + size, y + size, x, y + size, x, y}}}
}

func TestOutlines(t *testing.T) {
	o := &Outlines{SRID: 32615, Townships: []Outlined{square(1, 9, 0, 0, 100), square(2, 9, 100, 0, 100), square(3, 8, 0, 100, 100)}}
	require.Len(t, o.County(9), 2)
	require.Empty(t, o.County(7))
	minX, minY, maxX, maxY, ok := Bounds(o.Townships)
	require.True(t, ok)
	require.Equal(t, []int32{0, 0, 200, 200}, []int32{minX, minY, maxX, maxY})
	_, _, _, _, ok = Bounds(nil)
	require.False(t, ok)
}

// EPSG codes 326zz and 327zz are WGS 84 / UTM zone zz north and south.
func TestZone(t *testing.T) {
	for srid, want := range map[int][3]int{32615: {15, 0, 1}, 32701: {1, 1, 1}, 32760: {60, 1, 1}, 32600: {0, 0, 0}, 32661: {61, 0, 0}, 5070: {70, 0, 0}} {
		zone, south, ok := (&Outlines{SRID: srid}).Zone()
		require.Equal(t, want[2] == 1, ok, srid)
		if ok {
			require.Equal(t, want[0], zone)
			require.Equal(t, want[1] == 1, south)
		}
	}
}

func TestLabelStaysInside(t *testing.T) {
	x, y, width := square(1, 9, 1000, 2000, 100).Label()
	require.InDelta(t, 1050, x, 0.01)
	require.InDelta(t, 2050, y, 1)
	require.InDelta(t, 100, width, 0.01)
	// A horseshoe: its middle is outside, the label is not.
	shoe := Outlined{Rings: [][]int32{{0, 0, 300, 0, 300, 300, 200, 300, 200, 60, 100, 60, 100, 300, 0, 300, 0, 0}}}
	x, y, width = shoe.Label()
	require.InDelta(t, 100, width, 0.01)
	require.True(t, x < 100 || x > 200, "%v %v", x, y)
	// A hole is not inside either.
	ring := square(1, 9, 0, 0, 300)
	ring.Rings = append(ring.Rings, square(1, 9, 50, 50, 200).Rings[0])
	x, _, width = ring.Label()
	require.True(t, x < 50 || x > 250)
	require.InDelta(t, 50, width, 0.01)
	_, _, width = Outlined{}.Label()
	require.Zero(t, width)
}
