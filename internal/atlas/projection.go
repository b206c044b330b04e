package atlas

// projection takes ground coordinates to paper: one paper unit is den/100000 m.
type projection struct {
	west, north int64 // ground coordinates of the point at left, top
	den         int64 // scale 1:den
	left, top   Unit
}

func (p projection) point(g Point) XY {
	return XY{
		p.left + onSheet(roundDiv((int64(g.X)-p.west)*100000, p.den)),
		p.top + onSheet(roundDiv((p.north-int64(g.Y))*100000, p.den)),
	}
}

// onSheet keeps coordinates of far away neighbors where arithmetic in units
// cannot overflow: a kilometer of paper either way.
func onSheet(v int64) Unit { return Unit(min(max(v, -100_000_000), 100_000_000)) }

// rings takes a shape to paper, dropping what collapses.
func (p projection) rings(s Shape) []Ring {
	var out []Ring
	for _, poly := range s {
		out = append(out, p.polygon(poly)...)
	}
	return out
}

func (p projection) polygon(poly [][]Point) []Ring {
	out := make([]Ring, 0, len(poly))
	for _, ring := range poly {
		if r := tidy(p.line(ring)); r != nil {
			out = append(out, r)
		}
	}
	return out
}

func (p projection) line(points []Point) Ring {
	r := make(Ring, 0, len(points))
	for _, g := range points {
		r = append(r, p.point(g))
	}
	return r
}

// bounds returns the ground extent of the areas and the outline.
func (m subject) bounds() (lo, hi Point, ok bool) {
	see := func(s Shape) {
		for _, poly := range s {
			for _, ring := range poly {
				for _, p := range ring {
					if !ok {
						lo, hi, ok = p, p, true
					}
					lo = Point{min(lo.X, p.X), min(lo.Y, p.Y)}
					hi = Point{max(hi.X, p.X), max(hi.Y, p.Y)}
				}
			}
		}
	}
	see(m.outline)
	for _, a := range m.areas {
		see(a.Shape)
	}
	return lo, hi, ok
}

// fit chooses the largest scale at which the subject fits the box, and centers it.
func (b *builder) fit(box Box) {
	lo, hi, ok := b.m.bounds()
	if !ok {
		b.proj = projection{den: 100000, left: box.X0, top: box.Y0}
		return
	}
	w, h := int64(hi.X)-int64(lo.X), int64(hi.Y)-int64(lo.Y)
	den := max(ceilDiv(w*100000, int64(max(1, box.width()))), ceilDiv(h*100000, int64(max(1, box.height()))), 1)
	pw, ph := Unit(w*100000/den), Unit(h*100000/den)
	b.proj = projection{
		west: int64(lo.X), north: int64(hi.Y), den: den,
		left: box.X0 + (box.width()-pw)/2, top: box.Y0 + (box.height()-ph)/2,
	}
}

// natural returns how tall the subject is when drawn w wide.
func (b *builder) natural(w Unit) Unit {
	if b.panels != nil {
		return b.panelsHeight(w)
	}
	lo, hi, ok := b.m.bounds()
	if !ok || hi.X == lo.X {
		return w
	}
	return Unit((int64(hi.Y) - int64(lo.Y)) * int64(w) / (int64(hi.X) - int64(lo.X)))
}

func ceilDiv(n, d int64) int64 { return -floorDiv(-n, d) }
