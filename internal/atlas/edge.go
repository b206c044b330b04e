package atlas

// EdgeLines are where finds meet none found: the middle line, and the lines
// between which it may well lie.
type EdgeLines struct{ Middle, Limits []Line }

// small reports a mark that stands in one spot and gives way to towns and rivers.
func (m Mark) small() bool {
	switch m.Standing {
	case NoneFound, Recalled, Measured, Earlier, Staked, HalfStaked, WellLooked, ThinlyLooked:
		return true
	}
	return false
}

// edgeItems lay the edge over the marks, thin and on a paper-colored line, so
// that it shows on light and dark fills and hides no furrow.
func (b *builder) edgeItems(frame Box) []Item {
	out := edgeStrokes("e", b.clippedLines(b.m.edge.Limits, frame), bandLine)
	return append(out, edgeStrokes("m", b.clippedLines(b.m.edge.Middle, frame), edgeLine)...)
}

func (b *builder) clippedLines(lines []Line, frame Box) []Ring {
	var out []Ring
	for _, l := range lines {
		out = append(out, clipLine(b.proj.line(l.Path), frame)...)
	}
	return out
}

// edgeStroke is how a line of the edge is drawn.
type edgeStroke struct {
	halo, width Unit
	dash        []Unit
}

// The edge is a line of long dashes, its band's ends are rows of dots: neither is
// level for long, as furrows are, nor solid, as boundaries are.
var (
	edgeLine = edgeStroke{halo: 88, width: 42, dash: []Unit{220, 230}}
	bandLine = edgeStroke{halo: 58, width: 30, dash: []Unit{0, 95}}
)

func edgeStrokes(key string, lines []Ring, s edgeStroke) []Item {
	if lines == nil {
		return nil
	}
	return []Item{
		Path{Key: key, Rings: lines, Open: true, Stroke: Paint{Role: Halo}, Width: s.halo, Dash: s.dash, Round: true},
		Path{Key: key, Rings: lines, Open: true, Stroke: Paint{Role: Emphasis}, Width: s.width, Dash: s.dash, Round: true},
	}
}

func edgeSwatch(box Box, s edgeStroke) []Item {
	y, in := box.center().Y, box.width()/12
	return edgeStrokes("", []Ring{{{box.X0 + in, y + 40}, {box.center().X, y - 40}, {box.X1 - in, y + 30}}}, s)
}

// stakes are upright strokes, three where something was found, one in two pieces
// where it is unconfirmed: furrows lie, stakes stand.
func (b *builder) stakes(f *figure, m Mark, ink Paint, avoid []Box) []Item {
	h := min(max(f.box.height()*30/100, 200), 520)
	for ; h >= 60; h = h * 3 / 4 {
		apart, n := h*45/100, Unit(1)
		if m.Standing == Staked {
			n = 3
		}
		w := apart*(n-1) + h/4
		at, ok := b.scan.spot(f, w+h/6, h+h/6, avoid)
		if !ok {
			continue
		}
		s := Segments{Kind: PlainSegments, Stroke: ink, Width: max(h*15/100, 14), Round: true}
		for i := range n {
			x := at.X + apart*(2*i-(n-1))/2
			if m.Standing == Staked {
				s.Lines = append(s.Lines, Segment{XY{x, at.Y - h/2}, XY{x, at.Y + h/2}})
				continue
			}
			s.Lines = append(s.Lines, Segment{XY{x, at.Y - h/2}, XY{x, at.Y - h/8}}, Segment{XY{x, at.Y + h/8}, XY{x, at.Y + h/2}})
		}
		b.texts = append(b.texts, Box{at.X - w/2, at.Y - h/2, at.X + w/2, at.Y + h/2})
		return []Item{s}
	}
	return nil
}

// underlined is a 0 on two lines.
func (b *builder) underlined(f *figure, ink Paint, avoid []Box) []Item {
	size := min(max(f.box.height()*27/100, 240), 520)
	for ; size >= 60; size = size * 3 / 4 {
		w, h := width(SansRegular, size, "0"), size*115/100
		at, ok := b.scan.spot(f, w*18/10, h+size/5, avoid)
		if !ok {
			continue
		}
		base := at.Y - h/2 + size*capHeight/1000
		t := Text{X: at.X, Y: base, Size: size, Face: SansRegular, Anchor: Middle, Paint: ink, S: "0"}
		s := Segments{Kind: PlainSegments, Stroke: ink, Width: max(size*7/100, 12)}
		for i := range Unit(2) {
			y := base + size*17/100 + i*size*17/100
			s.Lines = append(s.Lines, Segment{XY{at.X - w*7/10, y}, XY{at.X + w*7/10, y}})
		}
		b.texts = append(b.texts, t.Bounds().with(XY{at.X, base + size/2}))
		return []Item{t, s}
	}
	return nil
}

// nearItems are four short strokes that lean, low in the place; box is what they
// cover.
func (b *builder) nearItems(f *figure, ink Paint, avoid []Box) (items []Item, box []Box) {
	h := min(max(f.box.height()*13/100, 90), 200)
	for ; h >= 40; h = h * 3 / 4 {
		apart, pad := h*75/100, h/2
		w := apart*3 + h
		y1 := f.box.Y1 - pad
		for range 4 {
			for _, g := range less(b.scan.gaps(f, y1-h-pad/2, y1+pad/2), y1-h-pad/2, y1+pad/2, avoid) {
				if g.length() < w+2*pad {
					continue
				}
				x := g.b - pad - w
				s := Segments{Kind: Ticks, Stroke: ink, Width: max(h*18/100, 13), Round: true}
				for i := range Unit(4) {
					s.Lines = append(s.Lines, Segment{XY{x + apart*i, y1}, XY{x + apart*i + h*6/10, y1 - h}})
				}
				return []Item{s}, []Box{{x - 20, y1 - h - 20, x + w, y1 + 20}}
			}
			y1 -= f.box.height() / 12
		}
	}
	return nil, nil
}
