package atlas

import "math"

// joinedItems draws the mark of joined places: light lines across what of the
// union has no figures of its own, once for each separate part.
func (b *builder) joinedItems(parts []*figure, m Mark, cell Unit, own []*figure, codes []Box) []Item {
	ink := on(OnLevel, fillOf(m))
	var boxes []Box
	for _, f := range own {
		boxes = append(boxes, f.box.grow(20))
	}
	var items []Item
	for _, part := range parts {
		switch m.Standing {
		case NoneFound:
			items = append(items, b.glyph(part, "0", ink, append(boxes, codes...))...)
		case Recalled:
			items = append(items, b.glyph(part, "r", ink, append(boxes, codes...))...)
		case Waiting:
			dots := b.scan.stipple(part, append(boxes, codes...))
			items = append(items, Segments{Kind: Stipple, Lines: dots, Stroke: ink, Width: 38, Round: true})
		case Unconfirmed, Found:
			k := max(1, m.lines())
			r := ruleFor(min(cell, part.box.height()), k, m.of())
			r.width = max(r.width*60/100, min(20, r.width))
			lines := b.scan.across(part, k, r, own, codes)
			if lines == nil {
				continue
			}
			b.keep(lines, r)
			s := Segments{Kind: Furrows, Lines: lines, Stroke: ink, Width: r.width}
			if m.Standing == Unconfirmed {
				s.Dash = broken(Segment{XY{}, XY{1400, 0}}, r)
			}
			items = append(items, s)
		}
	}
	return items
}

// across rules k lines over a figure, broken where places with figures of their
// own or labels lie, at the height where the shortest line is longest.
func (s *scanner) across(f *figure, k int, r rule, own []*figure, avoid []Box) []Segment {
	const tries = 40
	half := r.pitch*Unit(k-1)/2 + r.clear
	lo, hi := f.box.Y0+half, f.box.Y1-half
	mid := f.box.center().Y
	var best []Segment
	bestScore := int64(-1 << 62)
	for i := Unit(0); i <= tries && lo <= hi; i++ {
		y := lo + (hi-lo)*i/tries
		var lines []Segment
		short := int64(math.MaxInt32)
		for j := range k {
			ly := y - r.pitch*Unit(k-1)/2 + r.pitch*Unit(j)
			parts, sum := s.acrossAt(f, ly, r, own, avoid)
			lines = append(lines, parts...)
			short = min(short, sum)
		}
		score := short*10 - int64(max(y-mid, mid-y))*4 - int64(len(lines))*60
		if short > 0 && score > bestScore {
			best, bestScore = lines, score
		}
	}
	return best
}

// acrossAt returns the parts of one line and their length together.
func (s *scanner) acrossAt(f *figure, y Unit, r rule, own []*figure, avoid []Box) ([]Segment, int64) {
	room := less(s.gaps(f, y-r.clear, y+r.clear), y-r.clear, y+r.clear, avoid)
	room = append([]span(nil), room...)
	for _, o := range own {
		if e, ok := extent(o, y-r.clear, y+r.clear); ok {
			room = without(room, e)
		}
	}
	var out []Segment
	sum := int64(0)
	for _, g := range room {
		if g.length() < r.pitch*2 {
			continue
		}
		m := min(g.length()*12/100, 200)
		out = append(out, Segment{XY{g.a + m, y}, XY{g.b - m, y}})
		sum += int64(g.length() - 2*m)
	}
	return out, sum
}

// extent returns the interval of X a figure covers within a band.
func extent(f *figure, y0, y1 Unit) (span, bool) {
	var e span
	found := false
	for _, r := range f.rings {
		for i := range r {
			p, q := r[i], r[(i+1)%len(r)]
			if max(p.Y, q.Y) < y0 || min(p.Y, q.Y) > y1 {
				continue
			}
			k := edgeBlock(p, q, y0, y1, y0)
			if !found {
				e, found = k.span, true
				continue
			}
			e = span{min(e.a, k.a), max(e.b, k.b)}
		}
	}
	return e, found
}

// inset moves a closed ring inward (for rings with the figure on their right when
// y grows downward, which is how outer rings are turned here) by d, so that the
// dotted outline of joined places lies beside the boundaries it follows.
func inset(r Ring, d Unit) Ring {
	r = thin(r, d)
	if len(r) < 3 {
		return nil
	}
	out := make(Ring, 0, len(r))
	for i, p := range r {
		a, c := r[(i+len(r)-1)%len(r)], r[(i+1)%len(r)]
		n1x, n1y := normal(a, p)
		n2x, n2y := normal(p, c)
		// The explicit conversions keep machines with fused arithmetic from
		// rounding differently.
		dot := float64(n1x*n2x) + float64(n1y*n2y)
		k := float64(d) / math.Max(0.35, 1+dot)
		out = append(out, XY{p.X + round((n1x+n2x)*k), p.Y + round((n1y+n2y)*k)})
	}
	return out
}

// normal is the unit vector to the right of the way from a to b, y downward.
func normal(a, b XY) (float64, float64) {
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	l := math.Sqrt(float64(dx*dx) + float64(dy*dy))
	if l == 0 {
		return 0, 0
	}
	return -dy / l, dx / l
}

func round(v float64) Unit { return Unit(math.Floor(v + 0.5)) }

// thin drops points nearer than d to the one kept before them.
func thin(r Ring, d Unit) Ring {
	out := make(Ring, 0, len(r))
	for _, p := range r {
		if len(out) > 0 {
			q := out[len(out)-1]
			if max(p.X-q.X, q.X-p.X)+max(p.Y-q.Y, q.Y-p.Y) < d {
				continue
			}
		}
		out = append(out, p)
	}
	return out
}

// area2 is twice the signed area of a ring, positive when it turns clockwise as
// seen on paper (y downward).
func area2(r Ring) int64 {
	sum := int64(0)
	for i, p := range r {
		q := r[(i+1)%len(r)]
		sum += int64(p.X)*int64(q.Y) - int64(q.X)*int64(p.Y)
	}
	return sum
}
