package press

import (
	"fmt"
	"strings"

	"sixmile/internal/atlas"
)

// Report is pages of text, maps, tables and charts on letter paper.
type Report struct {
	Title, Subtitle string
	// Band stands at the head and the foot of every page, "" for none: such as "Not
	// for release".
	Band string
	Foot string // on every page: edition, date, whose it is
	Page string // before the page's number
	// The cover: numbers to be seen first, and what they are of.
	Facts []Fact
	Lead  []string
	Parts []Part
}

// Part is a part of a report: a heading over paragraphs, a map, a chart, a list and
// a table, each where it has one.
type Part struct {
	Section
	Turn  bool // begins a page
	Map   *atlas.State
	Chart Chart
	After []string // paragraphs at the end
	Small []string // and notes in small type
}

// Pages lays the report out. It fails with ErrNoRoom where a paragraph is longer
// than a page.
func (r Report) Pages() ([]atlas.Scene, error) {
	p := &reportPages{r: r, sides: &sides{words: HandoutWords{Title: r.Title}, full: 400}}
	p.turn()
	if err := p.cover(); err != nil {
		return nil, fmt.Errorf("press.Report: cover: %w", err)
	}
	for _, part := range r.Parts {
		if part.Turn && len(p.items) > 0 {
			p.finish()
			p.turn()
		}
		if err := p.part(part); err != nil {
			return nil, fmt.Errorf("press.Report: %s: %w", part.Head, err)
		}
	}
	if len(p.items) > 0 {
		p.finish()
	}
	for i := range p.done {
		p.done[i].Items = append(p.done[i].Items, p.frame(i+1)...)
	}
	return p.done, nil
}

// reportPages collects pages; their feet are set when there are all.
type reportPages struct {
	*sides
	r Report
}

// frame is the band and the foot of a page.
func (p *reportPages) frame(number int) []atlas.Item {
	c := column{x: sheetMargin, y: letterHeight - sheetMargin - 120, w: letterWidth - 2*sheetMargin, size: 300}
	c.rule(atlas.Hairline, 18)
	c.y += 380
	size := atlas.Unit(250)
	page := strings.TrimSpace(p.r.Page + " " + itoa(number))
	c.line(atlas.SansRegular, size, atlas.Muted, c.x, p.r.Foot)
	c.items = append(c.items, atlas.Text{X: c.x + c.w, Y: c.y, Size: size, Face: atlas.SansSemiBold, Anchor: atlas.End, Paint: atlas.Paint{Role: atlas.Ink}, S: page})
	if p.r.Band == "" {
		return c.items
	}
	for _, y := range []atlas.Unit{350, letterHeight - 850} {
		c.items = append(c.items,
			atlas.Path{Rings: []atlas.Ring{box(sheetMargin, y, c.w, 560)}, Fill: atlas.Paint{Role: atlas.BandFill}},
			atlas.Text{X: letterWidth / 2, Y: y + 395, Size: 330, Face: atlas.SansSemiBold, Anchor: atlas.Middle, Paint: atlas.Paint{Role: atlas.BandText}, S: p.r.Band})
	}
	return c.items
}

// cover sets the first page.
func (p *reportPages) cover() error {
	return p.add(func(c *column) {
		c.y += 1800
		c.title(p.r.Title, 1250)
		c.block(atlas.SansRegular, 520, atlas.Muted, 130, p.r.Subtitle)
		c.y += 900
		for from := 0; from < len(p.r.Facts); from += 4 {
			c.facts(p.r.Facts[from:min(from+4, len(p.r.Facts))])
			c.gap(60)
		}
		c.rule(atlas.Ink, 35)
		c.gap(120)
		for _, l := range p.r.Lead {
			c.para(l)
		}
	})
}

// part sets one part: what is long goes on over the page.
func (p *reportPages) part(part Part) error {
	text := part.Section
	text.List, text.Table = nil, Table{}
	if part.Head != "" && len(text.Paras) == 0 {
		if err := p.add(func(c *column) { c.space(); c.heading(part.Head) }); err != nil {
			return err
		}
	} else if err := p.section(text); err != nil {
		return err
	}
	if part.Map != nil {
		m := *part.Map
		m.Title, m.Subtitle = "", ""
		panel := atlas.ComposeState(m, atlas.ReportPanel)
		err := p.add(func(c *column) {
			c.items = append(c.items, panel.Shifted(c.x, c.y)...)
			c.y += panel.Height + 300
		})
		if err != nil {
			return err
		}
	}
	for from := 0; from < len(part.Chart.Rows); {
		set := 0
		err := p.add(func(c *column) {
			if set = c.chart(part.Chart, from, handoutBottom-c.size); set == 0 {
				c.y = letterHeight
			}
		})
		if err != nil {
			return err
		}
		from += set
	}
	if err := p.section(Section{List: part.List, Table: part.Table}); err != nil {
		return err
	}
	if err := p.section(Section{Paras: part.After}); err != nil {
		return err
	}
	for _, s := range part.Small {
		if err := p.add(func(c *column) { c.note(s) }); err != nil {
			return err
		}
	}
	return nil
}

// space parts a heading from what is above it.
func (c *column) space() {
	if c.y > sheetMargin {
		c.gap(60)
	}
}
