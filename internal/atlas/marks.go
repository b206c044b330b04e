package atlas

import "slices"

// fillOf returns the paint under a mark.
func fillOf(m Mark) Paint {
	switch m.Standing {
	case NoneFound:
		return Paint{Level, 0, uint8(m.of())}
	case Unconfirmed:
		return Paint{Level, 1, uint8(m.of())}
	case Found:
		return Paint{Level, uint8(1 + m.lines()), uint8(m.of())}
	case Measured:
		return Paint{Amount, uint8(m.lines() - 1), uint8(m.of())}
	case Earlier:
		return Paint{Role: EarlierFill}
	case Staked:
		return Paint{Amount, 3, AmountSteps}
	case HalfStaked:
		return Paint{Amount, 1, AmountSteps}
	case WellLooked, ThinlyLooked:
		return Paint{Amount, 0, AmountSteps}
	default:
		return Paint{Role: Blank}
	}
}

// Fill is the paint of a place with the mark.
func (m Mark) Fill() Paint { return fillOf(m) }

// on returns the paint of a role that lies on the given fill.
func on(role Role, fill Paint) Paint {
	if fill.Role == Amount {
		switch role {
		case OnLevel:
			role = OnAmount
		case OnLevelSoft:
			role = OnAmountSoft
		case Texture:
			role = AmountTexture
		}
	}
	return Paint{role, fill.Step, fill.Of}
}

// markItems draws what a figure shows besides its fill, keeping clear of the
// boxes, and returns the boxes later labels must leave free.
func (b *builder) markItems(f *figure, m Mark, value string, avoid []Box) []Item {
	if m.Near {
		m.Near = false
		near, box := b.nearItems(f, on(OnLevel, fillOf(m)), avoid)
		return append(near, b.markItems(f, m, value, append(avoid[:len(avoid):len(avoid)], box...))...)
	}
	ink := on(OnLevel, fillOf(m))
	switch m.Standing {
	case NoneFound:
		return b.glyph(f, SansRegular, "0", ink, avoid)
	case Recalled:
		return b.glyph(f, SansRegular, "r", ink, avoid)
	case Earlier:
		return b.glyph(f, SansRegular, "–", on(OnLevelSoft, fillOf(m)), avoid)
	case Measured:
		return b.glyph(f, SansSemiBold, value, ink, avoid)
	case Staked, HalfStaked:
		return b.stakes(f, m, ink, avoid)
	case WellLooked:
		return b.underlined(f, ink, avoid)
	case ThinlyLooked:
		return b.glyph(f, SansRegular, "0?", ink, avoid)
	case Waiting:
		dots := b.scan.stipple(f, avoid)
		return []Item{Segments{Kind: Stipple, Lines: dots, Stroke: ink, Width: 38, Round: true}}
	case Unconfirmed, Found:
		lines, r := b.scan.furrows(f, max(1, m.lines()), m.of(), avoid)
		if lines == nil {
			return nil
		}
		b.keep(lines, r)
		s := Segments{Kind: Furrows, Lines: lines, Stroke: ink, Width: r.width}
		if m.Standing == Unconfirmed {
			lines[0], s.Dash = broken(lines[0], r)
		}
		return []Item{s}
	}
	return nil
}

// keep remembers furrows, so that names are put where they hide none.
func (b *builder) keep(lines []Segment, r rule) {
	for _, l := range lines {
		b.furrows = append(b.furrows, Box{l.A.X, l.A.Y - r.width/2, l.B.X, l.B.Y + r.width/2})
	}
}

// glyph puts a 0, an r or a number in the middle of a figure, smaller where it is
// small.
func (b *builder) glyph(f *figure, face Face, s string, ink Paint, avoid []Box) []Item {
	if s == "" {
		return nil
	}
	size := min(max(f.box.height()*27/100, 240), 520)
	for ; size >= 60; size = size * 3 / 4 {
		w, h := width(face, size, s), size*capHeight/1000
		at, ok := b.scan.spot(f, w+size/4, h+size/4, avoid)
		if !ok {
			continue
		}
		t := Text{X: at.X, Y: at.Y + h/2, Size: size, Face: face, Anchor: Middle, Paint: ink, S: s}
		b.texts = append(b.texts, t.Bounds())
		return []Item{t}
	}
	return nil
}

// code sets the label of an area in its corner: the code, or its short form, or
// nothing where neither fits or where it would cost the furrows too much room.
func (b *builder) code(f *figure, a Area, fill Paint, symbols []Box) (Text, bool) {
	pad := b.codeSize * 27 / 100
	if a.First || slices.ContainsFunc(b.m.joined, func(j Joined) bool { return slices.Contains(j.Members, a.ID) }) {
		pad += 45 // the dots of joined places, or a heavy line, run along the edge
	}
	dry := append(within(b.river, f.box), symbols...)
	for _, s := range []string{a.Code, a.Short} {
		for _, size := range []Unit{b.codeSize, b.codeSize * 85 / 100} {
			if s == "" || !b.fitsBeside(f, a.Mark, size) {
				continue
			}
			t := Text{Size: size, Face: b.codeFace, Paint: on(OnLevelSoft, fill), S: s}
			w, h := width(t.Face, size, s), size*capHeight/1000
			at, ok := b.corner(f, w, h, pad, dry)
			if !ok || at.Y > f.box.Y0+f.box.height()/3 {
				at, ok = b.corner(f, w, h, pad, symbols)
			}
			if ok {
				t.X, t.Y = at.X, at.Y+size*capHeight/1000
				return t, true
			}
		}
	}
	return Text{}, false
}

// fitsBeside reports whether a figure is tall enough for its furrows under a
// label of the given size.
func (b *builder) fitsBeside(f *figure, m Mark, size Unit) bool {
	need := size * 12 / 10
	switch m.Standing {
	case Found, Unconfirmed:
		need += Unit(max(1, m.lines())+1) * 70
	case NoneFound, Recalled, Measured, Staked, HalfStaked, WellLooked, ThinlyLooked:
		need += 240
	}
	return f.box.height() >= need
}

// corner finds the place nearest to the upper left corner where a box of w by h
// lies inside the figure, pad away from its edges.
func (b *builder) corner(f *figure, w, h, pad Unit, avoid []Box) (XY, bool) {
	var best XY
	bestCost := Unit(-1)
	for y := f.box.Y0 + 10; y+h+2*pad <= f.box.Y1; y += 15 {
		down := (y - f.box.Y0) * 3
		if bestCost >= 0 && down >= bestCost {
			break
		}
		for _, g := range less(b.scan.gaps(f, y, y+h+2*pad), y, y+h+2*pad, avoid) {
			cost := down + g.a - f.box.X0
			if g.length() >= w+2*pad && (bestCost < 0 || cost < bestCost) {
				best, bestCost = XY{g.a + pad, y + pad}, cost
			}
		}
	}
	return best, bestCost >= 0
}
