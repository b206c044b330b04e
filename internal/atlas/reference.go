package atlas

import (
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Layers of reference: neighbors, rivers, roads, the ridge, towns. They carry no
// figures and give way to everything that does.

func (b *builder) neighborItems(frame Box) []Item {
	var out []Item
	for _, n := range b.m.neighbors {
		if rings := b.clipped(n.Shape, frame); rings != nil {
			out = append(out, Path{Rings: rings, Fill: Paint{Role: NeighborFill}, Stroke: Paint{Role: NeighborEdge}, Width: 18})
		}
	}
	return out
}

func (b *builder) clipped(s Shape, frame Box) []Ring {
	var out []Ring
	for _, r := range b.proj.rings(s) {
		if c := clipRing(r, frame); c != nil {
			out = append(out, c)
		}
	}
	return out
}

// neighborNames sets each neighbor's name where it has room, level or upright.
func (b *builder) neighborNames(frame Box, areas []placed) []Item {
	var out []Item
	masks := make([]*figure, len(areas))
	for i, a := range areas {
		masks[i] = a.fig
	}
	for _, n := range b.m.neighbors {
		rings := b.clipped(n.Shape, frame.grow(-40))
		if rings == nil || n.Code == "" {
			continue
		}
		t := Text{Size: b.text * 80 / 100, Face: CondensedRegular, Paint: Paint{Role: NeighborText}, Anchor: Middle,
			Spacing: b.text / 14, S: strings.ToUpper(n.Code)}
		f := newFigure(rings)
		box := t.Bounds()
		w, h := box.width()+120, t.Size*capHeight/1000+230
		if at, ok := b.scan.spot(f, w, h, b.texts, masks...); ok {
			t.X, t.Y = at.X, at.Y+t.Size*capHeight/2000
		} else if at, ok := b.scan.spot(f, h, w, b.texts, masks...); ok {
			t.Turn = -90
			t.X, t.Y = at.X+t.Size*capHeight/2000, at.Y
		} else {
			continue
		}
		b.texts = append(b.texts, t.Bounds())
		out = append(out, t)
	}
	return out
}

// lines draws rivers and roads in their order, each as two thin edges with
// something between: a single line could be taken for a furrow where it runs
// level. A river holds water, a road is narrower and holds paper.
func (b *builder) lines(frame Box) {
	type kind struct {
		name  string // of the layer
		key   string
		edge  Paint
		fill  Paint
		width [2]Unit // of both edges with what is between, and of that alone
	}
	road := kind{"roads", "r", Paint{Role: Hairline}, Paint{Role: Halo}, [2]Unit{50, 28}}
	river := kind{"water", "w", Paint{Role: WaterEdge}, Paint{Role: WaterFill}, [2]Unit{75, 46}}
	orders := map[int]bool{}
	for _, l := range slices.Concat(b.m.water, b.m.roads) {
		orders[l.Order] = true
	}
	seen := map[string]int{}
	for _, order := range slices.Sorted(maps.Keys(orders)) {
		for _, of := range []struct {
			kind
			lines []Line
		}{{road, b.m.roads}, {river, b.m.water}} {
			var rings []Ring
			for _, l := range of.lines {
				if l.Order == order {
					rings = append(rings, clipLine(b.proj.line(l.Path), frame)...)
				}
			}
			if rings == nil {
				continue
			}
			more := "" // a second layer of a kind has ids of its own
			if n := seen[of.name]; n > 0 {
				more = strconv.Itoa(n)
			}
			seen[of.name]++
			b.layer(of.name+more, []Item{
				Path{Key: of.key + more, Rings: rings, Open: true, Stroke: of.edge, Width: of.width[0], Round: true},
				Path{Key: of.key + more, Rings: rings, Open: true, Stroke: of.fill, Width: of.width[1], Round: true},
			})
		}
	}
}

// riverBoxes covers the rivers inside the frame with small boxes.
func (b *builder) riverBoxes(frame Box) []Box {
	var out []Box
	for _, l := range b.m.water {
		for _, line := range clipLine(b.proj.line(l.Path), frame) {
			for i := 1; i < len(line); i++ {
				out = append(out, splitBox(line[i-1], line[i])...)
			}
		}
	}
	return out
}

// splitBox covers a segment with boxes of about a millimeter, so that a slanting
// one does not claim all that lies between its ends.
func splitBox(p, q XY) []Box {
	n := max(1, max(max(p.X-q.X, q.X-p.X), max(p.Y-q.Y, q.Y-p.Y))/120)
	out := make([]Box, 0, n)
	for i := range n {
		a := XY{p.X + (q.X-p.X)*i/n, p.Y + (q.Y-p.Y)*i/n}
		c := XY{p.X + (q.X-p.X)*(i+1)/n, p.Y + (q.Y-p.Y)*(i+1)/n}
		out = append(out, Box{a.X, a.Y, a.X, a.Y}.with(c).grow(48))
	}
	return out
}

// within returns the boxes that meet a larger one.
func within(boxes []Box, in Box) []Box {
	var out []Box
	for _, b := range boxes {
		if b.meets(in) {
			out = append(out, b)
		}
	}
	return out
}

// waterNames sets the name of a river beside it, only where it hides nothing.
func (b *builder) waterNames(frame Box) []Item {
	var out []Item
	for _, l := range b.m.water {
		if l.Name == "" {
			continue
		}
		t := Text{Size: b.codeSize * 105 / 100, Face: CondensedRegular, Paint: Paint{Role: WaterText}, Halo: true, S: l.Name}
		if at, anchor, ok := b.besideLine(t, b.proj.line(l.Path), frame); ok {
			t.X, t.Y, t.Anchor = at.X, at.Y, anchor
			b.texts = append(b.texts, t.Bounds())
			out = append(out, t)
		}
	}
	return out
}

func (b *builder) besideLine(t Text, line Ring, frame Box) (XY, Anchor, bool) {
	for _, p := range line {
		for _, c := range [2]struct {
			dx     Unit
			anchor Anchor
		}{{110, Start}, {-110, End}} {
			t.X, t.Y, t.Anchor = p.X+c.dx, p.Y+t.Size*capHeight/2000, c.anchor
			box := t.Bounds().grow(20)
			if !frame.grow(-30).holds(box) || meetsAny(box, b.texts) || meetsAny(box, b.furrows) || crosses(line, box) {
				continue
			}
			return XY{t.X, t.Y}, c.anchor, true
		}
	}
	return XY{}, Start, false
}

func meetsAny(box Box, others []Box) bool {
	return slices.ContainsFunc(others, box.meets)
}

// crosses reports whether a line enters a box.
func crosses(line Ring, box Box) bool { return len(clipLine(line, box)) > 0 }

// ridgeTicks fills the ridge with small slanted ticks, tinted for the fill they
// lie on, clear of texts and furrows.
func (b *builder) ridgeTicks(areas []placed, frame Box) []Item {
	rings := b.clipped(b.m.ridge, frame)
	if rings == nil {
		return nil
	}
	ridge := newFigure(rings)
	byFill := map[Paint][]Segment{}
	var order []Paint
	const dx, dy, reach = 330, 210, 32
	for y := ridge.box.Y0 / dy * dy; y <= ridge.box.Y1; y += dy {
		band := b.scan.gaps(ridge, y-reach, y+reach)
		if len(band) == 0 {
			continue
		}
		band = slices.Clone(band)
		shift := (y / dy % 2) * dx / 2
		for _, a := range areas {
			fill := on(Texture, a.fill)
			for _, g := range b.scan.gaps(a.fig, y-reach, y+reach) {
				for _, r := range band {
					lo, hi := max(g.a, r.a)+reach, min(g.b, r.b)-reach
					x := Unit(floorDiv(int64(lo-shift)+dx-1, dx))*dx + shift
					for ; x <= hi; x += dx {
						box := Box{x - reach, y - reach, x + reach, y + reach}
						if meetsAny(box.grow(20), b.texts) || meetsAny(box.grow(20), b.furrows) {
							continue
						}
						if byFill[fill] == nil {
							order = append(order, fill)
						}
						byFill[fill] = append(byFill[fill], Segment{XY{x - reach, y + reach}, XY{x + reach, y - reach}})
					}
				}
			}
		}
	}
	var out []Item
	for _, p := range order {
		out = append(out, Segments{Kind: Ticks, Lines: byFill[p], Stroke: p, Width: 20})
	}
	return out
}
