package atlas

import (
	"cmp"
	"slices"
)

// figure is a polygon set on paper, ready for scanning.
type figure struct {
	rings []Ring
	box   Box
}

func newFigure(rings []Ring) *figure {
	f := &figure{rings: rings}
	first := true
	for _, r := range rings {
		for _, p := range r {
			if first {
				f.box, first = Box{p.X, p.Y, p.X, p.Y}, false
				continue
			}
			f.box = f.box.with(p)
		}
	}
	return f
}

func (b Box) with(p XY) Box {
	return Box{min(b.X0, p.X), min(b.Y0, p.Y), max(b.X1, p.X), max(b.Y1, p.Y)}
}

func (b Box) width() Unit  { return b.X1 - b.X0 }
func (b Box) height() Unit { return b.Y1 - b.Y0 }
func (b Box) center() XY   { return XY{(b.X0 + b.X1) / 2, (b.Y0 + b.Y1) / 2} }

// grow returns the box enlarged by d on every side.
func (b Box) grow(d Unit) Box { return Box{b.X0 - d, b.Y0 - d, b.X1 + d, b.Y1 + d} }

// meets reports whether two boxes share more than an edge.
func (b Box) meets(o Box) bool {
	return b.X0 < o.X1 && o.X0 < b.X1 && b.Y0 < o.Y1 && o.Y0 < b.Y1
}

// holds reports whether o lies within b.
func (b Box) holds(o Box) bool {
	return b.X0 <= o.X0 && o.X1 <= b.X1 && b.Y0 <= o.Y0 && o.Y1 <= b.Y1
}

// span is an interval of X.
type span struct{ a, b Unit }

func (s span) length() Unit { return s.b - s.a }

// block is the X extent of one edge within a band, and how often it crosses the
// band's middle.
type block struct {
	span
	cross int
}

// scanner scans figures; it keeps its buffers, so that a map costs few
// allocations. It is not safe for concurrent use.
type scanner struct {
	blocks []block
	out    []span
}

// gaps returns, from left to right, the intervals of X in which the whole band
// y0..y1 lies inside f: no edge enters the rectangles they span. The result is
// valid until the next call.
func (s *scanner) gaps(f *figure, y0, y1 Unit) []span {
	s.blocks, s.out = s.blocks[:0], s.out[:0]
	if y1 < f.box.Y0 || y0 > f.box.Y1 {
		return s.out
	}
	mid := (y0 + y1) / 2
	for _, r := range f.rings {
		for i := range r {
			a, b := r[i], r[(i+1)%len(r)]
			if max(a.Y, b.Y) < y0 || min(a.Y, b.Y) > y1 {
				continue
			}
			s.blocks = append(s.blocks, edgeBlock(a, b, y0, y1, mid))
		}
	}
	slices.SortFunc(s.blocks, func(p, q block) int { return cmp.Compare(p.a, q.a) })
	inside, end := 0, Unit(0)
	for i, b := range s.blocks {
		if i > 0 && b.a > end && inside%2 == 1 {
			s.out = append(s.out, span{end, b.a})
		}
		if i == 0 || b.b > end {
			end = b.b
		}
		inside += b.cross
	}
	return s.out
}

// edgeBlock clips an edge to the band and returns its extent, rounded outward.
func edgeBlock(a, b XY, y0, y1, mid Unit) block {
	if a.Y > b.Y {
		a, b = b, a
	}
	cross := 0
	if a.Y <= mid && mid < b.Y {
		cross = 1
	}
	if a.Y == b.Y {
		return block{span{min(a.X, b.X), max(a.X, b.X)}, cross}
	}
	lo, hi := xAt(a, b, max(a.Y, y0)), xAt(a, b, min(b.Y, y1))
	if lo.a > hi.a {
		lo, hi = hi, lo
	}
	return block{span{lo.a, max(lo.b, hi.b)}, cross}
}

// xAt returns where the rising edge a–b is at y, rounded down and up.
func xAt(a, b XY, y Unit) span {
	n, d := int64(b.X-a.X)*int64(y-a.Y), int64(b.Y-a.Y)
	q := floorDiv(n, d)
	s := span{a.X + Unit(q), a.X + Unit(q)}
	if q*d != n {
		s.b++
	}
	return s
}

// floorDiv is n/d rounded down, for d > 0.
func floorDiv(n, d int64) int64 {
	q := n / d
	if n%d < 0 {
		q--
	}
	return q
}

// roundDiv is n/d rounded to the nearest, for d > 0.
func roundDiv(n, d int64) int64 { return floorDiv(2*n+d, 2*d) }

// less cuts the boxes that reach into the band out of the spans.
func less(spans []span, y0, y1 Unit, avoid []Box) []span {
	for _, b := range avoid {
		if b.Y1 <= y0 || b.Y0 >= y1 {
			continue
		}
		spans = without(spans, span{b.X0, b.X1})
	}
	return spans
}

// without cuts one interval out of the spans; the input is not changed.
func without(spans []span, cut span) []span {
	if !slices.ContainsFunc(spans, func(s span) bool { return s.a < cut.b && cut.a < s.b }) {
		return spans
	}
	out := make([]span, 0, len(spans)+1)
	for _, s := range spans {
		if cut.b <= s.a || cut.a >= s.b {
			out = append(out, s)
			continue
		}
		if s.a < cut.a {
			out = append(out, span{s.a, cut.a})
		}
		if cut.b < s.b {
			out = append(out, span{cut.b, s.b})
		}
	}
	return out
}

// longest returns the longest span, the leftmost of equals, or a zero span.
func longest(spans []span) span {
	var best span
	for _, s := range spans {
		if s.length() > best.length() {
			best = s
		}
	}
	return best
}

// overlap returns how much of the two spans is common.
func (s span) overlap(o span) Unit { return max(0, min(s.b, o.b)-max(s.a, o.a)) }

// holds reports whether the figure contains the whole box.
func (s *scanner) holds(f *figure, b Box) bool {
	for _, g := range s.gaps(f, b.Y0, b.Y1) {
		if g.a <= b.X0 && b.X1 <= g.b {
			return true
		}
	}
	return false
}
