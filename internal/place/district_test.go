package place

import (
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// mile is in meters; a grid county's townships are six miles apart.
const mile = 1609

// county makes the townships of a grid county of w by h; keep says which are
// there and open which borders are.
func county(w, h int, keep func(x, y int) bool, open func(a, b ID) bool) ([]Cell, map[ID][]ID) {
	var cells []Cell
	adjacent := map[ID][]ID{}
	here := func(x, y int) bool { return x < w && y < h && (keep == nil || keep(x, y)) }
	for y := range h {
		for x := range w {
			if !here(x, y) {
				continue
			}
			id := ID(y*w + x + 1)
			cells = append(cells, Cell{ID: id, X: int32(x * 6 * mile), Y: int32(-y * 6 * mile), Area: 36})
			for _, next := range [2][2]int{{x + 1, y}, {x, y + 1}} {
				to := ID(next[1]*w + next[0] + 1)
				if here(next[0], next[1]) && (open == nil || open(id, to)) {
					adjacent[id] = append(adjacent[id], to)
				}
			}
		}
	}
	return cells, adjacent
}

// ragged makes a county of random shape and size, with uneven centers.
func ragged(r *rand.Rand, w, h int, density, borders float64) ([]Cell, map[ID][]ID) {
	cells, adjacent := county(w, h,
		func(int, int) bool { return r.Float64() < density },
		func(ID, ID) bool { return r.Float64() < borders })
	for i := range cells {
		cells[i].X += r.Int32N(4000) - 2000
		cells[i].Y += r.Int32N(4000) - 2000
	}
	return cells, adjacent
}

// bruteForce is the least cost of any cut of a connected county, found by
// walking every partition into contiguous sets. It shares no code with the
// cutter but the type it answers in, and computes each cost from the
// definition in CutDistricts.
func bruteForce(cells []Cell, adjacent map[ID][]ID) cost {
	n := len(cells)
	touch := func(a, b int) bool {
		return slices.Contains(adjacent[cells[a].ID], cells[b].ID) || slices.Contains(adjacent[cells[b].ID], cells[a].ID)
	}
	connected := make([]bool, 1<<n)
	costs := make([]cost, 1<<n)
	west, south := cells[0].X, cells[0].Y
	for _, c := range cells {
		west, south = min(west, c.X), min(south, c.Y)
	}
	for set := 1; set < 1<<n; set++ {
		low := bits.TrailingZeros(uint(set))
		connected[set] = set == 1<<low
		size := bits.OnesCount(uint(set))
		c := cost{uneven: (size - 6) * (size - 6)}
		if size < 4 || size > 8 {
			c.odd = 1
		}
		var x, y, sq int64
		for a := range n {
			if set>>a&1 == 0 {
				continue
			}
			px, py := int64(cells[a].X-west)/100, int64(cells[a].Y-south)/100
			x, y, sq = x+px, y+py, sq+px*px+py*py
			joined := false
			for b := range n {
				if b != a && set>>b&1 == 1 && touch(a, b) {
					joined = true
					if a < b {
						c.borders++
					}
				}
			}
			// A connected set of two or more has a member that can be taken
			// away without cutting it apart.
			if joined && connected[set&^(1<<a)] {
				connected[set] = true
			}
		}
		c.spread = sq - (x*x+y*y)/int64(size)
		costs[set] = c
	}
	best, found := cost{}, false
	var walk func(rest int, so cost)
	walk = func(rest int, so cost) {
		if rest == 0 {
			if !found || so.less(best) {
				best, found = so, true
			}
			return
		}
		low := rest & -rest
		for others := rest &^ low; ; others = (others - 1) & (rest &^ low) {
			if set := others | low; connected[set] {
				walk(rest&^set, so.plus(costs[set]))
			}
			if others == 0 {
				return
			}
		}
	}
	walk(1<<n-1, cost{})
	return best
}

// costOfCut measures districts given by id.
func costOfCut(g *graph, districts [][]ID) cost {
	var at [][]int
	for _, d := range districts {
		var vs []int
		for _, id := range d {
			vs = append(vs, slices.Index(g.ids, id))
		}
		at = append(at, vs)
	}
	return g.costOf(at)
}

func TestCutIsExhaustiveOptimum(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	compared, several := 0, 0
	for compared < 60 {
		cells, adjacent := ragged(r, 3+r.IntN(2), 3+r.IntN(2), 0.85, 0.85)
		g := newGraph(cells, adjacent)
		if len(cells) < 7 || len(cells) > 12 || len(g.parts()) != 1 {
			continue
		}
		compared++
		districts := CutDistricts(cells, adjacent)
		require.Equal(t, bruteForce(cells, adjacent), costOfCut(g, districts), "county %v %v", cells, adjacent)
		if len(districts) > 1 {
			several++
		}
	}
	require.Greater(t, several, 30, "the counties compared are worth comparing")
}

// Shapes that cannot be cut into four to eight at all.
func TestCutIsExhaustiveOptimumOnStars(t *testing.T) {
	for n := 2; n <= 12; n++ {
		cells := []Cell{{ID: 1}}
		adjacent := map[ID][]ID{}
		for i := 2; i <= n; i++ {
			cells = append(cells, Cell{ID: ID(i), X: int32(1000 * i), Y: int32(700 * i % 5)})
			adjacent[1] = append(adjacent[1], ID(i))
		}
		g := newGraph(cells, adjacent)
		require.Equal(t, bruteForce(cells, adjacent), costOfCut(g, CutDistricts(cells, adjacent)), "star of %d", n)
	}
}

func TestCostOrder(t *testing.T) {
	// Each is better than the next, and by its first difference alone.
	order := []cost{
		{0, 0, 9, 5},
		{0, 0, 9, 6},
		{0, 0, 8, 1},
		{0, 1, 20, 0},
		{1, 0, 30, 0},
	}
	for i := range order {
		for j := range order {
			require.Equal(t, i < j, order[i].less(order[j]), "%v and %v", order[i], order[j])
		}
	}
}

// What the search finds is compared with the exact answer, given the time that
// the cutting of a county does not take.
func TestSearchFindsTheOptimumOfGrids(t *testing.T) {
	for _, size := range [][2]int{{4, 4}, {4, 5}, {5, 5}, {5, 6}, {6, 6}} {
		cells, adjacent := county(size[0], size[1], nil, nil)
		g := newGraph(cells, adjacent)
		_, want, ok := g.exact(g.parts()[0], 1<<30)
		require.True(t, ok)
		require.Equal(t, want, g.costOf(g.search(g.parts()[0])), "%d by %d", size[0], size[1])
	}
}

// requireSound checks what must hold of any cut: every township once, each
// district within one part of the county, contiguous, order canonical.
func requireSound(t require.TestingT, cells []Cell, adjacent map[ID][]ID, districts [][]ID) {
	g := newGraph(cells, adjacent)
	g.tieSmallParts()
	var all []ID
	for _, d := range districts {
		all = append(all, d...)
		inside := &graph{ids: d, near: make([][]int, len(d))}
		for i, id := range d {
			for _, w := range g.near[slices.Index(g.ids, id)] {
				if j := slices.Index(d, g.ids[w]); j >= 0 {
					inside.join(i, j)
				}
			}
		}
		require.Len(t, inside.parts(), 1, "district %v hangs together", d)
	}
	require.ElementsMatch(t, g.ids, all)
}

func TestCutIsSoundAndIndependentOfOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		cells, adjacent := ragged(r, 1+r.IntN(8), 1+r.IntN(6), 0.5+r.Float64()/2, 0.6+r.Float64()*0.4)
		districts := CutDistricts(cells, adjacent)
		requireSound(t, cells, adjacent, districts)

		// Other order, other numbers, borders named from the other side.
		number := map[ID]ID{}
		for i, j := range r.Perm(len(cells)) {
			number[cells[i].ID] = ID(1000 + j)
		}
		shuffled := slices.Clone(cells)
		r.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		for i := range shuffled {
			shuffled[i].ID = number[shuffled[i].ID]
		}
		reversed := map[ID][]ID{}
		for from, tos := range adjacent {
			for _, to := range tos {
				reversed[number[to]] = append(reversed[number[to]], number[from])
			}
		}
		for _, d := range districts {
			for i := range d {
				d[i] = number[d[i]]
			}
		}
		require.Equal(t, districts, CutDistricts(shuffled, reversed))
	})
}

