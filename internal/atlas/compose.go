package atlas

import (
	"slices"
	"strconv"
)

// ComposeCounty lays out a county map on a paper.
func ComposeCounty(c County, p Paper) Scene {
	return compose(subject{
		Imprint: c.Imprint, areas: c.Areas, joined: c.Joined, outline: c.Outline,
		neighbors: c.Neighbors, water: c.Water, ridge: c.Ridge, towns: c.Towns,
	}, p)
}

// ComposeState lays out a state map on a paper: its counties carry their names
// where a county map carries codes.
func ComposeState(s State, p Paper) Scene {
	return compose(subject{
		Imprint: s.Imprint, areas: s.Counties, outline: s.Outline,
		neighbors: s.Neighbors, water: s.Water, ridge: s.Ridge, towns: s.Towns, names: true,
	}, p)
}

// subject is what both kinds of map have in common.
type subject struct {
	Imprint
	areas     []Area
	joined    []Joined
	outline   Shape
	neighbors []Area
	water     []Line
	ridge     Shape
	towns     []Town
	names     bool // labels are names of places rather than codes
}

// builder composes one scene.
type builder struct {
	sheet
	m    subject
	scan scanner
	proj projection

	codeFace Face
	codeSize Unit
	river    []Box // along rivers, which labels avoid when they can
	texts    []Box // covered by text and symbols
	furrows  []Box // covered by furrows of the map
	items    []Item
}

// projection takes ground coordinates to paper: one paper unit is den/100000 m.
type projection struct {
	west, north int64 // ground coordinates of the point at left, top
	den         int64 // scale 1:den
	left, top   Unit
}

func (p projection) point(g Point) XY {
	return XY{
		p.left + Unit(roundDiv((int64(g.X)-p.west)*100000, p.den)),
		p.top + Unit(roundDiv((p.north-int64(g.Y))*100000, p.den)),
	}
}

// rings takes a shape to paper, dropping what collapses.
func (p projection) rings(s Shape) []Ring {
	var out []Ring
	for _, poly := range s {
		out = append(out, p.polygon(poly)...)
	}
	return out
}

func (p projection) polygon(poly [][]Point) []Ring {
	out := make([]Ring, 0, len(poly))
	for _, ring := range poly {
		if r := tidy(p.line(ring)); r != nil {
			out = append(out, r)
		}
	}
	return out
}

func (p projection) line(points []Point) Ring {
	r := make(Ring, 0, len(points))
	for _, g := range points {
		r = append(r, p.point(g))
	}
	return r
}

// bounds returns the ground extent of the areas and the outline.
func (m subject) bounds() (lo, hi Point, ok bool) {
	see := func(s Shape) {
		for _, poly := range s {
			for _, ring := range poly {
				for _, p := range ring {
					if !ok {
						lo, hi, ok = p, p, true
					}
					lo = Point{min(lo.X, p.X), min(lo.Y, p.Y)}
					hi = Point{max(hi.X, p.X), max(hi.Y, p.Y)}
				}
			}
		}
	}
	see(m.outline)
	for _, a := range m.areas {
		see(a.Shape)
	}
	return lo, hi, ok
}

func compose(m subject, p Paper) Scene {
	b := &builder{sheet: p.sheet(), m: m, codeFace: CondensedRegular, proj: projection{den: 300000}}
	b.codeSize = b.code0
	if m.names {
		b.codeFace, b.codeSize = CondensedSemiBold, b.code0*125/100
	}
	height := b.layout()
	return Scene{Width: b.sheet.width, Height: height, Title: m.Title, Desc: m.Words.Desc, Items: b.items}
}

// fit chooses the largest scale at which the subject fits the box, centers it,
// and returns the height it needs.
func (b *builder) fit(box Box) {
	lo, hi, ok := b.m.bounds()
	if !ok {
		b.proj = projection{den: 100000, left: box.X0, top: box.Y0}
		return
	}
	w, h := int64(hi.X)-int64(lo.X), int64(hi.Y)-int64(lo.Y)
	den := max(ceilDiv(w*100000, int64(max(1, box.width()))), ceilDiv(h*100000, int64(max(1, box.height()))), 1)
	pw, ph := Unit(w*100000/den), Unit(h*100000/den)
	b.proj = projection{
		west: int64(lo.X), north: int64(hi.Y), den: den,
		left: box.X0 + (box.width()-pw)/2, top: box.Y0 + (box.height()-ph)/2,
	}
}

