package edition_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/edition/attack"
)

// published is a table with margins of which some cells are hidden.
type published struct {
	cells  [][]int
	hidden [][2]int // row, column
}

// ranges gives the attacker the margins and the cells that are not hidden.
func (p published) ranges() ([]attack.Range, bool) {
	at := make(map[[2]int]int)
	for i, h := range p.hidden {
		at[h] = i
	}
	rows := make([]attack.Equation, len(p.cells))
	columns := make([]attack.Equation, len(p.cells[0]))
	for r, row := range p.cells {
		for c, n := range row {
			if i, hidden := at[[2]int{r, c}]; hidden {
				rows[r].Cells, columns[c].Cells = append(rows[r].Cells, i), append(columns[c].Cells, i)
				rows[r].Total += n // the margin less what is shown
				columns[c].Total += n
			}
		}
	}
	return attack.Ranges(len(p.hidden), append(rows, columns...))
}

func between(ranges ...[2]int) (out []attack.Range) {
	for _, r := range ranges {
		out = append(out, attack.Range{Low: r[0], High: r[1]})
	}
	return out
}

// Proof 7: hiding small cells in a table with margins does not hide them.
//
// The county by education table of Statistical Policy Working Paper 22, Federal
// Committee on Statistical Methodology (1994, revised 2005; table from memory,
// its margins add up). With the six cells under five hidden, all six come back.
func TestProofNaiveSuppression(t *testing.T) {
	p := published{
		cells:  [][]int{{15, 1, 3, 1}, {20, 10, 10, 15}, {3, 10, 10, 2}, {12, 14, 7, 2}},
		hidden: [][2]int{{0, 1}, {0, 2}, {0, 3}, {2, 0}, {2, 3}, {3, 3}},
	}
	got, ok := p.ranges()
	require.True(t, ok)
	require.Equal(t, between([2]int{1, 1}, [2]int{3, 3}, [2]int{1, 1}, [2]int{3, 3}, [2]int{2, 2}, [2]int{2, 2}), got)
}

// The table of the small count vignette of Statistics Norway: young and old by
// Spain, Iceland, Portugal. The rule there hides young Portugal (0), and three
// more to protect it. The ranges that remain are computed by hand (handbook
// section 11): 0-2, 0-2, 3-5, 2-4.
func TestProofAgencyExample(t *testing.T) {
	p := published{
		cells:  [][]int{{5, 2, 0}, {6, 3, 4}},
		hidden: [][2]int{{0, 2}, {0, 1}, {1, 1}, {1, 2}},
	}
	got, ok := p.ranges()
	require.True(t, ok)
	require.Equal(t, between([2]int{0, 2}, [2]int{0, 2}, [2]int{3, 5}, [2]int{2, 4}), got)

	p.hidden = p.hidden[:1]
	got, _ = p.ranges()
	require.Equal(t, between([2]int{0, 0}), got, "the primary cell alone comes back")
}

// The solver against trying everything.
func TestRangesExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := published{}
		for r := range 3 {
			p.cells = append(p.cells, rapid.SliceOfN(rapid.IntRange(0, 3), 3, 3).Draw(t, "row"))
			for c := range 3 {
				if len(p.hidden) < 6 && rapid.Bool().Draw(t, "hidden") {
					p.hidden = append(p.hidden, [2]int{r, c})
				}
			}
		}
		got, ok := p.ranges()
		require.True(t, ok)
		require.Equal(t, p.everything(), got)
	})
	_, ok := attack.Ranges(1, []attack.Equation{{Cells: []int{0}, Total: 1}, {Cells: []int{0}, Total: 2}})
	require.False(t, ok, "equations that contradict each other")
}

// everything tries every filling of the hidden cells with 0 to 9.
func (p published) everything() []attack.Range {
	out := make([]attack.Range, len(p.hidden))
	for i := range out {
		out[i].Low = 99
	}
	rest := make([]int, 6) // of rows, then of columns
	for _, h := range p.hidden {
		rest[h[0]] += p.cells[h[0]][h[1]]
		rest[3+h[1]] += p.cells[h[0]][h[1]]
	}
	fill := make([]int, len(p.hidden))
	var try func(i int)
	try = func(i int) {
		if i == len(fill) {
			for _, n := range rest {
				if n != 0 {
					return
				}
			}
			for j, n := range fill {
				out[j].Low, out[j].High = min(out[j].Low, n), max(out[j].High, n)
			}
			return
		}
		h := p.hidden[i]
		for n := 0; n <= min(9, rest[h[0]], rest[3+h[1]]); n++ {
			fill[i] = n
			rest[h[0]] -= n
			rest[3+h[1]] -= n
			try(i + 1)
			rest[h[0]] += n
			rest[3+h[1]] += n
		}
	}
	try(0)
	return out
}