func TestSizesOnWholeCounties(t *testing.T) {
	for _, tc := range []struct {
		w, h int
		want []int // sizes, sorted
	}{
		{1, 1, []int{1}},
		{7, 1, []int{7}},
		{4, 2, []int{8}},
		{3, 3, []int{4, 5}},
		{4, 3, []int{6, 6}},
		{4, 4, []int{5, 5, 6}}, // the usual county of the handbook, section 12
		{6, 6, []int{6, 6, 6, 6, 6, 6}},
		{12, 13, slices.Repeat([]int{6}, 26)},
	} {
		cells, adjacent := county(tc.w, tc.h, nil, nil)
		var sizes []int
		for _, d := range CutDistricts(cells, adjacent) {
			sizes = append(sizes, len(d))
		}
		slices.Sort(sizes)
		require.Equal(t, tc.want, sizes, "%d by %d", tc.w, tc.h)
	}
}

func TestIslands(t *testing.T) {
	// A column of water between x = 1 and x = 3; one township alone in the
	// west, twelve in the east.
	cells, adjacent := county(7, 3, func(x, y int) bool { return x == 1 && y == 1 || x >= 3 }, nil)
	districts := CutDistricts(cells, adjacent)
	require.Len(t, districts, 2)
	for _, d := range districts {
		require.GreaterOrEqual(t, len(d), districtMin, "the lone township went with its nearest neighbors")
		if slices.Contains(d, 9) {
			require.Contains(t, d, ID(11), "nearest across the water")
		}
	}

	// Two parts of four stay apart.
	cells, adjacent = county(5, 2, func(x, _ int) bool { return x != 2 }, nil)
	require.Equal(t, [][]ID{{1, 2, 6, 7}, {4, 5, 9, 10}}, CutDistricts(cells, adjacent))

	// Lone townships only: nothing touches, all are tied together.
	cells, _ = county(3, 2, nil, nil)
	require.Equal(t, [][]ID{{1, 2, 3, 4, 5, 6}}, CutDistricts(cells, nil))
}

