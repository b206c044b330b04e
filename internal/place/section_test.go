package place

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// 43 U.S.C. 751: townships are six miles square, in 36 sections of 640 acres
// as nearly as may be, numbered "beginning with the number one in the
// northeast section and proceeding west and east alternately through the
// township with progressive numbers till the thirty-six be completed" (read).
// The expected numbers come from walking that sentence, not from a copied
// grid: copied grids are found with misprints.
func TestSectionNumbersByStatute(t *testing.T) {
	row, col, step := 0, 5, -1 // northeast, heading west
	seen := map[[2]int]bool{}
	for n := 1; n <= 36; n++ {
		require.Equal(t, n, SectionNumber(row, col))
		r, c := SectionCell(n)
		require.Equal(t, [2]int{row, col}, [2]int{r, c})
		seen[[2]int{row, col}] = true
		if next := col + step; next < 0 || next > 5 {
			row, step = row+1, -step
		} else {
			col = next
		}
	}
	require.Len(t, seen, 36)
}

func TestSectionCorners(t *testing.T) {
	// Handbook section 12, from the same statute.
	require.Equal(t, 1, SectionNumber(0, 5), "northeast")
	require.Equal(t, 6, SectionNumber(0, 0), "northwest")
	require.Equal(t, 7, SectionNumber(1, 0), "west end of the second row")
	require.Equal(t, 31, SectionNumber(5, 0), "southwest")
	require.Equal(t, 36, SectionNumber(5, 5), "southeast")
	require.Equal(t, 23_040, Tiers*Tiers*SectionAcres, "acres in a township, as the statute has it")
}

func TestSectionsOutside(t *testing.T) {
	for _, cell := range [][2]int{{-1, 0}, {0, -1}, {6, 0}, {0, 6}} {
		require.Zero(t, SectionNumber(cell[0], cell[1]))
	}
	for _, n := range []int{-1, 0, 37} {
		row, col := SectionCell(n)
		require.Equal(t, [2]int{-1, -1}, [2]int{row, col})
	}
}
