package press

import "math"

// vec is a point or a way, in pixels.
type vec struct{ x, y float64 }

func (a vec) plus(b vec) vec          { return vec{a.x + b.x, a.y + b.y} }
func (a vec) minus(b vec) vec         { return vec{a.x - b.x, a.y - b.y} }
func (a vec) times(k float64) vec     { return vec{a.x * k, a.y * k} }
func (a vec) length() float64         { return math.Hypot(a.x, a.y) }
func (a vec) cross(b vec) float64     { return a.x*b.y - a.y*b.x }
func (a vec) dot(b vec) float64       { return a.x*b.x + a.y*b.y }
func (a vec) left() vec               { return vec{-a.y, a.x} }
func (a vec) to(b vec, k float64) vec { return a.plus(b.minus(a).times(k)) }

// stroker turns lines into polygons that all turn the same way, so that a
// rasterizer that adds up windings shows their union.
type stroker struct {
	half  float64 // half the width
	round bool    // ends and joins; else butt ends and mitered joins
	emit  func([]vec)
	quad  [4]vec
}

// line strokes a polyline, dashed if there are dashes.
func (s *stroker) line(points []vec, closed bool, dash []float64) {
	points = distinct(points, closed)
	if len(points) == 1 {
		if s.round {
			s.dot(points[0])
		}
		return
	}
	if len(points) == 0 {
		return
	}
	if len(dash) == 0 {
		s.solid(points, closed)
		return
	}
	if closed {
		points = append(points, points[0])
	}
	s.dashed(points, dash)
}

// distinct drops points on the one before.
func distinct(points []vec, closed bool) []vec {
	out := make([]vec, 0, len(points))
	for _, p := range points {
		if n := len(out); n == 0 || out[n-1] != p {
			out = append(out, p)
		}
	}
	if closed && len(out) > 1 && out[0] == out[len(out)-1] {
		out = out[:len(out)-1]
	}
	return out
}

func (s *stroker) solid(points []vec, closed bool) {
	n := len(points)
	last := n - 1
	if closed {
		last = n
	}
	for i := range last {
		s.piece(points[i], points[(i+1)%n])
	}
	for i, p := range points {
		if !closed && (i == 0 || i == n-1) {
			if s.round {
				s.dot(p)
			}
			continue
		}
		s.join(points[(i+n-1)%n], p, points[(i+1)%n])
	}
}

// piece strokes one straight piece with butt ends.
func (s *stroker) piece(a, b vec) {
	d := b.minus(a)
	n := d.left().times(s.half / d.length())
	s.quad = [4]vec{a.plus(n), b.plus(n), b.minus(n), a.minus(n)}
	s.emit(s.quad[:])
}

// dot is a disk, turned like the pieces.
func (s *stroker) dot(p vec) {
	n := min(max(int(s.half*4), 8), 48)
	out := make([]vec, n)
	for i := range out {
		sin, cos := math.Sincos(-2 * math.Pi * float64(i) / float64(n))
		out[i] = vec{p.x + s.half*cos, p.y + s.half*sin}
	}
	s.emit(out)
}

// join fills the outer corner at p.
func (s *stroker) join(a, p, b vec) {
	d1, d2 := p.minus(a), b.minus(p)
	d1, d2 = d1.times(1/d1.length()), d2.times(1/d2.length())
	bend := d1.cross(d2)
	if math.Abs(bend) < 0.02 && d1.dot(d2) > 0 {
		return // too little to see
	}
	if s.round {
		s.dot(p)
		return
	}
	out := -1.0 // the outer side is to the left when the line bends right
	if bend < 0 {
		out = 1
	}
	n1, n2 := d1.left().times(out*s.half), d2.left().times(out*s.half)
	poly := []vec{p, p.plus(n1), p.plus(n2)}
	// SVG's default limit of 4 is the miter's length in widths.
	if c := 1 + d1.dot(d2); c > 2.0/16 {
		poly = []vec{p, p.plus(n1), p.plus(n1.plus(n2).times(1 / c)), p.plus(n2)}
	}
	if poly[1].minus(p).cross(poly[len(poly)-1].minus(p)) > 0 {
		for i, j := 0, len(poly)-1; i < j; i, j = i+1, j-1 {
			poly[i], poly[j] = poly[j], poly[i]
		}
	}
	s.emit(poly)
}

// dashed strokes the dashes of a line; a dash of no length is a dot when ends are
// round.
func (s *stroker) dashed(points []vec, dash []float64) {
	if sum(dash) < 0.1 {
		s.solid(points, false)
		return
	}
	i, left := 0, dash[0]
	on := true
	run := []vec{points[0]}
	for k := 1; k < len(points); k++ {
		a, b := points[k-1], points[k]
		length := b.minus(a).length()
		done := 0.0
		for length-done > left {
			done += left
			at := a.to(b, done/length)
			if on {
				s.line(append(run, at), false, nil)
			}
			run = []vec{at}
			on = !on
			i = (i + 1) % len(dash)
			left = dash[i]
		}
		left -= length - done
		if on {
			run = append(run, b)
		}
	}
	if on {
		s.line(run, false, nil)
	}
}

func sum(v []float64) (s float64) {
	for _, x := range v {
		s += x
	}
	return s
}
