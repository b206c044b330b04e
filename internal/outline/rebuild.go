package outline

import (
	"cmp"
	"slices"
)

// Shape puts a shape together from its arcs: outer rings counter-clockwise,
// holes clockwise, no ring through a corner twice. It is empty if the shape was
// narrower than a unit.
func (c *Coverage) Shape(i int) Shape { return c.rebuild(c.shapes[i]) }

// Union is the outline of several shapes together: what lies between them, or
// within another of them, is gone.
func (c *Coverage) Union(members []int) Shape {
	in := make(map[int32]bool, len(members))
	var arcs []int32
	for _, m := range members {
		in[int32(m)] = true
		for _, u := range c.shapes[m] {
			arcs = append(arcs, u.arc)
		}
	}
	slices.Sort(arcs)
	member := func(s int32) bool { return in[s] }
	cover := c.solids(members)
	var uses []use
	for _, a := range slices.Compact(arcs) {
		left, right := slices.ContainsFunc(c.arcs[a].left, member), slices.ContainsFunc(c.arcs[a].right, member)
		if left != right && !c.covered(c.arcs[a], cover) {
			uses = append(uses, use{a, right})
		}
	}
	return c.rebuild(uses)
}

// solid is a shape and the box around it.
type solid struct {
	number int32
	box    box
	shape  Shape
}

func (c *Coverage) solids(members []int) []solid {
	out := make([]solid, 0, len(members))
	for _, m := range members {
		s := solid{number: int32(m), shape: c.Shape(m)}
		for i, polygon := range s.shape {
			for j, p := range polygon[0] {
				if i == 0 && j == 0 {
					s.box = boxOf(p, p)
				}
				s.box = s.box.around(boxOf(p, p))
			}
		}
		if len(s.shape) > 0 {
			out = append(out, s)
		}
	}
	return out
}

// covered reports whether an arc runs within one of the shapes, as only where
// shapes lie over each other.
func (c *Coverage) covered(a arc, cover []solid) bool {
	p, q := c.points[a.at[0]], c.points[a.at[1]]
	edge := boxOf(p, q)
	for _, s := range cover {
		if !s.box.meets(edge) || slices.Contains(a.left, s.number) || slices.Contains(a.right, s.number) {
			continue
		}
		in := false
		for _, polygon := range s.shape {
			for _, ring := range polygon {
				in = in != around(ring, p, q)
			}
		}
		if in {
			return true
		}
	}
	return false
}

// ends are the first and the last point of an arc in its direction, and the
// points next to them.
func (c *Coverage) ends(u use) (from, second, last, to int32) {
	at := c.arcs[u.arc].at
	n := len(at)
	if u.back {
		return at[n-1], at[n-2], at[1], at[0]
	}
	return at[0], at[1], at[n-2], at[n-1]
}

// rebuild links directed arcs into rings and rings into polygons.
func (c *Coverage) rebuild(uses []use) Shape {
	leaving := map[int32][]int{} // by point: numbers of uses that start there
	for i, u := range uses {
		from, _, _, _ := c.ends(u)
		leaving[from] = append(leaving[from], i)
	}
	taken := make([]bool, len(uses))
	var rings [][]Point
	for i := range uses {
		if !taken[i] {
			rings = append(rings, c.trace(uses, i, leaving, taken)...)
		}
	}
	return polygons(rings)
}

// trace follows arcs from one of them until it is back, always taking the next
// that bounds the same inside, and gives a ring for every time it comes through
// a point again.
func (c *Coverage) trace(uses []use, i int, leaving map[int32][]int, taken []bool) [][]Point {
	var rings [][]Point
	var path []use
	begun := map[int32]int{} // by point: where in the path it was left
	for {
		taken[i] = true
		from, _, last, to := c.ends(uses[i])
		begun[from] = len(path)
		path = append(path, uses[i])
		if at, again := begun[to]; again {
			rings = append(rings, c.ring(path[at:]))
			for _, u := range path[at:] {
				from, _, _, _ := c.ends(u)
				delete(begun, from)
			}
			path = path[:at]
		}
		next := -1
		for _, j := range leaving[to] {
			if taken[j] {
				continue
			}
			_, second, _, _ := c.ends(uses[j])
			if next < 0 {
				next = j
				continue
			}
			_, best, _, _ := c.ends(uses[next])
			if c.sooner(to, last, second, best) {
				next = j
			}
		}
		if next < 0 {
			return rings // an open path cannot be: as many arcs leave a point as come
		}
		if len(path) == 0 {
			return rings
		}
		i = next
	}
}

// sooner reports whether, turning clockwise at a point from the direction of
// back, one comes to p before q.
func (c *Coverage) sooner(at, back, p, q int32) bool {
	o := c.points[at]
	toP, toQ := c.turn(o, back, p), c.turn(o, back, q)
	if toP != toQ {
		return toP < toQ
	}
	return cross(o, c.points[p], c.points[q]) < 0 // q is clockwise of p
}

// turn is 0 for a direction in the clockwise half-turn from back, 1 for the
// opposite direction, 2 beyond.
func (c *Coverage) turn(o Point, back, p int32) int {
	b, d := c.points[back], c.points[p]
	switch side := cross(o, b, d); {
	case side < 0:
		return 0
	case side > 0:
		return 2
	}
	return 1
}

// ring is a closed path as points.
func (c *Coverage) ring(path []use) []Point {
	var out []Point
	for _, u := range path {
		at := c.arcs[u.arc].at
		for i := range len(at) - 1 {
			if u.back {
				out = append(out, c.points[at[len(at)-1-i]])
			} else {
				out = append(out, c.points[at[i]])
			}
		}
	}
	return append(out, out[0])
}

// polygons sorts rings into outer ones and holes, and gives each hole to the
// smallest outer ring around it. A ring that is neither, left by rounding, goes.
func polygons(rings [][]Point) Shape {
	var out Shape
	var holes [][]Point
	for _, r := range rings {
		switch a := area2(r); {
		case a > 0:
			out = append(out, [][]Point{r})
		case a < 0:
			holes = append(holes, r)
		}
	}
	slices.SortStableFunc(out, func(p, q [][]Point) int { return cmp.Compare(area2(p[0]), area2(q[0])) })
	for _, h := range holes {
		for i := range out {
			if encloses(out[i][0], h) {
				out[i] = append(out[i], h)
				break
			}
		}
	}
	slices.Reverse(out) // the largest first
	return out
}

// encloses reports whether a ring lies around another that it may touch at
// corners.
func encloses(outer, inner []Point) bool { return around(outer, inner[0], inner[1]) }

// around reports whether a ring lies around the middle of an edge that is none
// of its own: the edges of a coverage meet at corners only, so it is not on one.
func around(ring []Point, p, q Point) bool {
	x, y := int64(p.X)+int64(q.X), int64(p.Y)+int64(q.Y) // doubled
	in := false
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		if a.Y > b.Y {
			a, b = b, a
		}
		if 2*int64(a.Y) <= y && y < 2*int64(b.Y) {
			left := (int64(b.X)-int64(a.X))*(y-2*int64(a.Y)) - (int64(b.Y)-int64(a.Y))*(x-2*int64(a.X))
			if left > 0 {
				in = !in
			}
		}
	}
	return in
}
