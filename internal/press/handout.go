package press

import (
	"fmt"

	"sixmile/internal/atlas"
)

// Section is a part of a handout: a heading over paragraphs, a list and a table.
type Section struct {
	Head  string
	Paras []string
	List  []string
	Table Table
}

// HandoutWords are the sentences of a handout; all come from the catalog.
type HandoutWords struct {
	Title, Subtitle string
	Lead            string   // the sentence that says what the map shows
	Facts           []string // under the map, in the order an educator wants them
	Back            []Section
	Cautions        []string // at the end of the back; the usual ones belong there
	Foot            string   // on every side: edition, date, where to ask
}

// Handout composes letter sheets: the map and the facts on the front; what to do,
// the table that says the same as the map, and the cautions on the back, and on
// further sides when they are long. It fails with ErrNoRoom when the front's
// sentences are too long, or a paragraph is longer than a side.
func Handout(c atlas.County, words HandoutWords) ([]atlas.Scene, error) {
	front := blank(words.Title, letterWidth, letterHeight)
	front.Desc = c.Words.Desc
	head := column{x: sheetMargin, y: sheetMargin, w: letterWidth - 2*sheetMargin, size: 370}
	head.title(words.Title, 900)
	head.block(atlas.SansRegular, 390, atlas.Muted, 125, words.Subtitle)
	head.y += 350
	c.Title, c.Subtitle = "", ""
	panel := atlas.ComposeCounty(c, atlas.HandoutPanel)
	front.Items = append(front.Items, head.items...)
	front.Items = append(front.Items, panel.Shifted(sheetMargin, head.y)...)
	top := head.y + panel.Height + 250
	items, err := fit(handoutBottom, func(percent atlas.Unit) ([]atlas.Item, atlas.Unit) {
		col := column{x: head.x, y: top, w: head.w, size: 430 * percent / 100}
		col.block(atlas.SansSemiBold, col.size*108/100, atlas.Ink, 130, words.Lead)
		col.gap(40)
		col.list(words.Facts, false)
		return col.items, col.y
	})
	if err != nil {
		return nil, fmt.Errorf("press.Handout: front: %w", err)
	}
	front.Items = append(front.Items, items...)
	front.Items = append(front.Items, foot(words.Foot)...)
	back, err := backSides(words)
	if err != nil {
		return nil, fmt.Errorf("press.Handout: back: %w", err)
	}
	return append([]atlas.Scene{front}, back...), nil
}

// handoutBottom is where text ends above the foot of a side.
const handoutBottom = letterHeight - sheetMargin - 700

func foot(s string) []atlas.Item {
	c := column{x: sheetMargin, y: letterHeight - sheetMargin - 420, w: letterWidth - 2*sheetMargin, size: 300}
	c.rule(atlas.Hairline, 18)
	c.note(s)
	return c.items
}

// sides collects the blocks of a text on as many sides as they need.
type sides struct {
	column
	words HandoutWords
	full  atlas.Unit // size of its text
	done  []atlas.Scene
}

// backSides sets the back on one side if smaller type allows it, else on as many
// as it needs.
func backSides(words HandoutWords) ([]atlas.Scene, error) {
	const full, least = 380, 290
	for size := atlas.Unit(full); size >= least; size -= 15 {
		if out, err := backAt(words, size); err == nil && len(out) == 1 {
			return out, nil
		}
	}
	return backAt(words, full)
}

func backAt(words HandoutWords, size atlas.Unit) ([]atlas.Scene, error) {
	s := &sides{words: words, full: size}
	s.turn()
	for _, part := range words.Back {
		if err := s.section(part); err != nil {
			return nil, err
		}
	}
	for i, line := range words.Cautions {
		err := s.add(func(c *column) {
			if i == 0 {
				c.gap(40)
				c.rule(atlas.Ink, 30)
				c.gap(30)
			}
			c.block(atlas.SansRegular, c.size*90/100, atlas.Ink, 135, line)
			c.gap(30)
		})
		if err != nil {
			return nil, err
		}
	}
	s.finish()
	return s.done, nil
}

func (s *sides) turn() {
	s.column = column{x: sheetMargin, y: sheetMargin, w: letterWidth - 2*sheetMargin, size: s.full}
}

func (s *sides) finish() {
	side := blank(s.words.Title, letterWidth, letterHeight)
	side.Items = append(side.Items, s.items...)
	side.Items = append(side.Items, foot(s.words.Foot)...)
	s.done = append(s.done, side)
}

// add sets a block where it has room: here or on a new side.
func (s *sides) add(block func(*column)) error {
	for range 2 {
		try := s.column
		try.items = nil
		block(&try)
		if try.y <= handoutBottom {
			try.items = append(s.items, try.items...)
			s.column = try
			return nil
		}
		if s.items == nil {
			return ErrNoRoom
		}
		s.finish()
		s.turn()
	}
	return ErrNoRoom
}

func (s *sides) section(part Section) error {
	// A heading stays with what follows it.
	head := func(c *column) {
		if c.y > sheetMargin {
			c.gap(60)
		}
		c.heading(part.Head)
	}
	var err error
	add := func(block func(*column)) {
		if err != nil {
			return
		}
		first := head
		err = s.add(func(c *column) { first(c); block(c) })
		head = func(*column) {}
	}
	for _, p := range part.Paras {
		add(func(c *column) { c.para(p) })
	}
	for i := range part.List {
		add(func(c *column) { c.list(part.List[i:i+1], false) })
	}
	for from := 0; from < len(part.Table.Rows) && err == nil; {
		set := 0
		add(func(c *column) {
			set = c.table(part.Table, from, handoutBottom-c.size*40/100)
			if set == 0 {
				c.y = letterHeight // not even one row fits here
			}
		})
		from += set
	}
	return err
}
