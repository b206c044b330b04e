package press

import "sixmile/internal/atlas"

// Chart is rows of a label, a bar or a range on a common scale, and a number.
type Chart struct {
	Head string // over the scale
	Max  float64
	// Ticks are the words under the scale, evenly spaced from zero to Max.
	Ticks []string
	Rows  []ChartRow
}

// ChartRow is a bar from zero to At, or, where it has a range, a dot at At on a
// line from Low to High. A row with nothing to show has its number alone.
type ChartRow struct {
	Label, Number string
	At, Low, High float64
	Range, Blank  bool
	Fill          atlas.Paint // of a bar
}

// A row is so many percent of the text's size tall: few rows are taller.
const (
	lowRow, tallRow = 118, 200
	manyRows        = 30
)

// rooms are how wide labels and numbers are, in a face at a size.
func (ch Chart) rooms(size atlas.Unit) (label, number atlas.Unit) {
	for _, r := range ch.Rows {
		label = max(label, atlas.TextWidth(atlas.CondensedRegular, size, r.Label))
		number = max(number, atlas.TextWidth(atlas.CondensedRegular, size, r.Number))
	}
	return label + size, number + size
}

// chart sets rows from the given one on while there is room above bottom, and
// returns how many it has set.
func (c *column) chart(ch Chart, from int, bottom atlas.Unit) int {
	size := c.size * 88 / 100
	label, number := ch.rooms(size)
	left, width := c.x+label, max(c.w-label-number, c.w/4)
	at := func(v float64) atlas.Unit {
		if ch.Max <= 0 {
			return left
		}
		return left + atlas.Unit(float64(width)*min(max(v/ch.Max, 0), 1))
	}
	c.y += size * 130 / 100
	c.line(atlas.SansSemiBold, size, atlas.Ink, left, ch.Head)
	c.y += size * 45 / 100
	top := c.y
	set := 0
	height := size * atlas.Unit(tallRow-(tallRow-lowRow)*min(len(ch.Rows), manyRows)/manyRows) / 100
	var rows []atlas.Item
	for _, r := range ch.Rows[from:] {
		if c.y+height+size*220/100 > bottom {
			break
		}
		rows = append(rows, chartItems(r, c.y+height/2, size, left, c.x+c.w, at)...)
		c.y += height
		set++
	}
	if set == 0 {
		return 0
	}
	for i, word := range ch.Ticks {
		x := left
		if n := len(ch.Ticks) - 1; n > 0 {
			x += width * atlas.Unit(i) / atlas.Unit(n)
		}
		c.items = append(c.items, atlas.Path{Open: true, Rings: []atlas.Ring{{{X: x, Y: top}, {X: x, Y: c.y}}}, Stroke: atlas.Paint{Role: atlas.Hairline}, Width: 10},
			atlas.Text{X: x, Y: c.y + size, Size: size * 85 / 100, Face: atlas.CondensedRegular, Anchor: atlas.Middle, Paint: atlas.Paint{Role: atlas.Muted}, S: word})
	}
	c.items = append(c.items, rows...)
	c.y += size * 200 / 100
	return set
}

// chartItems draws one row around its middle height.
func chartItems(r ChartRow, y, size, left, right atlas.Unit, at func(float64) atlas.Unit) []atlas.Item {
	base := y + size*35/100
	ink := atlas.Paint{Role: atlas.Ink}
	items := []atlas.Item{
		atlas.Text{X: left - size*50/100, Y: base, Size: size, Face: atlas.CondensedRegular, Anchor: atlas.End, Paint: ink, S: r.Label},
		atlas.Text{X: right, Y: base, Size: size, Face: atlas.CondensedRegular, Anchor: atlas.End, Paint: ink, S: r.Number},
	}
	switch {
	case r.Blank:
	case r.Range:
		half := size * 24 / 100
		x := at(r.At)
		items = append(items,
			atlas.Segments{Lines: []atlas.Segment{{A: atlas.XY{X: at(r.Low), Y: y}, B: atlas.XY{X: at(r.High), Y: y}}}, Stroke: ink, Width: 40, Round: true},
			atlas.Path{Rings: []atlas.Ring{{{X: x, Y: y - half}, {X: x + half, Y: y}, {X: x, Y: y + half}, {X: x - half, Y: y}}}, Fill: ink})
	case r.At > 0:
		fill := r.Fill
		if fill.Role == atlas.NoPaint {
			fill = atlas.Paint{Role: atlas.BoundaryBand}
		}
		thick := size * 78 / 100
		items = append(items, atlas.Path{Rings: []atlas.Ring{box(left, y-thick/2, max(at(r.At)-left, 15), thick)}, Fill: fill, Stroke: ink, Width: 14})
	}
	return items
}
