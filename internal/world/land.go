package world

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
)

// landSeed fixes the land for every world: only people and nematodes differ.
const landSeed = 0x51E

// tract is a township as the model sees it: in the plane, with its neighbors.
type tract struct {
	cell      int // row*columns + col
	county    byte
	ring      []pt
	center    pt
	neighbors []int // tracts that share an edge
	// downstream are the next tracts along each river that passes here.
	downstream []int
	ridge      float64 // share of lighter, high-pH soils, 0 to 1
	farmed     float64 // relative number of farms; 0 where nobody farms
}

// land is the plane behind the polygons.
type land struct {
	tracts []tract
	county map[byte][]pt
	rivers [][]pt
	ridge  []pt
}

// newLand draws the state.
func newLand() *land {
	rng := rand.New(rand.NewPCG(landSeed, 1))
	east := points(meander(eastRiver, rng))
	inner := points(meander(innerRiver, rng))
	m := newMesh()
	ends := append(points(southLine), east[1:]...)
	borders := []border{
		{ends, inherit, outside},
		{betweenPoints(inner, innerRiver[innerBorderFrom].pt(), innerRiver[innerBorderTo].pt()), 'F', 'E'},
		{points(oldLine), 'G', 'H'},
	}
	for i := range borders {
		borders[i].line = nodeAtGrid(borders[i].line, sixMiles)
	}
	m.addGrid(borders)
	for _, b := range borders {
		m.addBorder(b)
	}
	m.trace()

	l := &land{rivers: [][]pt{reversed(east), inner}, ridge: ridgeRing(rng)}
	owner, cell := m.owners(append(ends, pt{0, rows * sixMiles}))
	l.gather(m, owner, m.mergeSlivers(owner, cell), cell)
	l.describe()
	return l
}

// betweenPoints is the piece of a line from one of its points to another.
func betweenPoints(line []pt, from, to pt) []pt {
	return slices.Clone(line[slices.Index(line, from) : slices.Index(line, to)+1])
}

func reversed(line []pt) []pt {
	out := slices.Clone(line)
	slices.Reverse(out)
	return out
}

// addGrid adds the sides of every cell of the plan, split where a border
// crosses them.
func (m *mesh) addGrid(borders []border) {
	onRow, onCol := map[int64][]pt{}, map[int64][]pt{}
	for _, b := range borders {
		for _, p := range b.line {
			if p.y%sixMiles == 0 {
				onRow[p.y] = append(onRow[p.y], p)
			}
			if p.x%sixMiles == 0 {
				onCol[p.x] = append(onCol[p.x], p)
			}
		}
	}
	for i := range rows * columns {
		row, col := int64(i/columns), int64(i%columns)
		if planAt(i) == outside {
			continue
		}
		for d := range int64(2) {
			y, x := (row+d)*sixMiles, (col+d)*sixMiles
			m.addSide(pt{col * sixMiles, y}, pt{(col + 1) * sixMiles, y}, onRow[y])
			m.addSide(pt{x, row * sixMiles}, pt{x, (row + 1) * sixMiles}, onCol[x])
		}
	}
}

// addSide adds one side of a cell with the given points that lie on it.
func (m *mesh) addSide(p, q pt, on []pt) {
	line := []pt{p, q}
	for _, v := range on {
		if span(p, v)+span(v, q) == span(p, q) {
			line = append(line, v)
		}
	}
	slices.SortFunc(line, func(a, b pt) int { return cmp.Compare(span(p, a), span(p, b)) })
	line = slices.Compact(line)
	for i := 1; i < len(line); i++ {
		m.add(line[i-1], line[i])
	}
}

func planAt(cell int) byte { return plan[rows-1-cell/columns][cell%columns] }