func TestOddInput(t *testing.T) {
	require.Empty(t, CutDistricts(nil, nil))
	cells := []Cell{{ID: 1}, {ID: 1, X: 5}, {ID: 2, X: 1 << 30, Y: -1 << 31}, {ID: 3, X: -1 << 31, Y: 1 << 30}}
	got := CutDistricts(cells, map[ID][]ID{1: {1, 2, 99}, 99: {3}})
	require.Equal(t, [][]ID{{3, 1, 2}}, got, "a repeated cell, a border with itself and one with a stranger are ignored")
}

// A county of 36 is cut in under 50 ms; the bound here leaves room for the
// race detector and a busy machine, the benchmark tells the real figure.
func TestCutIsQuick(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 3 {
		cells, adjacent := ragged(r, 7, 6, 0.95, 0.95)
		start := time.Now()
		CutDistricts(cells, adjacent)
		require.Less(t, time.Since(start), 2*time.Second)
	}
}

func BenchmarkCutDistricts36(b *testing.B) {
	cells, adjacent := county(6, 6, nil, nil)
	for b.Loop() {
		CutDistricts(cells, adjacent)
	}
}

func BenchmarkCutDistrictsRagged(b *testing.B) {
	cells, adjacent := ragged(rand.New(rand.NewPCG(3, 3)), 7, 6, 0.9, 0.95)
	for b.Loop() {
		CutDistricts(cells, adjacent)
	}
}
