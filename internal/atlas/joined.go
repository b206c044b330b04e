package atlas

import (
	"math"
	"slices"
)

// joinedItems draws the mark of joined places: light lines across what of the
// union has no figures of its own, once for each separate part.
func (b *builder) joinedItems(parts []*figure, m Mark, value string, cells []*figure, own []*figure, codes []Box) []Item {
	ink := on(OnLevel, fillOf(m))
	var boxes []Box
	for _, f := range own {
		boxes = append(boxes, f.box.grow(20))
	}
	var items []Item
	for _, part := range parts {
		switch m.Standing {
		case NoneFound:
			items = append(items, b.glyph(part, SansRegular, "0", ink, append(boxes, codes...))...)
		case Recalled:
			items = append(items, b.glyph(part, SansRegular, "r", ink, append(boxes, codes...))...)
		case Earlier:
			items = append(items, b.glyph(part, SansRegular, "–", on(OnLevelSoft, fillOf(m)), append(boxes, codes...))...)
		case Measured:
			items = append(items, b.number(part, cells, value, ink, append(boxes, codes...))...)
		case Waiting:
			dots := b.scan.stipple(part, append(boxes, codes...))
			items = append(items, Segments{Kind: Stipple, Lines: dots, Stroke: ink, Width: 38, Round: true})
		case Unconfirmed, Found:
			k := max(1, m.lines())
			r := ruleFor(min(typical(cells), part.box.height()), k, m.of())
			r.width = max(r.width*60/100, min(20, r.width))
			lines := b.scan.across(part, k, r, cells, own, codes)
			if lines == nil {
				continue
			}
			b.keep(lines, r)
			s := Segments{Kind: Furrows, Lines: lines, Stroke: ink, Width: r.width}
			if m.Standing == Unconfirmed {
				_, s.Dash = broken(Segment{XY{}, XY{1400, 0}}, r)
			}
			items = append(items, s)
		}
	}
	return items
}

// number puts the number of a joined part into the roomiest of its cells, nearest
// the middle: across a township line it would be hard to read.
func (b *builder) number(part *figure, cells []*figure, s string, ink Paint, avoid []Box) []Item {
	mid := part.box.center()
	var best *figure
	far := int64(math.MaxInt64)
	for _, c := range cells {
		at := c.box.center()
		if !b.scan.holds(part, Box{at.X, at.Y, at.X, at.Y}) {
			continue
		}
		dx, dy := int64(at.X-mid.X), int64(at.Y-mid.Y)
		d := dx*dx + dy*dy
		if c.box.width()*2 < typicalWidth(cells) {
			d *= 100 // a sliver
		}
		if d < far {
			best, far = c, d
		}
	}
	if best == nil {
		best = part
	}
	return b.glyph(best, SansSemiBold, s, ink, avoid)
}

func typicalWidth(cells []*figure) Unit {
	var most Unit
	for _, c := range cells {
		most = max(most, c.box.width())
	}
	return most
}

// typical is the median height of figures.
func typical(cells []*figure) Unit {
	heights := make([]Unit, 0, len(cells))
	for _, c := range cells {
		heights = append(heights, c.box.height())
	}
	slices.Sort(heights)
	if len(heights) == 0 {
		return 1500
	}
	return heights[len(heights)/2]
}

// across rules k lines over a figure, broken where places with figures of their
// own or labels lie. Of the middles of its cells, and of heights between, it
// takes the one where the shortest line is longest, near the middle of all.
func (s *scanner) across(f *figure, k int, r rule, cells, own []*figure, avoid []Box) []Segment {
	const tries = 24
	half := r.pitch*Unit(k-1)/2 + r.clear
	lo, hi := f.box.Y0+half, f.box.Y1-half
	mid := f.box.center().Y
	var best []Segment
	bestScore := int64(-1 << 62)
	consider := func(y Unit, bonus int64) {
		if y < lo || y > hi {
			return
		}
		var lines []Segment
		short := int64(math.MaxInt32)
		for j := range k {
			parts, sum := s.acrossAt(f, y-r.pitch*Unit(k-1)/2+r.pitch*Unit(j), r, own, avoid)
			lines = append(lines, parts...)
			short = min(short, sum)
		}
		score := short*10 + bonus - int64(max(y-mid, mid-y))*3 - int64(len(lines))*60
		if short > 0 && score > bestScore {
			best, bestScore = lines, score
		}
	}
	seen := map[Unit]bool{}
	for _, c := range cells {
		// Cells of a row have nearly the same middle.
		y := c.box.center().Y
		if near := y / 200; !seen[near] && s.holds(f, Box{c.box.center().X, y, c.box.center().X, y}) {
			seen[near] = true
			consider(y, midCell(r))
		}
	}
	for i := Unit(0); i <= tries; i++ {
		consider(lo+(hi-lo)*i/tries, 0)
	}
	return best
}

// midCell is what it is worth for lines to run through the middle of cells rather
// than along their edges.
func midCell(r rule) int64 { return int64(r.pitch) * 40 }

// acrossAt returns the parts of one line and their length together.
func (s *scanner) acrossAt(f *figure, y Unit, r rule, own []*figure, avoid []Box) ([]Segment, int64) {
	room := less(s.gaps(f, y-r.clear, y+r.clear), y-r.clear, y+r.clear, avoid)
	room = masked(room, y-r.clear, y+r.clear, own)
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

// masked cuts out of the spans what other figures cover within the band.
func masked(spans []span, y0, y1 Unit, masks []*figure) []span {
	for _, o := range masks {
		if y1 < o.box.Y0 || y0 > o.box.Y1 {
			continue
		}
		if e, ok := extent(o, y0, y1); ok {
			spans = without(spans, e)
		}
	}
	return spans
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
