package outline

import (
	"cmp"
	"math"
	"slices"
)

// Coverage is shapes cut into arcs: lines that run from one meeting of edges to
// the next, each with the shapes to its left and to its right. Shapes may lie
// over each other: counties and their townships go into one coverage.
type Coverage struct {
	points []Point
	arcs   []arc
	shapes [][]use // arcs of each shape, its inside to the left
}

// arc is a line of points that other arcs meet at its ends alone. A closed one
// that meets none has the same first and last point.
type arc struct {
	at          []int32
	left, right []int32 // shapes, in order
}

// use is an arc in a direction.
type use struct {
	arc  int32
	back bool
}

// New cuts shapes into arcs. Corners of one shape that lie on the edge of
// another, within a unit, become corners of both; crossing edges meet in a new
// corner; what is narrower than a unit closes up. The error wraps ErrTooFar if
// a coordinate is out of range.
func New(shapes []Shape) (*Coverage, error) {
	if err := checkRange(shapes); err != nil {
		return nil, err
	}
	m := newMesh(shapes)
	if err := m.settle(); err != nil {
		return nil, err
	}
	return m.coverage(len(shapes)), nil
}

// side is a shape's use of a segment.
type side struct {
	segment
	shape int32
	net   int32 // times from a to b, less those from b to a
}

// sides lists what shapes use of each segment. A shape that runs along one both
// ways, as where two of its polygons meet, does not use it.
func (m *mesh) sides() []side {
	n := 0
	for _, r := range m.rings {
		n += len(r.at)
	}
	all := make([]side, 0, n)
	for _, r := range m.rings {
		for i, p := range r.at {
			q := r.at[(i+1)%len(r.at)]
			s := side{segment: segmentOf(p, q), shape: r.shape, net: 1}
			if p > q {
				s.net = -1
			}
			all = append(all, s)
		}
	}
	slices.SortFunc(all, func(s, t side) int {
		return cmp.Or(cmp.Compare(s.a, t.a), cmp.Compare(s.b, t.b), cmp.Compare(s.shape, t.shape))
	})
	out := all[:0]
	for _, s := range all {
		if n := len(out); n > 0 && out[n-1].segment == s.segment && out[n-1].shape == s.shape {
			out[n-1].net += s.net
			continue
		}
		out = append(out, s)
	}
	return slices.DeleteFunc(out, func(s side) bool { return s.net == 0 })
}

// net is a graph of segments.
type net struct {
	edges []segment
	sides []side
	first []int32 // sides of edge i are sides[first[i]:first[i+1]]
	start []int32 // ends at point p are ends[start[p]:start[p+1]]
	ends  []int32 // numbers of edges
}

func (m *mesh) net() *net {
	g := &net{sides: m.sides()}
	for i, s := range g.sides {
		if i == 0 || g.sides[i-1].segment != s.segment {
			g.edges = append(g.edges, s.segment)
			g.first = append(g.first, int32(i))
		}
	}
	g.first = append(g.first, int32(len(g.sides)))
	g.start = make([]int32, len(m.points)+1)
	for _, e := range g.edges {
		g.start[e.a+1]++
		g.start[e.b+1]++
	}
	for i := 1; i < len(g.start); i++ {
		g.start[i] += g.start[i-1]
	}
	g.ends = make([]int32, 2*len(g.edges))
	fill := slices.Clone(g.start)
	for i, e := range g.edges {
		for _, p := range []int32{e.a, e.b} {
			g.ends[fill[p]] = int32(i)
			fill[p]++
		}
	}
	return g
}

func (g *net) degree(p int32) int { return int(g.start[p+1] - g.start[p]) }

// coverage walks the graph from every meeting of edges to the next; then round
// what meets nothing, from its first point in the order of the plane, so that
// the same shapes give the same arcs however they were listed.
func (m *mesh) coverage(shapes int) *Coverage {
	g := m.net()
	c := &Coverage{points: m.points, shapes: make([][]use, shapes)}
	order := make([]int32, len(m.points))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(i, j int32) int {
		p, q := m.points[i], m.points[j]
		return cmp.Or(cmp.Compare(p.X, q.X), cmp.Compare(p.Y, q.Y))
	})
	used := make([]bool, len(g.edges))
	for _, meeting := range []bool{true, false} {
		for _, p := range order {
			if (g.degree(p) != 2) != meeting {
				continue
			}
			for _, e := range g.ends[g.start[p]:g.start[p+1]] {
				if !used[e] {
					c.keep(g, g.walk(p, e, used), e)
				}
			}
		}
	}
	return c
}

// walk follows edges from point p along e until it meets others or is back.
func (g *net) walk(p, e int32, used []bool) []int32 {
	at := []int32{p}
	for {
		used[e] = true
		next := g.edges[e].a + g.edges[e].b - at[len(at)-1]
		at = append(at, next)
		if next == p || g.degree(next) != 2 {
			return at
		}
		ends := g.ends[g.start[next]:g.start[next+1]]
		e = ends[0] + ends[1] - e
	}
}

// keep stores an arc whose first edge is e, with the shapes on its sides.
func (c *Coverage) keep(g *net, at []int32, e int32) {
	n := int32(len(c.arcs))
	a := arc{at: at}
	for _, s := range g.sides[g.first[e]:g.first[e+1]] {
		// net > 0: the shape runs from the lower number to the higher, its
		// inside to the left.
		if (s.net > 0) == (at[0] == g.edges[e].a) {
			a.left = append(a.left, s.shape)
			c.shapes[s.shape] = append(c.shapes[s.shape], use{n, false})
		} else {
			a.right = append(a.right, s.shape)
			c.shapes[s.shape] = append(c.shapes[s.shape], use{n, true})
		}
	}
	c.arcs = append(c.arcs, a)
}

// Points are all corners, each once.
func (c *Coverage) Points() []Point { return slices.Clone(c.points) }

// Moved is the coverage with each of Points where to says, as after a change of
// the coordinate system.
func (c *Coverage) Moved(to []Point) (*Coverage, error) {
	moved := *c
	moved.points = to
	shapes := make([]Shape, len(c.shapes))
	for i := range shapes {
		shapes[i] = moved.Shape(i)
	}
	return New(shapes)
}

// Len is how many shapes there are.
func (c *Coverage) Len() int { return len(c.shapes) }

// Corners is how many corners the arcs have together.
func (c *Coverage) Corners() int {
	n := 0
	for _, a := range c.arcs {
		n += len(a.at)
	}
	return n
}

// Border is an edge that two shapes share, one on either side of it.
type Border struct {
	A, B   int // A < B
	Length float64
}

// Borders lists the shared borders by A and B.
func (c *Coverage) Borders() []Border {
	sum := map[[2]int32]float64{}
	for _, a := range c.arcs {
		length := 0.0
		for i := 1; i < len(a.at); i++ {
			p, q := c.points[a.at[i-1]], c.points[a.at[i]]
			length += math.Hypot(float64(q.X)-float64(p.X), float64(q.Y)-float64(p.Y))
		}
		for _, l := range a.left {
			for _, r := range a.right {
				sum[[2]int32{min(l, r), max(l, r)}] += length
			}
		}
	}
	out := make([]Border, 0, len(sum))
	for pair, length := range sum {
		out = append(out, Border{A: int(pair[0]), B: int(pair[1]), Length: length})
	}
	slices.SortFunc(out, func(a, b Border) int { return cmp.Or(cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B)) })
	return out
}
