// Package atlas composes maps: released figures and outlines go in, a scene of
// shapes in hundredths of a millimeter comes out. It is pure; painters in
// package press turn scenes into SVG, PNG and PDF.
//
// A level is shown twice, by a step of a light-to-dark ramp and by furrows, whose
// number is the class. Color is never the only carrier.
package atlas

import "strconv"

// Point is a place on the ground in whole meters of the boundary set's metric
// coordinate system, y northward.
type Point struct{ X, Y int32 }

// Shape is a set of polygons, each its outer ring first, then its holes.
// Neighbors share the same points along a shared edge.
type Shape [][][]Point

// Standing is what the map may say about a place.
type Standing uint8

// The standings.
const (
	NoFigures   Standing = iota // never sampled, or too few to show
	NoneFound                   // sampled, no eggs
	Unconfirmed                 // very few eggs, which may be another nematode's
	Found                       // eggs found; Mark.Lines is the class
	Recalled                    // a wrong figure was taken back
	Waiting                     // counted, not released: office pages only
	Measured                    // a number rather than a level; Mark.Lines is its step
	Earlier                     // figures, none of them new in this edition

	// What the figures amount to, by marks of its own.
	Staked       // found
	HalfStaked   // unconfirmed
	WellLooked   // none found, and many bags looked at
	ThinlyLooked // none found, in few bags
)

// MaxClasses is the largest number of found classes a map can show.
const MaxClasses = 5

// Mark is what a place shows.
type Mark struct {
	Standing Standing
	Lines    int // 1..Of for Found: the class, counted among the found classes; for Measured the step
	Of       int // how many found classes the scheme has, 1..MaxClasses, or how many steps
	// Near: something was found next to the place, and nothing in it. Of the marks
	// of what figures amount to, and of no figures.
	Near bool
}

// String names the mark for tests and for the data-mark attribute: "no-figures",
// "none-found", "unconfirmed", "found-2", "recalled", "waiting", "measured-4",
// "earlier"; "staked", "half-staked", "well-looked", "thinly-looked"; with "-near"
// where it is Near.
func (m Mark) String() string {
	if m.Near {
		m.Near = false
		return m.String() + "-near"
	}
	switch m.Standing {
	case NoneFound:
		return "none-found"
	case Unconfirmed:
		return "unconfirmed"
	case Found:
		return "found-" + strconv.Itoa(m.lines())
	case Recalled:
		return "recalled"
	case Waiting:
		return "waiting"
	case Measured:
		return "measured-" + strconv.Itoa(m.lines())
	case Earlier:
		return "earlier"
	case Staked:
		return "staked"
	case HalfStaked:
		return "half-staked"
	case WellLooked:
		return "well-looked"
	case ThinlyLooked:
		return "thinly-looked"
	default:
		return "no-figures"
	}
}

// of returns Of brought into 1..MaxClasses.
func (m Mark) of() int { return min(max(m.Of, 1), MaxClasses) }

// lines returns how many solid furrows the mark has, or its step.
func (m Mark) lines() int {
	if m.Standing != Found && m.Standing != Measured {
		return 0
	}
	return min(max(m.Lines, 1), m.of())
}

// Area is a place drawn by itself: a township of a county map, a county of a
// state map, or a pale neighbor.
type Area struct {
	ID    int
	Code  string // label in the corner, such as T21N R8E; the name on a state map
	Short string // what the corner holds when Code does not fit; may be empty
	Shape Shape
	Mark  Mark
	Value string // printed where the Mark is Measured, such as 38%
	First bool   // a first find in this edition: outlined heavily
	Title string // accessible name: place and level in words
	Href  string // page of the place; empty for none
}

// Joined is a district or remainder tranche: several places with one figure.
type Joined struct {
	Shape   Shape // outline of the union
	Members []int // IDs of its areas; those with figures of their own show their own
	Mark    Mark
	Value   string // printed where the Mark is Measured
	Title   string
	Href    string
}

// Line is a river or another line of reference.
type Line struct {
	Name  string
	Path  []Point
	Order int // lines of a lower one lie below; among equals roads below rivers
}

// Town is a point of reference; lower ranks are drawn first and win.
type Town struct {
	Name string
	At   Point
	Rank int
}

// LegendRow explains one mark.
type LegendRow struct {
	Mark   Mark
	Joined bool   // the row explains joined places; Mark is the one drawn in it
	First  bool   // the row explains the outline of first finds
	Value  string // printed in the swatch where the Mark is Measured
	Name   string
	Note   string
}

// Bar is one bar of the chart of bags at each level.
type Bar struct {
	Mark   Mark   // for the bar's fill
	Name   string // before it
	Count  int    // its length
	Number string // after it: the count as people read it
}

// Words are the sentences a map prints beside those of its subject; all come
// from the catalog. An empty one is left out.
type Words struct {
	LegendHead string // what the levels are, with the unit
	// Legend has the rows in the order they are shown. Rows for none found,
	// unconfirmed, found and measured are always shown, since a scale is only a
	// scale when it is whole; rows for no figures, joined, first, recalled, waiting
	// and earlier are shown only when the map has such a place. Rows of what figures
	// amount to are always shown.
	Legend     []LegendRow
	BarsHead   string // over the bars
	River      string // legend entries of the reference layers, shown when drawn
	Road       string
	Ridge      string
	Town       string
	Edge       string // legend entries of the edge and of its band, shown when drawn
	EdgeBand   string
	Miles      string // "miles"
	Kilometers string // "kilometers"
	North      string // "N"
	Desc       string // accessible description: a sentence that says what the map shows
}

// Imprint is what every map says about itself.
type Imprint struct {
	Title, Subtitle string
	Untitled        bool   // stands under its title on a page: the title names the drawing and is not drawn
	Totals          string // samples behind the map
	Edition, Date   string
	Source          string
	Footnote        string // the office's own words, under the source
	Bars            []Bar  // bags at each level, shown where there is room
	Band            string // across the map, such as "Not for release"; office pages
	Words           Words
}

// County is the map of one county.
type County struct {
	Imprint
	Areas     []Area
	Joined    []Joined
	Outline   Shape
	Neighbors []Area // drawn pale, without marks
	Water     []Line
	Roads     []Line
	Ridge     Shape
	Towns     []Town
	Edge      EdgeLines
}

// State is the map of a state by counties, or by townships where it has any: then
// the counties are outlined over them and named.
type State struct {
	Imprint
	Counties  []Area
	Townships []Area
	Joined    []Joined // of townships
	Outline   Shape
	Neighbors []Area
	Water     []Line
	Roads     []Line
	Ridge     Shape
	Towns     []Town
	Edge      EdgeLines
}
