package atlas

// Unit is a hundredth of a millimeter on paper. Scenes are laid out in whole
// units so that every machine composes the same bytes.
type Unit int32

// MM returns the length in millimeters.
func (u Unit) MM() float64 { return float64(u) / 100 }

// XY is a point on paper: x to the right, y downward from the top left corner.
type XY struct{ X, Y Unit }

// Ring is a line through points on paper; whether it closes is said by the Path.
type Ring []XY

// Box is an upright rectangle on paper; X1 and Y1 are its right and lower edges.
type Box struct{ X0, Y0, X1, Y1 Unit }

// Role says what a color is for. Painters turn roles into colors by their theme.
type Role uint8

// The roles. Those on or for a level also use Step and Of of their Paint.
const (
	NoPaint       Role = iota
	PaperRole          // the sheet
	Ink                // main text, frame, scale bar
	Muted              // second-rank text
	Hairline           // thin lines: township edges, frame
	Blank              // fill of a place without released figures
	Level              // fill of a place with figures
	OnLevel            // furrows, 0 and r on such a fill
	OnLevelSoft        // the code in its corner
	Texture            // ridge ticks on such a fill
	NeighborFill       // land outside the county or state
	NeighborEdge       // its boundaries
	NeighborText       // its names
	Boundary           // the county's or state's own outline
	BoundaryBand       // the pale band outside it
	JoinedEdge         // dots around joined townships
	WaterEdge          // banks of a river
	WaterFill          // its water
	WaterText          // its name
	TownText           // towns and their names
	Halo               // paper left free around text that lies on the map
	Amount             // fill of a place with a number; Step of Of
	OnAmount           // the number on such a fill
	OnAmountSoft       // the code in its corner
	AmountTexture      // ridge ticks on such a fill
	EarlierFill        // fill of a place whose figures are not new
	Emphasis           // outline of first finds
	BandFill           // the band across a map that must not be released
	BandText           // its words
	Chalk              // a drawing's fills: the lightest
	Flesh              // a drawing's fills: middle
	Bark               // a drawing's fills: dark
)

// Paint is a role and, for roles that depend on a level, which step of the ramp:
// 0 none found, 1 unconfirmed, 1+i the i-th of Of found classes. Of is zero
// where the place under it has no level. Roles of an amount have steps 0 to Of-1.
type Paint struct {
	Role Role
	Step uint8
	Of   uint8
}

// Face is one of the typefaces of package fonts.
type Face uint8

// The faces; their order is the order of the measuring tables.
const (
	SansRegular Face = iota
	SansSemiBold
	CondensedRegular
	CondensedSemiBold
	SerifSemiBold
	faceCount
)

// Anchor says which end of a text its X is.
type Anchor uint8

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Item is one thing of a scene: Path, Segments, Text or Group.
type Item interface{ item() }

// Path is a filled or stroked area, or a line when Open.
type Path struct {
	// Key, when set, names the outline: paths of one scene with the same key
	// have the same Rings, so that a painter may write them once.
	Key    string
	Rings  []Ring // filled by the even-odd rule
	Open   bool
	Fill   Paint
	Stroke Paint
	Width  Unit
	Dash   []Unit
	Round  bool // round line ends and joins
}

// Segment is a straight stroke.
type Segment struct{ A, B XY }

// Segments are straight strokes of one kind: furrows, ticks, stipple (a segment
// of no length with round ends is a dot).
type Segments struct {
	Kind   SegmentKind
	Lines  []Segment
	Stroke Paint
	Width  Unit
	Dash   []Unit
	Round  bool
}

// SegmentKind tells what segments are.
type SegmentKind uint8

// The kinds of segments.
const (
	PlainSegments SegmentKind = iota
	Furrows
	Stipple
	Ticks
)

// Text is one line of text; Y is its baseline.
type Text struct {
	X, Y    Unit
	Size    Unit // em
	Face    Face
	Anchor  Anchor
	Paint   Paint
	Halo    bool
	Spacing Unit // added after each letter
	Turn    int  // degrees clockwise around (X, Y): 0 or -90
	S       string
}

// GroupKind tells what a group is.
type GroupKind uint8

// The kinds of groups. The scene holds exactly one PlaceGroup for each area and
// one JoinedGroup for each joined shape; legend rows repeat marks in
// LegendGroups, so that counting marks on the map never counts the legend.
const (
	LayerGroup GroupKind = iota
	PlaceGroup
	JoinedGroup
	LegendGroup
)

// Group holds what belongs together: a layer, or all of one place.
type Group struct {
	Kind  GroupKind
	ID    string // unique in the scene
	Place int    // the place of a PlaceGroup
	Mark  Mark   // of a PlaceGroup or JoinedGroup
	Title string // accessible name
	Href  string // where a click goes; empty for nowhere
	Items []Item
}

func (Path) item()     {}
func (Segments) item() {}
func (Text) item()     {}
func (Group) item()    {}

// Scene is a composed map.
type Scene struct {
	Width, Height Unit
	Title, Desc   string // accessible name and description of the whole
	Items         []Item
}

// Shifted returns the items moved by so much; the scene stays as it is.
func (s Scene) Shifted(dx, dy Unit) []Item { return shifted(s.Items, dx, dy) }

func shifted(items []Item, dx, dy Unit) []Item {
	out := make([]Item, 0, len(items))
	move := func(p XY) XY { return XY{p.X + dx, p.Y + dy} }
	for _, it := range items {
		switch it := it.(type) {
		case Path:
			rings := make([]Ring, len(it.Rings))
			for i, r := range it.Rings {
				rings[i] = make(Ring, len(r))
				for j, p := range r {
					rings[i][j] = move(p)
				}
			}
			it.Rings = rings
			out = append(out, it)
		case Segments:
			lines := make([]Segment, len(it.Lines))
			for i, l := range it.Lines {
				lines[i] = Segment{move(l.A), move(l.B)}
			}
			it.Lines = lines
			out = append(out, it)
		case Text:
			it.X, it.Y = it.X+dx, it.Y+dy
			out = append(out, it)
		case Group:
			it.Items = shifted(it.Items, dx, dy)
			out = append(out, it)
		}
	}
	return out
}