// owners says for every face which county it is in (outside for none) and
// which cell of the grid.
func (m *mesh) owners(state []pt) (owner []byte, cell []int) {
	owner, cell = make([]byte, len(m.faces)), make([]int, len(m.faces))
	for f := range m.faces {
		r := m.ring(f)
		if area2(r) <= 0 { // the plane around the state
			owner[f], cell[f] = outside, -1
			continue
		}
		lo, hi := r[0], r[0]
		for _, p := range r {
			lo = pt{min(lo.x, p.x), min(lo.y, p.y)}
			hi = pt{max(hi.x, p.x), max(hi.y, p.y)}
		}
		mid := pt{(lo.x + hi.x) / 2, (lo.y + hi.y) / 2}
		cell[f] = int(mid.y/sixMiles*columns + mid.x/sixMiles)
		owner[f] = planAt(cell[f])
		if !inside(state, mid) {
			owner[f] = outside
		}
	}
	for _, h := range m.edges { // borders know better than the plan
		switch {
		case h.owner == 0 || cell[h.face] < 0:
		case h.owner == inherit:
			if owner[h.face] == outside {
				owner[h.face] = planAt(cell[h.face])
			}
		case h.owner != outside:
			owner[h.face] = h.owner
		}
	}
	for _, h := range m.edges { // and what lies outside is outside, whatever else
		if h.owner == outside {
			owner[h.face] = outside
		}
	}
	return owner, cell
}

// leastArea is how small a part of a township stays a place of its own: five
// square miles, doubled, in square millimeters. Smaller parts go with the
// neighbor in their county that shares the longest edge.
const leastArea = 2 * 5 * 1609344 * 1609344

// mergeSlivers groups the faces into places: one for each county and township.
// The result names each face's place by its largest face, or -1 outside.
func (m *mesh) mergeSlivers(owner []byte, cell []int) []int {
	place := make([]int, len(m.faces))
	area := make([]int64, len(m.faces))
	largest := map[[2]int]int{}
	var order []int
	for f := range m.faces {
		place[f] = -1
		if owner[f] == outside {
			continue
		}
		place[f], area[f] = f, area2(m.ring(f))
		order = append(order, f)
		k := [2]int{int(owner[f]), cell[f]}
		if g, ok := largest[k]; !ok || area[f] > area[g] {
			largest[k] = f
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(area[a], area[b]) })
	for _, f := range order {
		if place[f] != f || area[f] >= leastArea && largest[[2]int{int(owner[f]), cell[f]}] == f {
			continue
		}
		to := m.longestNeighbor(place, owner, f)
		area[to] += area[f]
		for g := range place {
			if place[g] == f {
				place[g] = to
			}
		}
	}
	return place
}

// longestNeighbor is the place of the same county that shares the longest edge
// with place f.
func (m *mesh) longestNeighbor(place []int, owner []byte, f int) int {
	shared := make([]int64, len(m.faces))
	best := -1
	for _, h := range m.edges {
		g := m.edges[h.twin].face
		if place[h.face] != f || place[g] < 0 || place[g] == f || owner[g] != owner[h.face] {
			continue
		}
		n := place[g]
		shared[n] += span(m.pts[h.from], m.pts[h.to])
		if best < 0 || shared[n] > shared[best] {
			best = n
		}
	}
	if best < 0 {
		panic(fmt.Sprintf("world: place %d has no neighbor in its county", f))
	}
	return best
}

// gather turns places into tracts and counties, and finds the neighbors.
func (l *land) gather(m *mesh, owner []byte, place, cell []int) {
	number := make([]int, len(m.faces))
	for f, p := range place {
		if p == f {
			number[f] = len(l.tracts)
			l.tracts = append(l.tracts, tract{cell: cell[f], county: owner[f], ring: m.outline(place, f)})
		}
	}
	counties := make([]int, len(owner))
	for f, o := range owner {
		counties[f] = int(o)
	}
	l.county = map[byte][]pt{}
	for i := range l.tracts {
		t := &l.tracts[i]
		t.center = centroid(t.ring)
		if l.county[t.county] == nil {
			l.county[t.county] = m.outline(counties, int(t.county))
		}
	}
	for _, h := range m.edges {
		a, b := place[h.face], place[m.edges[h.twin].face]
		if a < 0 || b < 0 || a == b {
			continue
		}
		t := &l.tracts[number[a]]
		if !slices.Contains(t.neighbors, number[b]) {
			t.neighbors = append(t.neighbors, number[b])
		}
	}
}

// centroid is the center of gravity of a ring.
func centroid(r []pt) pt {
	var sx, sy, sum float64
	for i := 1; i+1 < len(r); i++ {
		a, b := r[i].minus(r[0]), r[i+1].minus(r[0])
		w := float64(cross(a, b))
		sx += w * float64(a.x+b.x) / 3
		sy += w * float64(a.y+b.y) / 3
		sum += w
	}
	return pt{r[0].x + int64(sx/sum), r[0].y + int64(sy/sum)}
}
