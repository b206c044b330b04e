package atlas

import (
	"slices"
	"strconv"
)

// ComposeCounty lays out a county map on a paper.
func ComposeCounty(c County, p Paper) Scene {
	return compose(subject{
		Imprint: c.Imprint, areas: c.Areas, joined: c.Joined, outline: c.Outline,
		neighbors: c.Neighbors, water: c.Water, roads: c.Roads, ridge: c.Ridge, towns: c.Towns, edge: c.Edge,
	}, p)
}

// ComposeState lays out a state map on a paper: its counties carry their names
// where a county map carries codes.
func ComposeState(s State, p Paper) Scene {
	m := subject{
		Imprint: s.Imprint, areas: s.Counties, outline: s.Outline,
		neighbors: s.Neighbors, water: s.Water, roads: s.Roads, ridge: s.Ridge, towns: s.Towns, edge: s.Edge, names: true,
	}
	if len(s.Townships) > 0 {
		m.areas, m.joined, m.over, m.names = s.Townships, s.Joined, s.Counties, false
	}
	return compose(m, p)
}

// subject is what both kinds of map have in common.
type subject struct {
	Imprint
	areas     []Area
	joined    []Joined
	outline   Shape
	neighbors []Area
	water     []Line
	roads     []Line
	ridge     Shape
	towns     []Town
	over      []Area // outlined and named over the areas
	names     bool   // labels are names of places rather than codes
	edge      EdgeLines
}

// builder composes one scene.
type builder struct {
	sheet
	m    subject
	scan scanner
	proj projection

	prefix   string    // before the ids and keys of one of several maps
	panels   []subject // small maps instead of one
	noBars   bool      // the sheet has no room for them
	noNotes  bool      // nor for notes on what is beside the scale
	codeFace Face
	codeSize Unit
	named    []Box // covered by the names of what is outlined over the areas
	river    []Box // along rivers, which labels avoid when they can
	texts    []Box // covered by text and symbols
	furrows  []Box // covered by furrows of the map
	items    []Item
}

func compose(m subject, p Paper) Scene {
	return newBuilder(m, p).scene()
}

func newBuilder(m subject, p Paper) *builder {
	b := &builder{sheet: p.sheet(), m: m, codeFace: CondensedRegular, proj: projection{den: 300000}}
	b.codeSize = b.code0
	if m.names {
		b.codeFace, b.codeSize = CondensedSemiBold, b.code0*125/100
	}
	return b
}

func (b *builder) scene() Scene {
	height := b.layout()
	return Scene{Width: b.sheet.width, Height: height, Title: b.m.Title, Desc: b.m.Words.Desc, Items: b.items}
}

// placed is an area on paper.
type placed struct {
	Area
	key  string
	fig  *figure
	fill Paint
	code Text
	has  bool // code is set
}

// placeAreas takes the areas to paper and gives members of joined shapes the fill of
// the first of those that holds them.
func (b *builder) placeAreas() []placed {
	out := make([]placed, len(b.m.areas))
	for i, a := range b.m.areas {
		out[i] = placed{Area: a, key: b.prefix + "a" + strconv.Itoa(i), fig: newFigure(b.proj.rings(a.Shape)), fill: fillOf(a.Mark)}
		if a.Mark.Standing != NoFigures {
			continue
		}
		for _, j := range b.m.joined {
			if slices.Contains(j.Members, a.ID) {
				out[i].fill = fillOf(j.Mark)
				break
			}
		}
	}
	return out
}

// drawMap draws everything inside the frame.
func (b *builder) drawMap(frame Box) {
	frame = b.band(frame)
	if b.panels != nil {
		b.drawPanels(frame)
		return
	}
	b.fit(frame.grow(-b.apron))
	areas := b.placeAreas()
	towns := b.townsIn(frame)
	symbols := make([]Box, len(towns))
	for i, t := range towns {
		symbols[i] = t.box
	}
	outline := b.proj.rings(b.m.outline)
	b.river = b.riverBoxes(frame)

	for i := range areas {
		a := &areas[i]
		if a.code, a.has = b.code(a.fig, a.Area, a.fill, symbols); a.has {
			b.texts = append(b.texts, a.code.Bounds())
		}
	}
	over := b.overNames(frame)
	var marks []Item
	marks = append(marks, b.joinedGroups(areas)...)
	marks = append(marks, b.placeGroups(areas, symbols)...)
	ridge := b.ridgeTicks(areas, frame)
	names := b.townItems(towns, frame)
	names = append(names, b.neighborNames(frame, areas)...)
	names = append(names, b.waterNames(frame)...)

	b.layer("neighbors", b.neighborItems(frame))
	if outline != nil {
		b.layer("band", []Item{Path{Key: b.prefix + "o", Rings: outline, Stroke: Paint{Role: BoundaryBand}, Width: 190, Round: true}})
	}
	var fills []Item
	for _, a := range areas {
		fills = append(fills, Path{Key: a.key, Rings: a.fig.rings, Fill: a.fill})
	}
	b.layer("fills", fills)
	b.layer("ridge", ridge)
	b.lines(frame)
	b.items = append(b.items, marks...)
	b.layer("edge", b.edgeItems(frame))
	b.layer("over", b.overLines())
	b.layer("over-names", over)
	if outline != nil {
		b.layer("outline", []Item{Path{Key: b.prefix + "o", Rings: outline, Stroke: Paint{Role: Boundary}, Width: 55, Round: true}})
	}
	b.layer("names", names)
	b.layer("frame", []Item{framed(frame)})
}

func framed(frame Box) Path {
	return Path{Rings: []Ring{rect(frame.X0, frame.Y0, frame.width(), frame.height())}, Stroke: Paint{Role: Ink}, Width: 25}
}

