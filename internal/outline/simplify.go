package outline

import (
	"container/heap"
	"math/bits"
)

// Simplify takes corners out of arcs, least first, as long as
//
//   - no corner of the full arc is farther from the simpler one than the least
//     tolerance of the shapes that the arc bounds;
//   - no other corner lies in the triangle that is cut off or on its sides, so
//     that no edge can come to cross another;
//   - no two edges come to be one, so that every island and every hole stays.
//
// Meetings of arcs stay where they are. tolerance gives one number per shape,
// in units.
func (c *Coverage) Simplify(tolerance []int32) *Coverage {
	s := newSimplifier(c)
	for i, a := range c.arcs {
		most := int32(1 << 30)
		for _, shapes := range [][]int32{a.left, a.right} {
			for _, shape := range shapes {
				most = min(most, tolerance[shape])
			}
		}
		s.most[i] = max(most, 0)
	}
	s.run()
	out := *c
	out.arcs = make([]arc, len(c.arcs))
	for i, a := range c.arcs {
		out.arcs[i] = arc{at: s.left(a.at, i), left: a.left, right: a.right}
	}
	return &out
}

// bend is a corner that may go: point number p of an arc.
type bend struct {
	weight int64 // twice the area of the triangle cut off
	arc    int32
	at     int32 // index in the full arc
	stamp  int32 // which of several weighings this is
}

type bends []bend

func (b bends) Len() int { return len(b) }
func (b bends) Less(i, j int) bool {
	if b[i].weight != b[j].weight {
		return b[i].weight < b[j].weight
	}
	if b[i].arc != b[j].arc {
		return b[i].arc < b[j].arc
	}
	return b[i].at < b[j].at
}
func (b bends) Swap(i, j int) { b[i], b[j] = b[j], b[i] }
func (b *bends) Push(v any)   { *b = append(*b, v.(bend)) }
func (b *bends) Pop() any {
	last := (*b)[len(*b)-1]
	*b = (*b)[:len(*b)-1]
	return last
}

type simplifier struct {
	c          *Coverage
	most       []int32   // by arc: tolerance
	prev, next [][]int32 // by arc and index: the corners left around it
	stamp      [][]int32
	gone       []bool // by point
	tree       *tree
	edges      map[segment]int32 // edges left, and how often
	queue      bends
}

func newSimplifier(c *Coverage) *simplifier {
	n := len(c.arcs)
	s := &simplifier{c: c, most: make([]int32, n), prev: make([][]int32, n), next: make([][]int32, n),
		stamp: make([][]int32, n), gone: make([]bool, len(c.points)), edges: map[segment]int32{}}
	boxes := make([]box, len(c.points))
	for i, p := range c.points {
		boxes[i] = boxOf(p, p)
		s.gone[i] = true
	}
	s.tree = newTree(boxes)
	for i, a := range c.arcs {
		s.prev[i], s.next[i], s.stamp[i] = make([]int32, len(a.at)), make([]int32, len(a.at)), make([]int32, len(a.at))
		for j, p := range a.at {
			s.gone[p] = false // a point that no arc has stands in nobody's way
			s.prev[i][j], s.next[i][j] = int32(j-1), int32(j+1)
			if j > 0 {
				s.edges[segmentOf(a.at[j-1], p)]++
			}
		}
	}
	return s
}

func (s *simplifier) run() {
	for i, a := range s.c.arcs {
		for j := 1; j+1 < len(a.at); j++ {
			s.weigh(int32(i), int32(j))
		}
	}
	heap.Init(&s.queue)
	for s.queue.Len() > 0 {
		b := heap.Pop(&s.queue).(bend)
		if b.stamp == s.stamp[b.arc][b.at] && s.may(b) {
			s.cut(b)
		}
	}
}

