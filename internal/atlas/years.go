package atlas

import (
	"slices"
	"strconv"
)

// ComposeYears lays out maps of one county, edition by edition, as rows of small
// maps at one scale with one legend. The title of each map is its caption; all
// else it says about itself is left out, and so are codes, towns, the ridge and
// neighbors. The i-th map's groups have ids that begin with y and i.
func ComposeYears(im Imprint, maps []County, p Paper) Scene {
	all := subject{Imprint: im}
	panels := make([]subject, 0, len(maps))
	for _, c := range maps {
		panels = append(panels, subject{Imprint: c.Imprint, areas: c.Areas, joined: c.Joined, outline: c.Outline})
		all.areas = append(all.areas, c.Areas...)
		all.joined = append(all.joined, c.Joined...)
		all.outline = append(all.outline, c.Outline...)
	}
	b := newBuilder(all, p)
	b.panels = panels
	return b.scene()
}

// captionHeight is the room above a small map.
func (b *builder) captionHeight() Unit { return b.text * 170 / 100 }

// panelsHeight returns how tall a grid of small maps should be when it is w wide.
func (b *builder) panelsHeight(w Unit) Unit {
	if len(b.panels) == 0 {
		return w / 2
	}
	cols := Unit(min(len(b.panels), 4))
	if b.side == 0 {
		cols = Unit(min(len(b.panels), 2))
	}
	rows := (Unit(len(b.panels)) + cols - 1) / cols
	gap := b.text * 2
	each := (w - gap*(cols-1)) / cols
	lo, hi, ok := b.m.bounds()
	if !ok || hi.X == lo.X {
		return w / 2
	}
	h := Unit((int64(hi.Y) - int64(lo.Y)) * int64(each) / (int64(hi.X) - int64(lo.X)))
	return rows*(h+b.captionHeight()) + gap*(rows-1)
}

// drawPanels draws the small maps in a grid whose cells let them be largest.
func (b *builder) drawPanels(frame Box) {
	n := Unit(len(b.panels))
	if n == 0 {
		return
	}
	gap := b.text * 2
	var cell Box
	cols, den := Unit(1), int64(-1)
	for c := Unit(1); c <= n; c++ {
		rows := (n + c - 1) / c
		w, h := (frame.width()-gap*(c-1))/c, (frame.height()-gap*(rows-1))/rows
		b.fit(Box{0, b.captionHeight(), max(w, 1), max(h, b.captionHeight()+1)}.grow(-40))
		if den < 0 || b.proj.den < den {
			cols, den, cell = c, b.proj.den, Box{0, 0, w, h}
		}
	}
	whole, texts, furrows := b.m, b.texts, b.furrows
	for i := range n {
		b.prefix = "y" + strconv.Itoa(int(i)) + "-"
		x := frame.X0 + (cell.width()+gap)*(i%cols)
		y := frame.Y0 + (cell.height()+gap)*(i/cols)
		b.m = whole
		b.fit(Box{x, y + b.captionHeight(), x + cell.width(), y + cell.height()}.grow(-40))
		b.m = b.panels[i]
		b.drawPanel(XY{x, y}, cell.width())
	}
	b.m, b.texts, b.furrows, b.prefix = whole, texts, furrows, ""
}

// drawPanel draws one small map under its caption.
func (b *builder) drawPanel(at XY, w Unit) {
	var items []Item
	y := max(at.Y+b.text, b.proj.top-b.text*70/100)
	at.X = max(at.X, b.proj.left)
	// A caption is one line: what does not fit is set smaller.
	size := b.text
	for size > 100 && width(SansSemiBold, size, b.m.Title) > w {
		size = size * 9 / 10
	}
	items = append(items, Text{X: at.X, Y: y, Size: size, Face: SansSemiBold, Paint: Paint{Role: Ink}, S: b.m.Title})
	b.layer("caption", items)
	areas := b.placeAreas()
	var fills []Item
	for _, a := range areas {
		fills = append(fills, Path{Key: a.key, Rings: a.fig.rings, Fill: a.fill})
	}
	b.layer("fills", fills)
	marks := slices.Concat(b.joinedGroups(areas), b.placeGroups(areas, nil))
	b.items = append(b.items, marks...)
	if outline := b.proj.rings(b.m.outline); outline != nil {
		b.layer("outline", []Item{Path{Key: b.prefix + "o", Rings: outline, Stroke: Paint{Role: Boundary}, Width: 45, Round: true}})
	}
}
