package press

import (
	"image"
	"slices"

	"golang.org/x/image/font/sfnt"

	"sixmile/internal/atlas"
)

type sfntUnits = sfnt.Units

func (r *raster) path(d atlas.Path) {
	rings := make([][]vec, 0, len(d.Rings))
	for _, ring := range d.Rings {
		if len(ring) > 0 {
			rings = append(rings, r.ring(ring))
		}
	}
	if c := r.color(d.Fill); c != nil && !d.Open {
		lo, hi := bounds(rings)
		if b, ok := r.start(lo, hi, 1); ok {
			for _, ring := range evenOdd(rings) {
				r.polygon(ring)
			}
			r.finish(b, c)
		}
	}
	r.stroke(rings, !d.Open, d.Stroke, d.Width, d.Dash, d.Round)
}

func (r *raster) segments(s atlas.Segments) {
	lines := make([][]vec, len(s.Lines))
	for i, l := range s.Lines {
		lines[i] = []vec{r.at(l.A), r.at(l.B)}
	}
	r.stroke(lines, false, s.Stroke, s.Width, s.Dash, s.Round)
}

func (r *raster) stroke(lines [][]vec, closed bool, p atlas.Paint, width atlas.Unit, dash []atlas.Unit, round bool) {
	c := r.color(p)
	if c == nil || len(lines) == 0 {
		return
	}
	r.points, r.polys = r.points[:0], r.polys[:0]
	s := stroker{half: float64(r.theme.Width(p, width)) * r.k / 2, round: round, emit: r.collect}
	steps := make([]float64, len(dash))
	for i, d := range dash {
		steps[i] = float64(d) * r.k
	}
	for _, l := range lines {
		s.line(l, closed, steps)
	}
	r.tiles(c)
}

// poly is a polygon waiting to be rasterized: its points among the raster's, and
// its bounds.
type poly struct {
	from, to int
	lo, hi   vec
}

func (r *raster) collect(points []vec) {
	from := len(r.points)
	r.points = append(r.points, points...)
	lo, hi := bounds([][]vec{points})
	r.polys = append(r.polys, poly{from, len(r.points), lo, hi})
}

// tile is the side of the squares in which strokes are rasterized: a long thin
// line fills little of its bounds.
const tile = 96

// tiles rasterizes what was collected, square by square, and skips the squares
// nothing reaches.
func (r *raster) tiles(c *image.Uniform) {
	if len(r.polys) == 0 {
		return
	}
	lo, hi := r.polys[0].lo, r.polys[0].hi
	for _, p := range r.polys {
		lo, hi = vec{min(lo.x, p.lo.x), min(lo.y, p.lo.y)}, vec{max(hi.x, p.hi.x), max(hi.y, p.hi.y)}
	}
	all := r.pixels(lo, hi, 1)
	for y := all.Min.Y; y < all.Max.Y; y += tile {
		for x := all.Min.X; x < all.Max.X; x += tile {
			b := image.Rect(x, y, x+tile, y+tile).Intersect(all)
			left, top, right, bottom := float64(b.Min.X), float64(b.Min.Y), float64(b.Max.X), float64(b.Max.Y)
			begun := false
			for _, p := range r.polys {
				if p.hi.x < left || p.lo.x > right || p.hi.y < top || p.lo.y > bottom {
					continue
				}
				if !begun {
					begun = true
					r.begin(b)
				}
				r.polygon(r.points[p.from:p.to])
			}
			if begun {
				r.finish(b, c)
			}
		}
	}
}

func (r *raster) text(t atlas.Text) {
	c := r.color(t.Paint)
	if c == nil {
		return
	}
	var all []contour
	r.letters.set(t, func(o contour) { all = append(all, r.onto(o)) })
	if len(all) == 0 {
		return
	}
	flat := make([][]vec, len(all))
	for i, o := range all {
		flat[i] = o.corners()
	}
	lo, hi := bounds(flat)
	if t.Halo {
		s := stroker{half: float64(t.Size) * haloPercent / 200 * r.k, round: true, emit: r.polygon}
		if b, ok := r.start(lo, hi, s.half+1); ok {
			for _, o := range flat {
				s.line(o, true, nil)
			}
			r.finish(b, r.color(atlas.Paint{Role: atlas.Halo}))
		}
	}
	if b, ok := r.start(lo, hi, 1); ok {
		for _, o := range all {
			r.outline(o)
		}
		r.finish(b, c)
	}
}

// haloPercent is the width of the line around a text on the map, in percent of
// its size.
const haloPercent = 28

// onto takes a contour from units to pixels.
func (r *raster) onto(o contour) contour {
	o.x, o.y = o.x*r.k+r.dx, o.y*r.k+r.dy
	for i, p := range o.parts {
		o.parts[i] = part{p.curved, p.cx*r.k + r.dx, p.cy*r.k + r.dy, p.x*r.k + r.dx, p.y*r.k + r.dy}
	}
	return o
}

func (r *raster) outline(o contour) {
	r.move(vec{o.x, o.y})
	for _, p := range o.parts {
		if p.curved {
			r.z.QuadTo(float32(p.cx-r.ox), float32(p.cy-r.oy), float32(p.x-r.ox), float32(p.y-r.oy))
		} else {
			r.draw(vec{p.x, p.y})
		}
	}
	r.z.ClosePath()
}

// evenOdd turns rings so that adding up windings fills what the even-odd rule
// fills: those inside an odd number of others the other way.
func evenOdd(rings [][]vec) [][]vec {
	if len(rings) < 2 {
		return rings
	}
	out := make([][]vec, len(rings))
	for i, ring := range rings {
		depth := 0
		for j, other := range rings {
			if i != j && contains(other, ring[0]) {
				depth++
			}
		}
		out[i] = ring
		if (turning(ring) < 0) != (depth%2 == 1) {
			out[i] = slices.Clone(ring)
			slices.Reverse(out[i])
		}
	}
	return out
}

// turning is twice the signed area of a ring.
func turning(ring []vec) (s float64) {
	for i, p := range ring {
		s += p.cross(ring[(i+1)%len(ring)])
	}
	return s
}

func contains(ring []vec, at vec) bool {
	in := false
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		if (p.y > at.y) != (q.y > at.y) && at.x < p.x+(at.y-p.y)/(q.y-p.y)*(q.x-p.x) {
			in = !in
		}
	}
	return in
}
