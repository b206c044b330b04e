package press

import (
	"errors"

	"sixmile/internal/atlas"
)

// ErrNoRoom says that a sheet's sentences are too long for it.
var ErrNoRoom = errors.New("the text is too long for the sheet")

// Measures of sheets, in units: margins, and the white paper of a letter sheet.
const (
	letterWidth  = 21590
	letterHeight = 27940
	sheetMargin  = 1500
)

// column sets blocks of text under one another, wrapped by measured width.
type column struct {
	x, y, w atlas.Unit
	size    atlas.Unit // of running text
	items   []atlas.Item
}

func (c *column) line(face atlas.Face, size atlas.Unit, role atlas.Role, x atlas.Unit, s string) {
	c.items = append(c.items, atlas.Text{X: x, Y: c.y, Size: size, Face: face, Paint: atlas.Paint{Role: role}, S: s})
}

// block sets wrapped lines; each takes lead percent of the size.
func (c *column) block(face atlas.Face, size atlas.Unit, role atlas.Role, lead atlas.Unit, s string) {
	for _, l := range atlas.Wrap(face, size, s, c.w) {
		c.y += size * lead / 100
		c.line(face, size, role, c.x, l)
	}
}

// gap leaves so many percent of a line free.
func (c *column) gap(percent atlas.Unit) { c.y += c.size * percent / 100 }

func (c *column) title(s string, size atlas.Unit) {
	c.block(atlas.SerifSemiBold, size, atlas.Ink, 108, s)
	c.y += size * 22 / 100
}

func (c *column) heading(s string) {
	if s == "" {
		return
	}
	c.block(atlas.SerifSemiBold, c.size*130/100, atlas.Ink, 120, s)
	c.gap(35)
}

func (c *column) para(s string) {
	if s == "" {
		return
	}
	c.block(atlas.SansRegular, c.size, atlas.Ink, 138, s)
	c.gap(45)
}

// note is a paragraph in small type.
func (c *column) note(s string) {
	if s == "" {
		return
	}
	c.block(atlas.SansRegular, c.size*80/100, atlas.Muted, 135, s)
	c.gap(25)
}

// list sets paragraphs with a mark before each: a dash, or numbers when counted.
func (c *column) list(lines []string, counted bool) {
	indent := c.size * 120 / 100
	if counted {
		indent = c.size * 150 / 100
	}
	for i, s := range lines {
		face, mark := atlas.SansRegular, "–"
		if counted {
			face, mark = atlas.SansSemiBold, itoa(i+1)
		}
		for k, l := range atlas.Wrap(atlas.SansRegular, c.size, s, c.w-indent) {
			c.y += c.size * 136 / 100
			if k == 0 {
				c.line(face, c.size, atlas.Ink, c.x, mark)
			}
			c.line(atlas.SansRegular, c.size, atlas.Ink, c.x+indent, l)
		}
		c.gap(30)
	}
}

// rule draws a thin line across.
func (c *column) rule(role atlas.Role, width atlas.Unit) {
	c.items = append(c.items, atlas.Path{Open: true, Stroke: atlas.Paint{Role: role}, Width: width,
		Rings: []atlas.Ring{{{X: c.x, Y: c.y}, {X: c.x + c.w, Y: c.y}}}})
}

// Table is rows of figures under a head. Columns after the first are set to the
// right, as numbers are.
type Table struct {
	Head []string
	Rows [][]string
}

// table sets rows from the given one on while there is room above bottom, under
// the head, and returns how many it has set.
func (c *column) table(t Table, from int, bottom atlas.Unit) int {
	size := c.size * 88 / 100
	ends := t.columns(size, c.w)
	if len(ends) == 0 {
		return len(t.Rows) - from
	}
	row := func(face atlas.Face, cells []string) {
		c.y += size * 128 / 100
		for i, s := range cells[:min(len(cells), len(ends))] {
			text := atlas.Text{X: c.x, Y: c.y, Size: size, Face: face, Paint: atlas.Paint{Role: atlas.Ink}, S: s}
			if i > 0 {
				text.X, text.Anchor = c.x+ends[i], atlas.End
			}
			c.items = append(c.items, text)
		}
		c.y += size * 38 / 100
	}
	row(atlas.CondensedSemiBold, t.Head)
	c.rule(atlas.Ink, 25)
	set := 0
	for _, r := range t.Rows[from:] {
		if c.y+size*170/100 > bottom {
			break
		}
		row(atlas.CondensedRegular, r)
		c.rule(atlas.Hairline, 12)
		set++
	}
	c.gap(40)
	return set
}

// columns returns where each column ends: as wide as its widest cell, and what is
// left over shared.
func (t Table) columns(size, w atlas.Unit) []atlas.Unit {
	widths := make([]atlas.Unit, len(t.Head))
	see := func(face atlas.Face, cells []string) {
		for i, s := range cells[:min(len(cells), len(widths))] {
			widths[i] = max(widths[i], atlas.TextWidth(face, size, s)+size)
		}
	}
	see(atlas.CondensedSemiBold, t.Head)
	for _, r := range t.Rows {
		see(atlas.CondensedRegular, r)
	}
	var all atlas.Unit
	for _, v := range widths {
		all += v
	}
	spare := (w - all) / atlas.Unit(max(len(widths), 1))
	ends := make([]atlas.Unit, len(widths))
	var at atlas.Unit
	for i, v := range widths {
		at += v + spare
		ends[i] = at
	}
	return ends
}

// fit composes at full size, then smaller, until what it draws ends above bottom.
func fit(bottom atlas.Unit, compose func(percent atlas.Unit) (items []atlas.Item, end atlas.Unit)) ([]atlas.Item, error) {
	for percent := atlas.Unit(100); percent >= 70; percent -= 5 {
		if items, end := compose(percent); end <= bottom {
			return items, nil
		}
	}
	return nil, ErrNoRoom
}

// blank is a sheet of white paper.
func blank(title string, w, h atlas.Unit) atlas.Scene {
	paper := atlas.Path{Rings: []atlas.Ring{box(0, 0, w, h)}, Fill: atlas.Paint{Role: atlas.PaperRole}}
	return atlas.Scene{Width: w, Height: h, Title: title, Items: []atlas.Item{paper}}
}

func box(x, y, w, h atlas.Unit) atlas.Ring {
	return atlas.Ring{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}
