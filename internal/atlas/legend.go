package atlas

import (
	"slices"
	"strconv"
)

// shown reports whether a legend row belongs on this map.
func (b *builder) shown(r LegendRow) bool {
	if r.Joined {
		return len(b.m.joined) > 0
	}
	if r.First {
		return slices.ContainsFunc(b.m.areas, func(a Area) bool { return a.First })
	}
	switch r.Mark.Standing {
	case NoneFound, Unconfirmed, Found, Measured, Staked, HalfStaked, WellLooked, ThinlyLooked:
		return true
	}
	for _, a := range b.m.areas {
		if a.Mark.Standing == r.Mark.Standing && a.Mark.Near == r.Mark.Near || r.Mark.Near && a.Mark.Near {
			return true
		}
	}
	for _, j := range b.m.joined {
		if j.Mark.Standing == r.Mark.Standing {
			return true
		}
	}
	return false
}

// legend sets heading, rows and reference entries in cols columns from y
// downward, and returns them with their height. Levels stand on one another like
// the layers of a soil core.
func (b *builder) legend(x, y, w Unit, cols int) ([]Item, Unit) {
	start := y
	var items []Item
	for _, l := range wrap(SansSemiBold, b.text, b.m.Words.LegendHead, w) {
		y += b.text
		items = append(items, Text{X: x, Y: y, Size: b.text, Face: SansSemiBold, Paint: Paint{Role: Ink}, S: l})
		y += b.text * 30 / 100
	}
	y += b.text * 50 / 100
	var levels, others []LegendRow
	for _, r := range b.m.Words.Legend {
		switch {
		case !b.shown(r):
		case r.scale():
			levels = append(levels, r)
		default:
			others = append(others, r)
		}
	}
	gap := b.text * 2
	cw := (w - gap*Unit(cols-1)) / Unit(cols)
	core, cy := b.rows(levels, x, y, cw, 0)
	items = append(items, core...)
	ox, oy := x, cy+b.text*60/100
	if cols > 1 {
		ox, oy = x+cw+gap, y
	}
	rest, oy := b.rows(others, ox, oy, cw, b.text*45/100)
	items = append(items, rest...)
	ref, oy := b.references(ox, oy, cw)
	items = append(items, ref...)
	end := max(cy, oy)
	bx, by := ox, oy
	if cols > 1 && cy < oy {
		bx, by = x, cy
	}
	if bars, h := b.bars(bx, by+b.text*90/100, cw); h > 0 {
		items = append(items, bars...)
		end = max(end, by+b.text*90/100+h)
	}
	return items, end - start
}

// rows sets legend rows under one another and returns where they end.
func (b *builder) rows(rows []LegendRow, x, y, w, gap Unit) ([]Item, Unit) {
	sw := b.text * 300 / 100
	tx, tw := x+sw+b.text*70/100, w-sw-b.text*70/100
	size, small := b.text, b.text*86/100
	var out []Item
	for i, r := range rows {
		if b.noNotes && !r.scale() {
			r.Note = ""
		}
		name, note := wrap(SansSemiBold, size, r.Name, tw), wrap(SansRegular, small, r.Note, tw)
		h := max(size*110/100*Unit(len(name))+small*125/100*Unit(len(note))+size*55/100, b.text*180/100)
		box := Box{x, y, x + sw, y + h}
		items := b.swatch(box, r)
		ty := y + (h-size*110/100*Unit(len(name))-small*125/100*Unit(len(note)))/2
		for _, l := range name {
			ty += size * 110 / 100
			items = append(items, Text{X: tx, Y: ty - size*20/100, Size: size, Face: SansSemiBold, Paint: Paint{Role: Ink}, S: l})
		}
		for _, l := range note {
			ty += small * 125 / 100
			items = append(items, Text{X: tx, Y: ty - small*20/100, Size: small, Face: SansRegular, Paint: Paint{Role: Muted}, S: l})
		}
		out = append(out, Group{Kind: LegendGroup, ID: "l" + legendID(r, i), Mark: r.Mark, Items: items})
		y += h + gap
	}
	return out, y
}

// scale reports whether a row is a step of the scale, which is shown whole.
func (r LegendRow) scale() bool {
	if r.Joined || r.First {
		return false
	}
	switch r.Mark.Standing {
	case NoneFound, Unconfirmed, Found, Measured, Staked, HalfStaked, WellLooked, ThinlyLooked:
		return true
	}
	return false
}