// band lays the imprint's band across the map, above and below so that cutting off
// one edge leaves the other, and returns what of the frame is left.
func (b *builder) band(frame Box) Box {
	if b.m.Band == "" {
		return frame
	}
	size := b.text * 115 / 100
	h := size * 175 / 100
	var items []Item
	for _, y := range []Unit{frame.Y0, frame.Y1 - h} {
		items = append(items, Path{Rings: []Ring{rect(frame.X0, y, frame.width(), h)}, Fill: Paint{Role: BandFill}})
		n := max(1, frame.width()/(width(SansSemiBold, size, b.m.Band)+size*4))
		for i := range n {
			items = append(items, Text{X: frame.X0 + frame.width()*(2*i+1)/(2*n), Y: y + h/2 + size*capHeight/2000, Size: size,
				Face: SansSemiBold, Anchor: Middle, Paint: Paint{Role: BandText}, S: b.m.Band})
		}
	}
	b.layer("band-words", items)
	return Box{frame.X0, frame.Y0 + h, frame.X1, frame.Y1 - h}
}

// layer appends a group of items, unless there are none.
func (b *builder) layer(id string, items []Item) {
	if len(items) > 0 {
		b.items = append(b.items, Group{Kind: LayerGroup, ID: b.prefix + id, Items: items})
	}
}

func (b *builder) placeGroups(areas []placed, symbols []Box) []Item {
	out := make([]Item, 0, len(areas))
	for _, i := range b.focusOrder(areas) {
		a := areas[i]
		items := []Item{Path{Key: a.key, Rings: a.fig.rings, Stroke: Paint{Role: Hairline}, Width: 18}}
		avoid := make([]Box, 0, 1+len(symbols))
		avoid = append(avoid, within(b.named, a.fig.box)...)
		if a.has {
			avoid = append(avoid, a.code.Bounds().grow(25))
		}
		if a.Mark.small() {
			avoid = append(avoid, symbols...)
			avoid = append(avoid, within(b.river, a.fig.box)...)
		}
		items = append(items, b.markItems(a.fig, a.Mark, a.Value, avoid)...)
		if a.First {
			items = append(items, b.heavy(a.Shape)...)
		}
		if a.has {
			items = append(items, a.code)
		}
		out = append(out, Group{
			Kind: PlaceGroup, ID: b.prefix + "p" + strconv.Itoa(a.ID), Place: a.ID, Mark: a.Mark,
			Title: a.Title, Href: a.Href, Items: items,
		})
	}
	return out
}

// focusOrder is the order in which the focus goes from place to place. Townships of
// several counties keep theirs: county by county.
func (b *builder) focusOrder(areas []placed) []int {
	boxes := make([]Box, len(areas))
	for i, a := range areas {
		boxes[i] = a.fig.box
	}
	if len(b.m.over) == 0 {
		return ReadingOrder(boxes)
	}
	out := make([]int, len(areas))
	for i := range out {
		out[i] = i
	}
	return out
}

func (b *builder) joinedGroups(areas []placed) []Item {
	var out []Item
	taken := map[int]bool{}
	for i, j := range b.m.joined {
		var own []*figure
		var codes []Box
		var cells []*figure
		codes = append(codes, b.named...)
		for _, a := range areas {
			if a.has {
				codes = append(codes, a.code.Bounds().grow(25))
			}
			if a.Mark.Standing != NoFigures || taken[a.ID] {
				own = append(own, a.fig)
			} else if slices.Contains(j.Members, a.ID) {
				cells = append(cells, a.fig)
			}
		}
		for _, id := range j.Members {
			taken[id] = true
		}
		var parts []*figure
		var dots []Ring
		for _, poly := range j.Shape {
			rings := b.proj.polygon(poly)
			parts = append(parts, newFigure(rings))
			dots = append(dots, insetAll(rings, 42)...)
		}
		items := b.joinedItems(parts, j.Mark, j.Value, cells, own, codes)
		items = append(items, dotted(dots)...)
		out = append(out, Group{
			Kind: JoinedGroup, ID: b.prefix + "j" + strconv.Itoa(i), Mark: j.Mark, Title: j.Title, Href: j.Href, Items: items,
		})
	}
	return out
}

// heavy outlines a place from within.
func (b *builder) heavy(s Shape) []Item {
	var rings []Ring
	for _, poly := range s {
		rings = append(rings, insetAll(b.proj.polygon(poly), 50)...)
	}
	return heavyLine(rings)
}

// heavyLine lies on a paper-colored one, so that it shows on light and dark fills.
func heavyLine(rings []Ring) []Item {
	return []Item{
		Path{Rings: rings, Stroke: Paint{Role: Halo}, Width: 88},
		Path{Rings: rings, Stroke: Paint{Role: Emphasis}, Width: 56},
	}
}

// insetAll moves the rings of one polygon into it, outer ring first.
func insetAll(rings []Ring, d Unit) []Ring {
	var out []Ring
	for i, r := range rings {
		if (area2(r) > 0) != (i == 0) {
			r = slices.Clone(r)
			slices.Reverse(r)
		}
		if in := inset(r, d); in != nil {
			out = append(out, in)
		}
	}
	return out
}

// dotted is the outline of joined places: round dots on a paper-colored line, so
// that they show on light and dark fills.
func dotted(rings []Ring) []Item {
	return []Item{
		Path{Rings: rings, Stroke: Paint{Role: Halo}, Width: 62, Round: true},
		Path{Rings: rings, Stroke: Paint{Role: JoinedEdge}, Width: 40, Dash: []Unit{0, 85}, Round: true},
	}
}
