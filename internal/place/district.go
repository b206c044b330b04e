package place

import (
	"cmp"
	"slices"
)

// Cell is a township as the cutting of districts sees it.
type Cell struct {
	ID   ID
	X, Y int32   // center in meters, east and north, in any one metric system
	Area float64 // any one unit; used only to tell apart townships with the same center
}

// CutDistricts cuts the townships of one county into districts: sets of
// townships that hang together, about six each. Every township is in exactly
// one. adjacent names, for a township, those it shares a border with; naming a
// pair once is enough, and ids that are not among the cells are ignored.
//
// Of all cuts the best has, each point deciding only between cuts equal in all
// before it,
//
//  1. the fewest districts of under four or over eight townships,
//  2. the least sum of (size - 6)²,
//  3. the most borders between townships of one district,
//  4. the least sum of squared distances from townships to the center of their
//     district.
//
// So a county of up to eight townships is one district. Parts of a county that
// do not touch are cut apart from each other, but a part of under four
// townships is first tied to the part nearest by the distance of centers: a
// district that small could never be released.
//
// The cut depends on centers and borders alone, not on the order or the
// numbers of the cells (numbers decide only between cells alike in center and
// area). It is the best one for any part of up to twelve townships, and for a
// larger part if it can be cut into districts of four to eight and all such
// cuts can be tried within a fixed number of steps, as on a grid of five by
// six. Beyond that it is a good one: grown from each of the four sides, then
// recut two and three districts at a time until nothing improves.
//
// Districts are listed by their northernmost township, westernmost first in a
// row, and so are the townships in each.
func CutDistricts(cells []Cell, adjacent map[ID][]ID) [][]ID {
	g := newGraph(cells, adjacent)
	g.tieSmallParts()
	var districts [][]int
	for _, part := range g.parts() {
		districts = append(districts, g.cut(part)...)
	}
	slices.SortFunc(districts, slices.Compare)
	out := make([][]ID, len(districts))
	for i, d := range districts {
		for _, v := range d {
			out[i] = append(out[i], g.ids[v])
		}
	}
	return out
}

// cut cuts one connected part, given and returned in canonical order.
func (g *graph) cut(part []int) [][]int {
	if best, _, ok := g.exact(part, exactBudget); ok {
		return best
	}
	return g.search(part)
}

// exact runs the exact cutter on some townships.
func (g *graph) exact(part []int, budget int) ([][]int, cost, bool) {
	if len(part) > 64 {
		return nil, cost{}, false
	}
	at := make(map[int]int, len(part))
	for i, v := range part {
		at[v] = i
	}
	near := make([]uint64, len(part))
	points := make([]point, len(part))
	for i, v := range part {
		points[i] = g.points[v]
		for _, w := range g.near[v] {
			if j, ok := at[w]; ok {
				near[i] |= 1 << j
			}
		}
	}
	sets, total, ok := cutExact(points, near, budget)
	if !ok {
		return nil, cost{}, false
	}
	out := make([][]int, len(sets))
	for i, set := range sets {
		for j, v := range part {
			if set>>j&1 == 1 {
				out[i] = append(out[i], v)
			}
		}
	}
	return out, total, true
}

// point is a center in units of 100 m from the county's southwest.
type point struct{ x, y int64 }

// graph is a county's townships in canonical order: from north to south, then
// west to east.
type graph struct {
	ids    []ID
	points []point
	near   [][]int // sorted, both ways
}

// maxMeters keeps sums of squares far inside 64 bits; half way round the earth
// is farther than any county reaches.
const maxMeters = 20_000_000

func newGraph(cells []Cell, adjacent map[ID][]ID) *graph {
	cells = slices.Clone(cells)
	slices.SortFunc(cells, func(a, b Cell) int {
		return cmp.Or(cmp.Compare(b.Y, a.Y), cmp.Compare(a.X, b.X), cmp.Compare(b.Area, a.Area), cmp.Compare(a.ID, b.ID))
	})
	g := &graph{}
	index := map[ID]int{}
	west, south := int64(maxMeters), int64(maxMeters)
	for _, c := range cells {
		if _, twice := index[c.ID]; twice {
			continue
		}
		index[c.ID] = len(g.ids)
		g.ids = append(g.ids, c.ID)
		p := point{clampMeters(c.X), clampMeters(c.Y)}
		g.points = append(g.points, p)
		west, south = min(west, p.x), min(south, p.y)
	}
	for i, p := range g.points {
		g.points[i] = point{(p.x - west) / 100, (p.y - south) / 100}
	}
	g.near = make([][]int, len(g.ids))
	for from, tos := range adjacent {
		for _, to := range tos {
			v, okV := index[from]
			w, okW := index[to]
			if okV && okW {
				g.join(v, w)
			}
		}
	}
	return g
}

func clampMeters(m int32) int64 { return max(-maxMeters, min(int64(m), maxMeters)) }

// join makes v and w neighbors, once.
func (g *graph) join(v, w int) {
	if v == w {
		return
	}
	for _, e := range [2][2]int{{v, w}, {w, v}} {
		if i, known := slices.BinarySearch(g.near[e[0]], e[1]); !known {
			g.near[e[0]] = slices.Insert(g.near[e[0]], i, e[1])
		}
	}
}

// parts lists the connected parts in canonical order.
func (g *graph) parts() [][]int {
	var parts [][]int
	seen := make([]bool, len(g.ids))
	for v := range g.ids {
		if seen[v] {
			continue
		}
		seen[v] = true
		part := []int{v}
		for i := 0; i < len(part); i++ {
			for _, w := range g.near[part[i]] {
				if !seen[w] {
					seen[w] = true
					part = append(part, w)
				}
			}
		}
		slices.Sort(part)
		parts = append(parts, part)
	}
	return parts
}

// tieSmallParts joins each part of under districtMin townships to the nearest
// other part, the smallest parts first, until none is left or all is one.
func (g *graph) tieSmallParts() {
	for {
		parts := g.parts()
		if len(parts) < 2 {
			return
		}
		small := slices.MinFunc(parts, func(a, b []int) int {
			return cmp.Or(cmp.Compare(len(a), len(b)), slices.Compare(a, b))
		})
		if len(small) >= districtMin {
			return
		}
		bestV, bestW, best := -1, -1, int64(0)
		for _, v := range small {
			for w := range g.ids {
				if slices.Contains(small, w) {
					continue
				}
				dx, dy := g.points[v].x-g.points[w].x, g.points[v].y-g.points[w].y
				if d := dx*dx + dy*dy; bestV < 0 || d < best {
					bestV, bestW, best = v, w, d
				}
			}
		}
		g.join(bestV, bestW)
	}
}
