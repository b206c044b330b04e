package press

import (
	"fmt"

	"sixmile/internal/atlas"
)

// AnswerSlip is the answer to one bag, as handed out at the counter.
type AnswerSlip struct {
	Code  string // of the bag, as printed on it
	Place string // township and fall, as people say it
	Mark  atlas.Mark
	Level string   // the level in words
	Lines []string // the count with its limits, and what it means
}

// SlipWords are the sentences every slip carries; all come from the catalog.
type SlipWords struct {
	Title    string // of the document
	Head     string // over each slip: whose program
	Bag      string // before the code
	Cautions []string
}

const (
	slipsPerSheet = 3
	slipHeight    = (letterHeight - 2*1270) / slipsPerSheet
)

// AnswerSlips composes letter sheets of three slips to cut apart. It fails with
// ErrNoRoom when a slip's sentences are too long for it.
func AnswerSlips(slips []AnswerSlip, words SlipWords) ([]atlas.Scene, error) {
	var out []atlas.Scene
	for i, slip := range slips {
		if i%slipsPerSheet == 0 {
			out = append(out, blank(words.Title, letterWidth, letterHeight))
		}
		sheet := &out[len(out)-1]
		top := atlas.Unit(1270 + i%slipsPerSheet*slipHeight)
		items, err := answerSlip(slip, words, top)
		if err != nil {
			return nil, fmt.Errorf("press.AnswerSlips: slip %d: %w", i+1, err)
		}
		sheet.Items = append(sheet.Items, items...)
		if i%slipsPerSheet > 0 {
			sheet.Items = append(sheet.Items, atlas.Path{Open: true, Stroke: atlas.Paint{Role: atlas.Ink}, Width: 18, Dash: []atlas.Unit{160, 160},
				Rings: []atlas.Ring{{{X: 600, Y: top}, {X: letterWidth - 600, Y: top}}}})
		}
	}
	return out, nil
}

func answerSlip(slip AnswerSlip, words SlipWords, top atlas.Unit) ([]atlas.Item, error) {
	return fit(top+slipHeight-350, func(percent atlas.Unit) ([]atlas.Item, atlas.Unit) {
		c := column{x: sheetMargin, y: top + 450, w: letterWidth - 2*sheetMargin, size: 370 * percent / 100}
		c.block(atlas.SansSemiBold, c.size*85/100, atlas.Muted, 120, words.Head)
		c.gap(30)
		start := c.y
		mark := atlas.Box{X0: c.x, Y0: start + 150, X1: c.x + 2600, Y1: start + 1950}
		items := atlas.Swatch(slip.Mark, "", mark)
		c.x, c.w = c.x+3200, c.w-3200
		c.block(atlas.SansRegular, c.size, atlas.Muted, 120, words.Bag)
		c.block(atlas.CondensedSemiBold, c.size*165/100, atlas.Ink, 112, slip.Code)
		c.block(atlas.SansRegular, c.size, atlas.Ink, 145, slip.Place)
		c.gap(50)
		c.block(atlas.SerifSemiBold, c.size*140/100, atlas.Ink, 115, slip.Level)
		c.gap(30)
		for _, l := range slip.Lines {
			c.para(l)
		}
		c.y = max(c.y, mark.Y1)
		c.x, c.w = sheetMargin, letterWidth-2*sheetMargin
		c.gap(50)
		for _, l := range words.Cautions {
			c.note(l)
		}
		return append(items, c.items...), c.y
	})
}
