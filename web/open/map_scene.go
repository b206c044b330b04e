package open

import (
	"bytes"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
)

// drawing is one way of putting a map on paper.
type drawing struct {
	paper atlas.Paper
	theme press.Theme
	// prefix keeps the ids of several maps on one page apart. A drawing with
	// one stands in the page, and its places lead on; a file of its own leads
	// nowhere.
	prefix string
}

// The two drawings that stand in a page: one of them shows, by its width.
var (
	wideDrawing   = drawing{paper: atlas.Screen, prefix: "w-"}
	narrowDrawing = drawing{paper: atlas.Phone, prefix: "n-"}
)

// countyScene composes the map of one county.
func (t teller) countyScene(v *gazette.CountyView, d drawing) atlas.Scene {
	desc := t.say("county.desc.blank", "county", t.county(v))
	if v.Shown > 0 {
		desc = t.lang.Count("county.desc", v.Shown, "county", t.county(v), "found", v.WithFinds, "shown", v.Shown)
	}
	im := t.imprint(t.county(v), t.say("county.subtitle"), v.Summary, t.words(t.say("legend.head.county"), desc))
	im.Untitled = d.onPage()
	m := t.x.CountyMap(v, im, gazette.Captions{
		Township: func(a *gazette.TownshipView) (string, string) {
			switch {
			case a.HasFigures():
				return t.areaTitle(a), d.link("#" + townshipID(a.Slug))
			case len(a.Joined) > 0:
				return t.areaTitle(a), d.link("#" + joinedID(a.Joined[0]))
			case a.Recalled():
				return t.areaTitle(a), d.link("#" + townshipID(a.Slug))
			}
			return t.areaTitle(a), ""
		},
		Joined: func(i int, j *gazette.JoinedView) (string, string) { return t.joinedTitle(i, j), "" },
	})
	return atlas.ComposeCounty(m, d.paper)
}

// countyMap draws one county on whatever is asked for.
func (t teller) countyMap(v *gazette.CountyView) func(drawing) atlas.Scene {
	return func(d drawing) atlas.Scene { return t.countyScene(v, d) }
}

// onPage tells whether the drawing stands in a page, under the page's own heading.
func (d drawing) onPage() bool { return d.prefix != "" }

func (d drawing) link(to string) string {
	if !d.onPage() {
		return ""
	}
	return to
}

// paint draws a scene as SVG.
func (t teller) paint(s atlas.Scene, d drawing) (string, error) {
	var b bytes.Buffer
	err := press.SVG(&b, s, press.Options{Theme: d.theme, Lang: t.lang.Tag(), IDPrefix: d.prefix})
	return b.String(), err
}

func (t teller) county(v *gazette.CountyView) string { return t.say("county.name", "name", v.Name) }

func (t teller) areaTitle(a *gazette.TownshipView) string {
	switch {
	case a.HasFigures():
		return t.lang.Count("county.area", a.Samples, "place", a.Label(), "level", t.level(a.Level), "finds", a.Finds)
	case len(a.Joined) > 0:
		return t.say("county.area.joined", "place", a.Label(), "number", a.Joined[0]+1)
	case a.Recalled():
		return t.say("county.area.recalled", "place", a.Label())
	}
	return t.say("map.area.blank", "place", a.Label())
}

func (t teller) joinedTitle(i int, j *gazette.JoinedView) string {
	return t.lang.Count("county.joined", j.Samples, "number", i+1, "level", t.level(j.Level), "finds", j.Finds)
}

// chip is a level's mark, small, beside a word: the fill, and lines, a zero or
// a broken line on it. Its measures are those of its viewBox.
type chip struct {
	fill, line string
	lines      []int // heights of the lines
	broken     bool
	letter     string // 0 for none found, r for taken back
	stakes     string // a path of upright strokes, or of lines under the letter
}

const chipWidth, chipHeight = 30, 18

func chipOf(m atlas.Mark) chip {
	step := uint8(0)
	switch m.Standing {
	case atlas.Unconfirmed:
		step = 1
	case atlas.Found:
		step = uint8(m.Lines) + 1
	}
	of := uint8(m.Of)
	switch m.Standing {
	case atlas.Staked, atlas.HalfStaked, atlas.WellLooked, atlas.ThinlyLooked:
		return standingChip(m)
	case atlas.NoFigures:
		return chip{fill: press.Color.Color(atlas.Paint{Role: atlas.Blank})}
	case atlas.Measured, atlas.Earlier:
		return chip{fill: press.Color.Color(m.Fill())}
	case atlas.Recalled:
		return chip{fill: press.Color.Color(atlas.Paint{Role: atlas.Blank}), line: press.Color.Color(atlas.Paint{Role: atlas.OnLevel}), letter: "r"}
	}
	c := chip{
		fill: press.Color.Color(atlas.Paint{Role: atlas.Level, Step: step, Of: of}),
		line: press.Color.Color(atlas.Paint{Role: atlas.OnLevel, Step: step, Of: of}),
	}
	switch m.Standing {
	case atlas.NoneFound:
		c.letter = "0"
	case atlas.Unconfirmed:
		c.broken, c.lines = true, []int{chipHeight / 2}
	case atlas.Found:
		for i := range m.Lines {
			c.lines = append(c.lines, chipHeight*(i+1)/(m.Lines+1))
		}
	}
	return c
}

func (t teller) chip(l gazette.Level) chip { return chipOf(l.Mark(t.x.Issue.Scheme)) }

func (t teller) classChip(c assay.Class) chip { return chipOf(gazette.MarkOf(t.x.Issue.Scheme, c)) }
