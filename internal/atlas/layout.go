package atlas

// Layout of a sheet: title above, the map in its frame, the legend at the side or
// below, the scale bar, and what the map says about itself.

// layout draws the whole sheet and returns its height.
func (b *builder) layout() Unit {
	if b.height > 0 { // a sheet of its own; the others lie on a page
		sheet := Path{Rings: []Ring{rect(0, 0, b.sheet.width, b.height)}, Fill: Paint{Role: PaperRole}}
		b.layer("paper", []Item{sheet})
	}
	top := b.header()
	if b.side > 0 {
		return b.beside(top)
	}
	return b.below(top)
}

// header sets title and subtitle and returns where the rest begins.
func (b *builder) header() Unit {
	if b.m.Untitled {
		return b.margin
	}
	w := b.sheet.width - 2*b.margin
	x, y := b.margin, b.margin
	var items []Item
	for _, l := range wrap(SerifSemiBold, b.title, b.m.Title, w) {
		y += b.title * 95 / 100
		items = append(items, Text{X: x, Y: y, Size: b.title, Face: SerifSemiBold, Paint: Paint{Role: Ink}, S: l})
		y += b.title * 15 / 100
	}
	size := b.text * 112 / 100
	for _, l := range wrap(SansRegular, size, b.m.Subtitle, w) {
		y += size * 130 / 100
		items = append(items, Text{X: x, Y: y, Size: size, Face: SansRegular, Paint: Paint{Role: Muted}, S: l})
	}
	if items == nil {
		return b.margin
	}
	b.layer("title", items)
	return y + b.text*115/100
}

// smallest is the smallest running text: 5.7 points, which a long legend may come
// down to on a sheet that cannot grow.
const smallest = 200

// beside lays the legend out in a column to the right of the map.
func (b *builder) beside(top Unit) Unit {
	gap := b.text * 2
	x := b.sheet.width - b.margin - b.side
	frame := Box{b.margin, top, x - gap, b.height - b.margin}
	legend, legendHeight := b.legend(x, top, b.side, 1)
	full := b.text
	for b.height > 0 && b.text > smallest {
		_, foot := b.foot(x, 0, b.side)
		if top+legendHeight+b.text+foot <= frame.Y1 {
			break
		}
		b.shrink(full)
		legend, legendHeight = b.legend(x, top, b.side, 1)
	}
	if b.height == 0 {
		_, foot := b.foot(x, 0, b.side)
		w := frame.width()
		inner := b.natural(w-2*b.apron) + 2*b.apron
		inner = min(max(inner, w*45/100), w*80/100)
		frame.Y1 = top + max(inner, legendHeight+b.text*2+foot)
	}
	b.drawMap(frame)
	b.layer("legend", legend)
	_, h := b.foot(x, 0, b.side)
	foot, _ := b.foot(x, frame.Y1-h, b.side)
	b.layer("imprint", foot)
	return frame.Y1 + b.margin
}

// shrink makes the running text a little smaller; before it would come under 80 %
// of its full size, the bars go instead, then the notes on what is not a level.
func (b *builder) shrink(full Unit) {
	switch {
	case b.text*94 >= full*80:
	case len(b.m.Bars) > 0 && !b.noBars:
		b.noBars, b.text = true, full
		return
	case !b.noNotes:
		b.noNotes, b.text = true, full
		return
	}
	b.text = b.text * 94 / 100
}

// below lays the legend out under the map.
func (b *builder) below(top Unit) Unit {
	x, w := b.margin, b.sheet.width-2*b.margin
	cols := 1
	if w > 11000 {
		cols = 2
	}
	full := b.text
	var legendHeight, scaleHeight, footHeight, gap Unit
	for {
		_, legendHeight = b.legend(x, 0, w, cols)
		_, scaleHeight = b.scale(x, 0, w)
		_, footHeight = b.imprint(x, 0, w)
		footHeight += scaleHeight
		gap = b.text * 150 / 100
		left := b.height - b.margin - top - legendHeight - footHeight - 2*gap
		if b.height == 0 || left >= b.height*38/100 || b.text <= smallest {
			break
		}
		b.shrink(full)
	}
	frame := Box{x, top, x + w, 0}
	inner := b.natural(w-2*b.apron) + 2*b.apron
	inner = min(max(inner, w*45/100), w*150/100)
	if b.height > 0 {
		inner = b.height - b.margin - top - legendHeight - footHeight - 2*gap
	}
	frame.Y1 = top + inner
	b.drawMap(frame)
	y := frame.Y1 + gap*40/100
	scale, _ := b.scale(x, y, w)
	b.layer("scale", scale)
	y += scaleHeight + gap*60/100
	legend, _ := b.legend(x, y, w, cols)
	b.layer("legend", legend)
	y += legendHeight + gap
	imprint, h := b.imprint(x, y, w)
	b.layer("imprint", imprint)
	return y + h + b.margin
}

// foot sets scale bar, north arrow and imprint from y downward and returns its
// height.
func (b *builder) foot(x, y, w Unit) ([]Item, Unit) {
	items, h := b.scale(x, y, w)
	more, rest := b.imprint(x, y+h, w)
	return append(items, more...), h + rest
}

// imprint sets totals, edition and source from y downward and returns its height.
func (b *builder) imprint(x, y, w Unit) ([]Item, Unit) {
	start := y
	var items []Item
	put := func(face Face, size Unit, role Role, s string) {
		for _, l := range wrap(face, size, s, w) {
			y += size * 132 / 100
			items = append(items, Text{X: x, Y: y, Size: size, Face: face, Paint: Paint{Role: role}, S: l})
		}
	}
	put(SansSemiBold, b.text, Ink, b.m.Totals)
	edition := b.m.Edition
	if b.m.Date != "" {
		if edition != "" {
			edition += " · "
		}
		edition += b.m.Date
	}
	small := b.text * 86 / 100
	y += small * 30 / 100
	put(SansRegular, small, Ink, edition)
	y += small * 20 / 100
	put(SansRegular, small, Muted, b.m.Source)
	put(SansRegular, small, Ink, b.m.Footnote)
	return items, y - start + small*35/100
}