// natural returns how tall the subject is when drawn w wide.
func (b *builder) natural(w Unit) Unit {
	lo, hi, ok := b.m.bounds()
	if !ok || hi.X == lo.X {
		return w
	}
	return Unit((int64(hi.Y) - int64(lo.Y)) * int64(w) / (int64(hi.X) - int64(lo.X)))
}

func ceilDiv(n, d int64) int64 { return -floorDiv(-n, d) }

// placed is an area on paper.
type placed struct {
	Area
	key  string
	fig  *figure
	fill Paint
	code Text
	has  bool // code is set
}

// place takes the areas to paper and gives members of joined shapes the fill of
// the first of those that holds them.
func (b *builder) placeAreas() []placed {
	out := make([]placed, len(b.m.areas))
	for i, a := range b.m.areas {
		out[i] = placed{Area: a, key: "a" + strconv.Itoa(i), fig: newFigure(b.proj.rings(a.Shape)), fill: fillOf(a.Mark)}
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
	b.fit(frame.grow(-b.apron))
	areas := b.placeAreas()
	towns := b.townsIn(frame)
	symbols := make([]Box, len(towns))
	for i, t := range towns {
		symbols[i] = t.box
	}
	outline := b.proj.rings(b.m.outline)
	b.river = b.riverBoxes()

	for i := range areas {
		a := &areas[i]
		if a.code, a.has = b.code(a.fig, a.Area, a.fill, symbols); a.has {
			b.texts = append(b.texts, a.code.Bounds())
		}
	}
	var marks []Item
	marks = append(marks, b.joinedGroups(areas)...)
	marks = append(marks, b.placeGroups(areas, symbols)...)
	ridge := b.ridgeTicks(areas, frame)
	names := b.townItems(towns, frame)
	names = append(names, b.neighborNames(frame, areas)...)
	names = append(names, b.waterNames(frame)...)

	b.layer("neighbors", b.neighborItems(frame))
	if outline != nil {
		b.layer("band", []Item{Path{Key: "o", Rings: outline, Stroke: Paint{Role: BoundaryBand}, Width: 190, Round: true}})
	}
	var fills []Item
	for _, a := range areas {
		fills = append(fills, Path{Key: a.key, Rings: a.fig.rings, Fill: a.fill})
	}
	b.layer("fills", fills)
	b.layer("ridge", ridge)
	b.layer("water", b.waterItems(frame))
	b.items = append(b.items, marks...)
	if outline != nil {
		b.layer("outline", []Item{Path{Key: "o", Rings: outline, Stroke: Paint{Role: Boundary}, Width: 55, Round: true}})
	}
	b.layer("names", names)
	f := Ring{{frame.X0, frame.Y0}, {frame.X1, frame.Y0}, {frame.X1, frame.Y1}, {frame.X0, frame.Y1}}
	b.layer("frame", []Item{Path{Rings: []Ring{f}, Stroke: Paint{Role: Ink}, Width: 25}})
}

// layer appends a group of items, unless there are none.
func (b *builder) layer(id string, items []Item) {
	if len(items) > 0 {
		b.items = append(b.items, Group{Kind: LayerGroup, ID: id, Items: items})
	}
}

func (b *builder) placeGroups(areas []placed, symbols []Box) []Item {
	out := make([]Item, 0, len(areas))
	for _, a := range areas {
		items := []Item{Path{Key: a.key, Rings: a.fig.rings, Stroke: Paint{Role: Hairline}, Width: 18}}
		avoid := make([]Box, 0, 1+len(symbols))
		if a.has {
			avoid = append(avoid, a.code.Bounds().grow(25))
		}
		if a.Mark.Standing == NoneFound || a.Mark.Standing == Recalled {
			avoid = append(avoid, symbols...)
			avoid = append(avoid, within(b.river, a.fig.box)...)
		}
		items = append(items, b.markItems(a.fig, a.Mark, avoid)...)
		if a.has {
			items = append(items, a.code)
		}
		out = append(out, Group{
			Kind: PlaceGroup, ID: "p" + strconv.Itoa(a.ID), Place: a.ID, Mark: a.Mark,
			Title: a.Title, Href: a.Href, Items: items,
		})
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
		items := b.joinedItems(parts, j.Mark, cells, own, codes)
		items = append(items, dotted(dots)...)
		out = append(out, Group{
			Kind: JoinedGroup, ID: "j" + strconv.Itoa(i), Mark: j.Mark, Title: j.Title, Href: j.Href, Items: items,
		})
	}
	return out
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
