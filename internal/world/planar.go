package world

import (
	"cmp"
	"fmt"
	"slices"
)

// pt is a point of the local plane in whole millimeters, east and north. Whole
// numbers make every shared vertex exactly equal on both sides of a line.
type pt struct{ x, y int64 }

func (p pt) minus(q pt) pt { return pt{p.x - q.x, p.y - q.y} }

func cross(a, b pt) int64 { return a.x*b.y - a.y*b.x }

// border is a line that cuts cells of the grid. Faces on its left and right
// belong to the named counties; outside drops them, inherit keeps the plan's.
type border struct {
	line        []pt
	left, right byte
}

const (
	outside byte = '.'
	inherit byte = '*'
)

// halfEdge runs from one vertex to another with its face on the left.
type halfEdge struct {
	from, to int
	twin     int
	next     int
	face     int
	owner    byte // what a border says of the face on the left, or 0
}

// mesh is the planar graph of the grid and the borders, and its faces.
type mesh struct {
	pts   []pt
	index map[pt]int
	edges []halfEdge
	known map[[2]int]int // from, to → half-edge
	faces []int          // a half-edge of each bounded face
}

func newMesh() *mesh {
	return &mesh{index: map[pt]int{}, known: map[[2]int]int{}}
}

func (m *mesh) vertex(p pt) int {
	if i, ok := m.index[p]; ok {
		return i
	}
	m.index[p] = len(m.pts)
	m.pts = append(m.pts, p)
	return len(m.pts) - 1
}

// add joins two points by a pair of half-edges, unless they are joined already.
func (m *mesh) add(p, q pt) int {
	a, b := m.vertex(p), m.vertex(q)
	if e, ok := m.known[[2]int{a, b}]; ok {
		return e
	}
	e := len(m.edges)
	m.edges = append(m.edges,
		halfEdge{from: a, to: b, twin: e + 1, face: -1},
		halfEdge{from: b, to: a, twin: e, face: -1})
	m.known[[2]int{a, b}] = e
	m.known[[2]int{b, a}] = e + 1
	return e
}

// addBorder adds a noded line and marks what lies on either side.
func (m *mesh) addBorder(b border) {
	for i := 1; i < len(b.line); i++ {
		e := m.add(b.line[i-1], b.line[i])
		m.edges[e].owner = b.left
		m.edges[m.edges[e].twin].owner = b.right
	}
}

// trace links the half-edges into faces: at each vertex the next edge of a
// face is the one just clockwise of the way back.
func (m *mesh) trace() {
	out := make([][]int, len(m.pts))
	for e, h := range m.edges {
		out[h.from] = append(out[h.from], e)
	}
	for _, list := range out {
		slices.SortFunc(list, m.byAngle)
		for i, e := range list {
			back := m.edges[e].twin
			m.edges[back].next = list[(i+len(list)-1)%len(list)]
		}
	}
	for e := range m.edges {
		if m.edges[e].face >= 0 {
			continue
		}
		id := len(m.faces)
		for h := e; m.edges[h].face < 0; h = m.edges[h].next {
			m.edges[h].face = id
		}
		m.faces = append(m.faces, e)
	}
}

// byAngle orders edges that leave one vertex counter-clockwise from east.
func (m *mesh) byAngle(a, b int) int {
	p := m.pts[m.edges[a].to].minus(m.pts[m.edges[a].from])
	q := m.pts[m.edges[b].to].minus(m.pts[m.edges[b].from])
	if hp, hq := lowerHalf(p), lowerHalf(q); hp != hq {
		return cmp.Compare(hp, hq)
	}
	return cmp.Compare(0, cross(p, q))
}

func lowerHalf(p pt) int {
	if p.y < 0 || p.y == 0 && p.x < 0 {
		return 1
	}
	return 0
}

// ring lists the vertices of a face, counter-clockwise for a bounded one.
func (m *mesh) ring(face int) []pt {
	start := m.faces[face]
	var r []pt
	for h := start; ; {
		r = append(r, m.pts[m.edges[h].from])
		if h = m.edges[h].next; h == start {
			return r
		}
	}
}

// outline walks around all faces of one group. It panics if they do not make
// one ring: the plan of the state is fixed, so that is a mistake in the plan.
func (m *mesh) outline(group []int, g int) []pt {
	border := func(h int) bool {
		e := m.edges[h]
		return group[e.face] == g && group[m.edges[e.twin].face] != g
	}
	start, total := -1, 0
	for h := range m.edges {
		if border(h) {
			total++
			if start < 0 {
				start = h
			}
		}
	}
	var r []pt
	for h := start; ; {
		r = append(r, m.pts[m.edges[h].from])
		for h = m.edges[h].next; !border(h); {
			h = m.edges[m.edges[h].twin].next
		}
		if h == start {
			break
		}
	}
	if len(r) != total {
		panic(fmt.Sprintf("world: group %d has more than one ring", g))
	}
	return r
}

// area2 is twice the signed area in square millimeters, taken from the first
// vertex so that the products stay small.
func area2(r []pt) int64 {
	var sum int64
	for i := 1; i+1 < len(r); i++ {
		sum += cross(r[i].minus(r[0]), r[i+1].minus(r[0]))
	}
	return sum
}

// inside tells by counting crossings; points on the line may go either way.
func inside(r []pt, p pt) bool {
	in := false
	for i, j := 0, len(r)-1; i < len(r); j, i = i, i+1 {
		a, b := r[i], r[j]
		if (a.y > p.y) == (b.y > p.y) {
			continue
		}
		c := cross(b.minus(a), p.minus(a))
		if (c > 0) == (b.y > a.y) {
			in = !in
		}
	}
	return in
}

// nodeAtGrid inserts the points where a line crosses the lines of the grid.
func nodeAtGrid(line []pt, cell int64) []pt {
	out := []pt{line[0]}
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		var mid []pt
		for _, x := range multiplesBetween(p.x, q.x, cell) {
			mid = append(mid, pt{x, along(p.y, q.y, x-p.x, q.x-p.x)})
		}
		for _, y := range multiplesBetween(p.y, q.y, cell) {
			mid = append(mid, pt{along(p.x, q.x, y-p.y, q.y-p.y), y})
		}
		slices.SortFunc(mid, func(a, b pt) int {
			return cmp.Compare(span(p, a), span(p, b))
		})
		out = slices.Compact(append(append(out, mid...), q))
	}
	return out
}

// span is the city-block distance, which grows along any straight line.
func span(a, b pt) int64 { return abs(b.x-a.x) + abs(b.y-a.y) }

func abs(v int64) int64 { return max(v, -v) }

// along is a + (b-a)·num/den to the nearest whole number.
func along(a, b, num, den int64) int64 {
	n := 2*(b-a)*num + den
	q := n / (2 * den)
	if n%(2*den) != 0 && (n < 0) != (den < 0) {
		q--
	}
	return a + q
}

// multiplesBetween lists the multiples of step strictly between a and b.
func multiplesBetween(a, b, step int64) []int64 {
	lo, hi := min(a, b), max(a, b)
	var out []int64
	for v := (lo/step - 1) * step; v < hi; v += step {
		if v > lo {
			out = append(out, v)
		}
	}
	return out
}
