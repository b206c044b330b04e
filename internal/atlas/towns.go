package atlas

import (
	"cmp"
	"slices"
)

// townAt is a town on paper with the box of its symbol.
type townAt struct {
	Town
	at  XY
	box Box
}

// townsIn returns the towns inside the frame in order of rank.
func (b *builder) townsIn(frame Box) []townAt {
	var out []townAt
	for _, t := range b.m.towns {
		p := b.proj.point(t.At)
		box := Box{p.X - 60, p.Y - 60, p.X + 60, p.Y + 60}
		if frame.grow(-30).holds(box) {
			out = append(out, townAt{t, p, box})
		}
	}
	slices.SortStableFunc(out, func(s, t townAt) int {
		return cmp.Or(cmp.Compare(s.Rank, t.Rank), cmp.Compare(s.Name, t.Name))
	})
	return out
}

// townItems draws each town with its name where neither meets another text; a
// town without room is left out.
func (b *builder) townItems(towns []townAt, frame Box) []Item {
	var out []Item
	for _, t := range towns {
		if meetsAny(t.box, b.texts) {
			continue
		}
		name, ok := b.townName(t, frame)
		if !ok {
			continue
		}
		b.texts = append(b.texts, t.box, name.Bounds())
		out = append(out, crossroads(t.at)...)
		out = append(out, name)
	}
	return out
}

// crossroads is the symbol of a town: two short strokes, as roads meet there.
func crossroads(p XY) []Item {
	const arm = 58
	lines := []Segment{{XY{p.X - arm, p.Y}, XY{p.X + arm, p.Y}}, {XY{p.X, p.Y - arm}, XY{p.X, p.Y + arm}}}
	return []Item{
		Segments{Lines: lines, Stroke: Paint{Role: Halo}, Width: 70, Round: true},
		Segments{Lines: lines, Stroke: Paint{Role: TownText}, Width: 34},
	}
}

// side is a place for a town's name: where its text starts, ends or is centered,
// from the town; the Y counts from the baseline, in heights of a capital.
type side struct {
	dx, up, dy Unit
	anchor     Anchor
}

// townSides are tried in this order of liking.
var townSides = [...]side{
	{85, 50, 0, Start}, {-85, 50, 0, End},
	{55, 0, -50, Start}, {55, 100, 55, Start}, {-55, 0, -50, End}, {-55, 100, 55, End},
	{0, 0, -90, Middle}, {0, 100, 90, Middle},
	{40, 0, -110, Start}, {40, 100, 115, Start}, {-40, 0, -110, End}, {-40, 100, 115, End},
	{0, 0, -160, Middle}, {0, 100, 160, Middle},
}

// townName tries the sides of a town and takes the one that covers the least
// furrow, never more than half of any.
func (b *builder) townName(t townAt, frame Box) (Text, bool) {
	txt := Text{Size: b.codeSize * 105 / 100, Face: CondensedSemiBold, Paint: Paint{Role: TownText}, Halo: true, S: t.Name}
	up := txt.Size * capHeight / 1000
	var best Text
	bestCost := int64(-1)
	for i, c := range townSides {
		txt.X, txt.Y, txt.Anchor = t.at.X+c.dx, t.at.Y+c.dy+up*c.up/100, c.anchor
		box := txt.Bounds()
		if !frame.grow(-30).holds(box) || meetsAny(box.grow(txt.Size*16/100), b.texts) {
			continue
		}
		cost, ok := b.hidden(box.grow(10))
		if !ok {
			continue
		}
		if cost += int64(i) * 8; bestCost < 0 || cost < bestCost {
			best, bestCost = txt, cost
		}
	}
	return best, bestCost >= 0
}

// hidden returns how much furrow a box would cover; ok is false when it would
// cover more than half of any, and its count could be misread.
func (b *builder) hidden(box Box) (cost int64, ok bool) {
	for _, f := range b.furrows {
		if !box.meets(f) {
			continue
		}
		over := span{f.X0, f.X1}.overlap(span{box.X0, box.X1})
		if over*2 > f.width() {
			return 0, false
		}
		cost += int64(over)
	}
	return cost, true
}
