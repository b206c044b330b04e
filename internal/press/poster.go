package press

import (
	"fmt"
	"strconv"

	"sixmile/internal/atlas"
)

func itoa(n int) string { return strconv.Itoa(n) }

// Fact is a number to be seen from across the room, and what it counts.
type Fact struct{ Number, Text string }

// PosterWords are the sentences of a poster; all come from the catalog.
type PosterWords struct {
	Title, Subtitle string
	Facts           []Fact // a row of up to four
	DoHead          string // what to do this winter
	Do              []string
	BagsHead, Bags  string   // where free bags are
	Cautions        []string // small print; the usual ones belong on every poster
}

// Poster composes a tabloid sheet for a wall: numbers, the map, what to do. The
// map's own title is left out. It fails with ErrNoRoom when the sentences are too
// long.
func Poster(c atlas.County, words PosterWords) (atlas.Scene, error) {
	w, h := atlas.TabloidTall.Size()
	s := blank(words.Title, w, h)
	s.Desc = c.Words.Desc
	inner := w - 2*sheetMargin
	head := column{x: sheetMargin, y: sheetMargin, w: inner, size: 520}
	head.title(words.Title, 1700)
	head.block(atlas.SansRegular, 620, atlas.Muted, 125, words.Subtitle)
	head.y += 500
	head.facts(words.Facts)
	c.Title, c.Subtitle = "", ""
	panel := atlas.ComposeCounty(c, atlas.PosterPanel)
	s.Items = append(s.Items, head.items...)
	s.Items = append(s.Items, panel.Shifted(sheetMargin, head.y)...)
	top := head.y + panel.Height + 500
	items, err := fit(h-sheetMargin, func(percent atlas.Unit) ([]atlas.Item, atlas.Unit) {
		const gutter = 1200
		left := column{x: sheetMargin, y: top, w: (inner - gutter) * 54 / 100, size: 520 * percent / 100}
		left.rule(atlas.Ink, 40)
		left.heading(words.DoHead)
		left.list(words.Do, false)
		right := column{x: left.x + left.w + gutter, y: top, w: inner - gutter - left.w, size: left.size}
		right.rule(atlas.Ink, 40)
		right.heading(words.BagsHead)
		right.para(words.Bags)
		for _, s := range words.Cautions {
			right.note(s)
		}
		return append(left.items, right.items...), max(left.y, right.y)
	})
	if err != nil {
		return s, fmt.Errorf("press.Poster: %w", err)
	}
	s.Items = append(s.Items, items...)
	return s, nil
}

// facts sets numbers in a row, each over its words.
func (c *column) facts(facts []Fact) {
	n := atlas.Unit(min(len(facts), 4))
	if n == 0 {
		return
	}
	gutter := c.size * 2
	top, end := c.y, c.y
	for i, f := range facts[:n] {
		one := column{w: (c.w - gutter*(n-1)) / n, y: top, size: c.size}
		one.x = c.x + atlas.Unit(i)*(one.w+gutter)
		one.block(atlas.SerifSemiBold, c.size*260/100, atlas.Ink, 100, f.Number)
		one.gap(15)
		one.block(atlas.SansRegular, c.size*90/100, atlas.Ink, 130, f.Text)
		c.items = append(c.items, one.items...)
		end = max(end, one.y)
	}
	c.y = end + c.size
}