func legendID(r LegendRow, i int) string {
	if r.First {
		return "first" + strconv.Itoa(i)
	}
	if r.Joined {
		return "joined" + strconv.Itoa(i)
	}
	return r.Mark.String()
}

// Swatch draws a small place with a mark in a box, as a legend does; value is
// printed in it where the mark is Measured.
func Swatch(m Mark, value string, box Box) []Item {
	return new(builder).swatch(box, LegendRow{Mark: m, Value: value})
}

// swatch draws a small place with the row's mark.
func (b *builder) swatch(box Box, r LegendRow) []Item {
	ring := Ring{{box.X0, box.Y0}, {box.X1, box.Y0}, {box.X1, box.Y1}, {box.X0, box.Y1}}
	f := newFigure([]Ring{ring})
	items := []Item{Path{Rings: f.rings, Fill: fillOf(r.Mark), Stroke: Paint{Role: Hairline}, Width: 18}}
	texts, furrows := b.texts, b.furrows
	if r.Joined {
		items = append(items, b.joinedItems([]*figure{f}, r.Mark, r.Value, []*figure{f}, nil, nil)...)
		items = append(items, dotted(insetAll(f.rings, 42))...)
	} else {
		items = append(items, b.markItems(f, r.Mark, r.Value, nil)...)
	}
	if r.First {
		items = append(items, heavyLine(insetAll(f.rings, 50))...)
	}
	b.texts, b.furrows = texts, furrows // the legend is outside the map
	return items
}

// references explains river, road, ridge and town in a line or two each.
func (b *builder) references(x, y, w Unit) ([]Item, Unit) {
	sw := b.text * 300 / 100
	tx := x + sw + b.text*70/100
	step, size := b.text*155/100, b.text*86/100
	var out []Item
	entry := func(show bool, word string, draw func(box Box) []Item) {
		if !show || word == "" {
			return
		}
		out = append(out, draw(Box{x, y, x + sw, y + step})...)
		for i, l := range wrap(SansRegular, size, word, w-(tx-x)) {
			if i > 0 {
				y += size * 125 / 100
			}
			out = append(out, Text{X: tx, Y: y + step/2 + size*capHeight/2000, Size: size,
				Face: SansRegular, Paint: Paint{Role: Muted}, S: l})
		}
		y += step
	}
	entry(len(b.m.water) > 0, b.m.Words.River, riverSwatch)
	entry(len(b.m.roads) > 0, b.m.Words.Road, roadSwatch)
	entry(len(b.m.ridge) > 0, b.m.Words.Ridge, ridgeSwatch)
	entry(len(b.m.edge.Middle) > 0, b.m.Words.Edge, func(box Box) []Item { return edgeSwatch(box, edgeLine) })
	entry(len(b.m.edge.Limits) > 0, b.m.Words.EdgeBand, func(box Box) []Item { return edgeSwatch(box, bandLine) })
	entry(len(b.m.towns) > 0, b.m.Words.Town, func(box Box) []Item { return crossroads(box.center()) })
	return out, y
}

func riverSwatch(box Box) []Item {
	c, s := box.center().Y, box.width()/6
	line := Ring{{box.X0, c + 40}}
	for i := Unit(1); i <= 6; i++ {
		line = append(line, XY{box.X0 + s*i, c + []Unit{40, -40}[i%2]})
	}
	return []Item{
		Path{Rings: []Ring{line}, Open: true, Stroke: Paint{Role: WaterEdge}, Width: 75, Round: true},
		Path{Rings: []Ring{line}, Open: true, Stroke: Paint{Role: WaterFill}, Width: 46, Round: true},
	}
}

func roadSwatch(box Box) []Item {
	line := Ring{{box.X0, box.center().Y}, {box.X1, box.center().Y}}
	return []Item{
		Path{Rings: []Ring{line}, Open: true, Stroke: Paint{Role: Hairline}, Width: 50, Round: true},
		Path{Rings: []Ring{line}, Open: true, Stroke: Paint{Role: Halo}, Width: 28, Round: true},
	}
}

func ridgeSwatch(box Box) []Item {
	var lines []Segment
	for row, y := Unit(0), box.center().Y-105; row < 2; row, y = row+1, y+210 {
		for x := box.X0 + 60 + row*165; x+60 < box.X1; x += 330 {
			lines = append(lines, Segment{XY{x - 26, y + 26}, XY{x + 26, y - 26}})
		}
	}
	return []Item{Segments{Kind: Ticks, Lines: lines, Stroke: Paint{Role: Texture}, Width: 17}}
}
