package outline

import (
	"cmp"
	"math/big"
	"slices"
)

// ring is a ring of a shape as numbers of points, without the first again.
type ring struct {
	shape int32
	at    []int32
}

// segment joins two points, the lower number first.
type segment struct{ a, b int32 }

func segmentOf(a, b int32) segment { return segment{min(a, b), max(a, b)} }

// mesh is the rings of all shapes over one list of points.
type mesh struct {
	points []Point
	number map[Point]int32
	rings  []ring
}

func (m *mesh) add(p Point) int32 {
	n, known := m.number[p]
	if !known {
		n = int32(len(m.points))
		m.points = append(m.points, p)
		m.number[p] = n
	}
	return n
}

// newMesh takes the rings of shapes, outer ones counter-clockwise, holes
// clockwise: what is inside is to the left.
func newMesh(shapes []Shape) *mesh {
	m := &mesh{number: map[Point]int32{}}
	for i, s := range shapes {
		for _, polygon := range s {
			for j, points := range polygon {
				r := ring{shape: int32(i), at: make([]int32, 0, len(points))}
				for _, p := range points {
					r.at = append(r.at, m.add(p))
				}
				if (area2(points) < 0) == (j == 0) {
					slices.Reverse(r.at)
				}
				r.at = tidy(r.at)
				if len(r.at) > 2 {
					m.rings = append(m.rings, r)
				}
			}
		}
	}
	return m
}

// tidy takes out points that repeat the one before, and ways there and
// straight back.
func tidy(at []int32) []int32 {
	out := at[:0]
	for _, p := range at {
		switch n := len(out); {
		case n > 0 && out[n-1] == p:
		case n > 1 && out[n-2] == p:
			out = out[:n-1]
		default:
			out = append(out, p)
		}
	}
	for len(out) > 1 {
		n := len(out)
		switch {
		case out[0] == out[n-1]:
			out = out[:n-1]
		case n > 2 && out[1] == out[n-1]:
			out = out[1 : n-1]
		case n > 2 && out[0] == out[n-2]:
			out = out[:n-1]
		default:
			return out
		}
	}
	return out
}

// segments lists every segment once, in order.
func (m *mesh) segments() []segment {
	n := 0
	for _, r := range m.rings {
		n += len(r.at)
	}
	out := make([]segment, 0, n)
	for _, r := range m.rings {
		for i, p := range r.at {
			out = append(out, segmentOf(p, r.at[(i+1)%len(r.at)]))
		}
	}
	slices.SortFunc(out, func(s, t segment) int { return cmp.Or(cmp.Compare(s.a, t.a), cmp.Compare(s.b, t.b)) })
	return slices.Compact(out)
}

// settle puts a corner wherever edges cross, and into every edge that passes
// through the unit square around a corner, until edges meet at corners only.
// (The method is snap rounding: Hobby, Computational Geometry 13, 1999, from
// memory.) An edge moves by less than a unit; the second round, which is all
// but always the last, only makes sure.
func (m *mesh) settle() error {
	const rounds = 40
	for round := range rounds {
		segments := m.segments()
		hits := passesOver
		if m.crossings(segments) || round == 0 {
			hits = through
		}
		chains := m.passing(segments, hits)
		if len(chains) == 0 {
			return nil
		}
		m.insert(chains)
	}
	return errUnsettled
}

// crossings adds the points nearest to where segments cross, and reports
// whether any do.
func (m *mesh) crossings(segments []segment) bool {
	found := false
	boxes := make([]box, len(segments))
	for i, s := range segments {
		boxes[i] = boxOf(m.points[s.a], m.points[s.b])
	}
	t := newTree(boxes)
	for i, s := range segments {
		a, b := m.points[s.a], m.points[s.b]
		t.visit(boxes[i].meets, func(j int32) bool {
			if int(j) > i {
				c, d := m.points[segments[j].a], m.points[segments[j].b]
				if crosses(a, b, c, d) {
					found = true
					m.add(crossing(a, b, c, d))
				}
			}
			return true
		})
	}
	return found
}

// crosses reports whether two segments cross within both.
func crosses(a, b, c, d Point) bool {
	o1, o2 := cross(a, b, c), cross(a, b, d)
	if o1 == 0 || o2 == 0 || (o1 > 0) == (o2 > 0) {
		return false
	}
	o3, o4 := cross(c, d, a), cross(c, d, b)
	return o3 != 0 && o4 != 0 && (o3 > 0) != (o4 > 0)
}

// crossing is the whole point nearest to where two segments cross.
func crossing(a, b, c, d Point) Point {
	num, den := cross(c, d, a), cross(c, d, a)-cross(c, d, b)
	if den < 0 {
		num, den = -num, -den
	}
	along := func(from, to int32) int32 {
		// from + num*(to-from)/den, rounded to the nearest, halves upward.
		n := new(big.Int).Mul(big.NewInt(num), big.NewInt(2*(int64(to)-int64(from))))
		n.Add(n, big.NewInt(den))
		d := new(big.Int).Lsh(big.NewInt(den), 1)
		return int32(int64(from) + n.Div(n, d).Int64()) // rounds down, the divisor being positive
	}
	return Point{along(a.X, b.X), along(a.Y, b.Y)}
}

// passing finds the corners that segments hit, in order along each.
func (m *mesh) passing(segments []segment, hits func(p, a, b Point) bool) map[segment][]int32 {
	boxes := make([]box, len(m.points))
	for i, p := range m.points {
		boxes[i] = boxOf(p, p)
	}
	t := newTree(boxes)
	chains := map[segment][]int32{}
	for _, s := range segments {
		a, b := m.points[s.a], m.points[s.b]
		var on []int32
		t.visit(func(c box) bool { return c.near(a, b) }, func(i int32) bool {
			if i != s.a && i != s.b && hits(m.points[i], a, b) {
				on = append(on, i)
			}
			return true
		})
		if len(on) == 0 {
			continue
		}
		along := func(i int32) int64 {
			p := m.points[i]
			return (int64(p.X)-int64(a.X))*(int64(b.X)-int64(a.X)) + (int64(p.Y)-int64(a.Y))*(int64(b.Y)-int64(a.Y))
		}
		slices.SortFunc(on, func(i, j int32) int { return cmp.Or(cmp.Compare(along(i), along(j)), cmp.Compare(i, j)) })
		chains[s] = on
	}
	return chains
}

// insert puts the found corners into all rings.
func (m *mesh) insert(chains map[segment][]int32) {
	kept := m.rings[:0]
	for _, r := range m.rings {
		out := make([]int32, 0, len(r.at)+8)
		for i, p := range r.at {
			q := r.at[(i+1)%len(r.at)]
			out = append(out, p)
			chain := chains[segmentOf(p, q)]
			if p < q {
				out = append(out, chain...)
			} else {
				for j := len(chain) - 1; j >= 0; j-- {
					out = append(out, chain[j])
				}
			}
		}
		if r.at = tidy(out); len(r.at) > 2 {
			kept = append(kept, r)
		}
	}
	m.rings = kept
}
