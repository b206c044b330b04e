package atlas

import "strconv"

// bars sets the chart of bags at each level from y downward: name, bar, number.
// It returns nothing where there are none, or where the sheet had no room.
func (b *builder) bars(x, y, w Unit) ([]Item, Unit) {
	if len(b.m.Bars) == 0 || b.noBars {
		return nil, 0
	}
	start := y
	var items []Item
	for _, l := range wrap(SansSemiBold, b.text, b.m.Words.BarsHead, w) {
		y += b.text * 110 / 100
		items = append(items, Text{X: x, Y: y, Size: b.text, Face: SansSemiBold, Paint: Paint{Role: Ink}, S: l})
		y += b.text * 20 / 100
	}
	y += b.text * 35 / 100
	size := b.text * 86 / 100
	nameWidth, numberWidth, most := Unit(0), Unit(0), 1
	for _, r := range b.m.Bars {
		nameWidth = max(nameWidth, width(CondensedRegular, size, r.Name))
		numberWidth = max(numberWidth, width(CondensedSemiBold, size, r.Number))
		most = max(most, r.Count)
	}
	nameWidth = min(nameWidth, w/2)
	from := x + nameWidth + size*45/100
	room := max(x+w-from-numberWidth-size*45/100, 10)
	var rows []Item
	for _, r := range b.m.Bars {
		row, h := b.barRow(r, XY{x, y}, from, nameWidth, Unit(int64(room)*int64(max(r.Count, 0))/int64(most)))
		rows = append(rows, row...)
		y += h
	}
	axis := Path{Rings: []Ring{{{from, start + b.text*160/100}, {from, y}}}, Open: true, Stroke: Paint{Role: Ink}, Width: 20}
	items = append(items, rows...)
	items = append(items, axis)
	return []Item{Group{Kind: LayerGroup, ID: b.prefix + "bars", Items: items}}, y - start
}

// barRow sets one bar of a length that starts at from.
func (b *builder) barRow(r Bar, at XY, from, nameWidth, length Unit) ([]Item, Unit) {
	size := b.text * 86 / 100
	names := wrap(CondensedRegular, size, r.Name, nameWidth)
	h := max(size*125/100*Unit(len(names))+size*25/100, size*150/100)
	mid := at.Y + h/2
	var items []Item
	for i, n := range names {
		up := size * 125 / 100 * Unit(2*i-len(names)+1) / 2
		items = append(items, Text{X: from - size*45/100, Y: mid + up + size*capHeight/2000, Size: size,
			Face: CondensedRegular, Anchor: End, Paint: Paint{Role: Ink}, S: n})
	}
	if length > 0 {
		thick := size * 95 / 100
		items = append(items, Path{Rings: []Ring{rect(from, mid-thick/2, max(length, 12), thick)},
			Fill: fillOf(r.Mark), Stroke: Paint{Role: Ink}, Width: 14})
	}
	number := r.Number
	if number == "" {
		number = strconv.Itoa(r.Count)
	}
	items = append(items, Text{X: from + length + size*40/100, Y: mid + size*capHeight/2000, Size: size,
		Face: CondensedSemiBold, Paint: Paint{Role: Ink}, S: number})
	return items, h
}
