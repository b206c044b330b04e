package shell_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/web/shell"
)

// Sorted, rows are the same rows: those with something in order, those alike as
// they stood, those without at the end as they stood.
func TestSortRows(t *testing.T) {
	type row struct{ n, at int }
	rapid.Check(t, func(t *rapid.T) {
		down := rapid.Bool().Draw(t, "down")
		numbers := rapid.SliceOf(rapid.IntRange(-1, 4)).Draw(t, "numbers") // -1: none
		rows := make([]row, len(numbers))
		for i, n := range numbers {
			rows[i] = row{n, i}
		}
		shell.SortRows(rows, down, func(r row) (int, bool) { return r.n, r.n >= 0 })
		var places []int
		for i, r := range rows {
			places = append(places, r.at)
			if i == 0 {
				continue
			}
			before := rows[i-1]
			switch {
			case before.n == r.n:
				require.Less(t, before.at, r.at)
			case before.n < 0:
				t.Fatalf("a row without stands over one with: %v", rows)
			case r.n >= 0:
				require.Equal(t, down, before.n > r.n)
			}
		}
		slices.Sort(places)
		for i, p := range places {
			require.Equal(t, i, p)
		}
	})
}

func TestLeading(t *testing.T) {
	h := shell.ColumnHead{Label: "Bags"}
	require.Equal(t, shell.ColumnHead{Label: "Bags", Href: "/x"}, h.Leading("/x", false, true))
	require.Equal(t, "descending", h.Leading("/x", true, true).Sort)
	require.Equal(t, "ascending", h.Leading("/x", true, false).Sort)
	require.Equal(t, "/x?sort=n", shell.SortedAddress("/x", "n"))
	require.Equal(t, "/x?a=b&sort=n", shell.SortedAddress("/x?a=b", "n"))
	require.Equal(t, "/x", shell.SortedAddress("/x", ""))
}
