package atlas

// Clipping to the map's frame, so that painters need no clip paths.

// clipRing cuts a closed ring to the box, one side after the other (Sutherland
// and Hodgman 1974). Parts that fall outside collapse onto the frame.
func clipRing(r Ring, b Box) Ring {
	sides := [4]func(p, q XY) (in bool, cut XY){
		func(p, q XY) (bool, XY) { return p.X >= b.X0, atX(p, q, b.X0) },
		func(p, q XY) (bool, XY) { return p.X <= b.X1, atX(p, q, b.X1) },
		func(p, q XY) (bool, XY) { return p.Y >= b.Y0, atY(p, q, b.Y0) },
		func(p, q XY) (bool, XY) { return p.Y <= b.Y1, atY(p, q, b.Y1) },
	}
	for _, side := range sides {
		out := make(Ring, 0, len(r)+4)
		for i, p := range r {
			q := r[(i+1)%len(r)]
			in, cut := side(p, q)
			qin, _ := side(q, p)
			if in {
				out = append(out, p)
			}
			if in != qin {
				out = append(out, cut)
			}
		}
		r = out
	}
	return tidy(r)
}

// atX returns the point of the line p–q at x, or p where the line is upright.
func atX(p, q XY, x Unit) XY {
	if p.X > q.X {
		p, q = q, p
	}
	if p.X == q.X {
		return p
	}
	return XY{x, p.Y + Unit(roundDiv(int64(q.Y-p.Y)*int64(x-p.X), int64(q.X-p.X)))}
}

// atY returns the point of the line p–q at y, or p where the line is level.
func atY(p, q XY, y Unit) XY {
	f := atX(XY{p.Y, p.X}, XY{q.Y, q.X}, y)
	return XY{f.Y, f.X}
}

// tidy drops repeated points; a ring of fewer than three is gone.
func tidy(r Ring) Ring {
	out := r[:0]
	for _, p := range r {
		if len(out) == 0 || out[len(out)-1] != p {
			out = append(out, p)
		}
	}
	for len(out) > 1 && out[0] == out[len(out)-1] {
		out = out[:len(out)-1]
	}
	if len(out) < 3 {
		return nil
	}
	return out
}

// clipLine cuts an open line to the box and returns the parts within.
func clipLine(line Ring, b Box) []Ring {
	var out []Ring
	var cur Ring
	flush := func() {
		if len(cur) > 1 {
			out = append(out, cur)
		}
		cur = nil
	}
	for i := 1; i < len(line); i++ {
		p, q, ok := clipSegment(line[i-1], line[i], b)
		if !ok {
			flush()
			continue
		}
		if len(cur) == 0 || cur[len(cur)-1] != p {
			flush()
			cur = Ring{p}
		}
		if p != q {
			cur = append(cur, q)
		}
		if q != line[i] {
			flush()
		}
	}
	flush()
	return out
}

// clipSegment cuts a segment to the box; ok tells whether anything is left.
func clipSegment(p, q XY, b Box) (XY, XY, bool) {
	if (p.X < b.X0 && q.X < b.X0) || (p.X > b.X1 && q.X > b.X1) ||
		(p.Y < b.Y0 && q.Y < b.Y0) || (p.Y > b.Y1 && q.Y > b.Y1) {
		return p, q, false
	}
	pull := func(p, q XY) XY {
		switch {
		case p.X < b.X0:
			p = atX(p, q, b.X0)
		case p.X > b.X1:
			p = atX(p, q, b.X1)
		}
		switch {
		case p.Y < b.Y0:
			p = atY(p, q, b.Y0)
		case p.Y > b.Y1:
			p = atY(p, q, b.Y1)
		}
		return p
	}
	p, q = pull(p, q), pull(q, p)
	if b.grow(1).has(p) && b.grow(1).has(q) {
		return p, q, true
	}
	return p, q, false
}

func (b Box) has(p XY) bool { return b.X0 <= p.X && p.X <= b.X1 && b.Y0 <= p.Y && p.Y <= b.Y1 }