// weigh puts a corner into the queue, in place of what was said of it before.
// Before run's Init the queue is a plain list.
func (s *simplifier) weigh(i, j int32) {
	a := s.c.arcs[i].at
	s.stamp[i][j]++
	p, q, r := s.c.points[a[s.prev[i][j]]], s.c.points[a[j]], s.c.points[a[s.next[i][j]]]
	s.queue = append(s.queue, bend{weight: abs(cross(p, q, r)), arc: i, at: j, stamp: s.stamp[i][j]})
}

// may reports whether a corner can go.
func (s *simplifier) may(b bend) bool {
	a := s.c.arcs[b.arc].at
	before, after := s.prev[b.arc][b.at], s.next[b.arc][b.at]
	from, to := a[before], a[after]
	if from == to || s.edges[segmentOf(from, to)] > 0 {
		return false
	}
	p, q := s.c.points[from], s.c.points[to]
	for j := before + 1; j < after; j++ {
		if !within(s.c.points[a[j]], p, q, s.most[b.arc]) {
			return false
		}
	}
	return s.clear(p, s.c.points[a[b.at]], q, from, a[b.at], to)
}

// clear reports whether no corner but its own lies in or on a triangle.
func (s *simplifier) clear(p, q, r Point, own ...int32) bool {
	if cross(p, q, r) < 0 {
		p, r = r, p
	}
	outside := func(b box, from, to Point) bool { // all of it to the right of one side
		far := Point{b.x0, b.y0} // the corner of the box that is farthest to the left
		if to.Y < from.Y {
			far.X = b.x1
		}
		if to.X > from.X {
			far.Y = b.y1
		}
		return cross(from, to, far) < 0
	}
	around := boxOf(p, q).around(boxOf(q, r))
	free := true
	s.tree.visit(func(b box) bool {
		return b.meets(around) && !outside(b, p, q) && !outside(b, q, r) && !outside(b, r, p)
	}, func(i int32) bool {
		if !s.gone[i] && i != own[0] && i != own[1] && i != own[2] {
			free = false
		}
		return free
	})
	return free
}

func (s *simplifier) cut(b bend) {
	a := s.c.arcs[b.arc].at
	prev, next := s.prev[b.arc], s.next[b.arc]
	before, after := prev[b.at], next[b.at]
	for _, e := range []segment{segmentOf(a[before], a[b.at]), segmentOf(a[b.at], a[after])} {
		delete(s.edges, e)
	}
	s.edges[segmentOf(a[before], a[after])] = 1
	next[before], prev[after] = after, before
	s.gone[a[b.at]] = true
	s.stamp[b.arc][b.at]++
	for _, j := range []int32{before, after} {
		if j > 0 && int(j) < len(a)-1 {
			s.weigh(b.arc, j)
			heap.Fix(&s.queue, s.queue.Len()-1)
		}
	}
}

// left is an arc without the corners that went.
func (s *simplifier) left(at []int32, i int) []int32 {
	var out []int32
	for j := int32(0); int(j) < len(at); j = s.next[i][j] {
		out = append(out, at[j])
	}
	return out
}

// within reports whether a point is no farther than most from the segment from
// a to b.
func within(p, a, b Point, most int32) bool {
	dx, dy := int64(b.X)-int64(a.X), int64(b.Y)-int64(a.Y)
	px, py := int64(p.X)-int64(a.X), int64(p.Y)-int64(a.Y)
	along, length := px*dx+py*dy, dx*dx+dy*dy
	limit := int64(most) * int64(most)
	switch {
	case along <= 0:
		return px*px+py*py <= limit
	case along >= length:
		qx, qy := int64(p.X)-int64(b.X), int64(p.Y)-int64(b.Y)
		return qx*qx+qy*qy <= limit
	}
	// The distance to the line is off/√length: compare off² with limit·length.
	off := uint64(abs(dx*py - dy*px))
	hi, lo := bits.Mul64(off, off)
	limitHi, limitLo := bits.Mul64(uint64(limit), uint64(length))
	return hi < limitHi || hi == limitHi && lo <= limitLo
}
