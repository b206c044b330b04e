package atlas

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// A grid that leans, as surveyed townships do on paper, is read row by row,
// in whatever order it came.
func TestReadingOrderOfALeaningGrid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cols, rows := rapid.IntRange(1, 8).Draw(t, "columns"), rapid.IntRange(1, 8).Draw(t, "rows")
		lean := Unit(rapid.IntRange(-50, 50).Draw(t, "lean")) // of 1,000, each column
		ragged := rapid.IntRange(0, 40).Draw(t, "ragged")
		var boxes []Box
		for r := range rows {
			for c := range cols {
				x, y := Unit(c*1000+rapid.IntRange(0, ragged).Draw(t, "x")), Unit(r*1000+rapid.IntRange(0, ragged).Draw(t, "y"))+Unit(c)*lean
				boxes = append(boxes, Box{x, y, x + 1000, y + 1000})
			}
		}
		want := make([]int, len(boxes))
		for i := range want {
			want[i] = i
		}
		mixed := rand.New(rand.NewPCG(uint64(cols), uint64(rows))).Perm(len(boxes))
		shuffled := make([]Box, len(boxes))
		for to, from := range mixed {
			shuffled[to] = boxes[from]
		}
		var got []int
		for _, i := range ReadingOrder(shuffled) {
			got = append(got, mixed[i])
		}
		require.Equal(t, want, got)
	})
}

// Whatever the boxes, each comes once.
func TestReadingOrderLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		boxes := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Box {
			x, y := Unit(rapid.IntRange(-5000, 5000).Draw(t, "x")), Unit(rapid.IntRange(-5000, 5000).Draw(t, "y"))
			return Box{x, y, x + Unit(rapid.IntRange(0, 3000).Draw(t, "w")), y + Unit(rapid.IntRange(0, 3000).Draw(t, "h"))}
		}), 0, 40).Draw(t, "boxes")
		got := ReadingOrder(boxes)
		require.Len(t, got, len(boxes))
		slices.Sort(got)
		for i, g := range got {
			require.Equal(t, i, g)
		}
	})
}
