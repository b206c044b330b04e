package press

import (
	"fmt"
	"math"
	"slices"

	"sixmile/internal/atlas"
)

// What the drawing of a root shows, in millimeters of the real thing. Females are
// "about the size of a period at the end of a sentence" (Tylka, Integrated Crop
// Management News, Iowa State University, July 15, 2008), some half a millimeter,
// and about a tenth the size of a nodule (common practice, no source); the
// thickness of roots is ours.
const (
	FemaleMM  = 0.6
	NoduleMM  = 6
	rootMM    = 1.4
	branchMM  = 0.7
	enlarged  = 10 // the drawing is so many times life size
	femaleFat = 0.72
)

// RootWords are the sentences of the sheet for digging roots in July; all come
// from the catalog.
type RootWords struct {
	Title, Lead  string
	Nodule       string // beside the nodule
	Female       string // beside the female
	Millimeter   string // beside the scale bar, which is one millimeter long: "1 mm"
	Enlarged     string // under it: the drawing is ten times life size
	LifeSize     string // over the small drawing
	StepsHead    string // how to look
	Steps        []string
	CautionsHead string
	Cautions     []string
}

// RootSheet composes a letter sheet that shows a white female beside a nodule, to
// scale, and tells how to look for one. It fails with ErrNoRoom when the sentences
// are too long.
func RootSheet(words RootWords) (atlas.Scene, error) {
	s := blank(words.Title, letterWidth, letterHeight)
	head := column{x: sheetMargin, y: sheetMargin, w: letterWidth - 2*sheetMargin, size: 400}
	head.title(words.Title, 900)
	head.para(words.Lead)
	s.Items = append(s.Items, head.items...)
	top := head.y + 300
	s.Items = append(s.Items, rootDrawing(top, words)...)
	below := top + drawingHeight + 500
	items, err := fit(letterHeight-sheetMargin, func(percent atlas.Unit) ([]atlas.Item, atlas.Unit) {
		const gutter = 1000
		left := column{x: sheetMargin, y: below, w: (head.w - gutter) * 58 / 100, size: 470 * percent / 100}
		left.heading(words.StepsHead)
		left.list(words.Steps, true)
		right := column{x: left.x + left.w + gutter, y: below, w: head.w - gutter - left.w, size: left.size}
		right.heading(words.CautionsHead)
		right.size = left.size * 84 / 100
		right.list(words.Cautions, false)
		return append(left.items, right.items...), max(left.y, right.y)
	})
	if err != nil {
		return s, fmt.Errorf("press.RootSheet: %w", err)
	}
	s.Items = append(s.Items, items...)
	return s, nil
}

const drawingHeight = 11800

// rootDrawing draws the enlarged root, its labels, the scale bar and the small
// drawing in life size.
func rootDrawing(top atlas.Unit, words RootWords) []atlas.Item {
	const x0, right = sheetMargin, letterWidth - sheetMargin
	frame := atlas.Path{Rings: []atlas.Ring{box(x0, top, right-x0, drawingHeight)}, Stroke: atlas.Paint{Role: atlas.Hairline}, Width: 18}
	items := []atlas.Item{frame}
	items = append(items, root(float64(x0), float64(top), 100*enlarged)...)
	items = append(items, callout(atlas.XY{X: x0 + 12150, Y: top + 8700}, atlas.XY{X: x0 + 13200, Y: top + 8700}, 5100, words.Nodule)...)
	items = append(items, callout(atlas.XY{X: x0 + 11010, Y: top + 4180}, atlas.XY{X: x0 + 11010, Y: top + 2900}, 0, "")...)
	items = append(items, label(atlas.XY{X: x0 + 7600, Y: top + 900}, 5400, words.Female, top+2750)...)

	// The small drawing lies in a box of its own.
	const boxW, boxH = 4000, 3000
	bx, by := atlas.Unit(right-boxW-300), top+300
	items = append(items,
		atlas.Path{Rings: []atlas.Ring{box(bx, by, boxW, boxH)}, Fill: atlas.Paint{Role: atlas.PaperRole}, Stroke: atlas.Paint{Role: atlas.Hairline}, Width: 18},
		atlas.Text{X: bx + 200, Y: by + 520, Size: 330, Face: atlas.SansSemiBold, Paint: atlas.Paint{Role: atlas.Ink}, S: words.LifeSize})
	items = append(items, root(float64(bx+900), float64(by+1150), 100)...)

	// The scale bar.
	sx, sy := atlas.Unit(x0+500), top+drawingHeight-1150
	items = append(items,
		atlas.Path{Rings: []atlas.Ring{box(sx, sy, 100*enlarged, 90)}, Fill: atlas.Paint{Role: atlas.Ink}},
		atlas.Text{X: sx + 100*enlarged + 200, Y: sy + 160, Size: 330, Face: atlas.SansSemiBold, Paint: atlas.Paint{Role: atlas.Ink}, S: words.Millimeter},
		atlas.Text{X: sx, Y: sy + 640, Size: 310, Face: atlas.SansRegular, Paint: atlas.Paint{Role: atlas.Muted}, S: words.Enlarged})
	return items
}

// root draws a root with a branch, a nodule and females. Its points are
// millimeters from the corner; k is units to the millimeter.
func root(x, y, k float64) []atlas.Item {
	at := func(p vec) atlas.XY {
		return atlas.XY{X: atlas.Unit(math.Round(x + p.x*k)), Y: atlas.Unit(math.Round(y + p.y*k))}
	}
	body := func(fill atlas.Role, outline []vec) atlas.Item {
		var ring atlas.Ring
		for _, p := range outline {
			ring = append(ring, at(p))
		}
		return atlas.Path{Rings: []atlas.Ring{ring}, Fill: atlas.Paint{Role: fill}, Stroke: atlas.Paint{Role: atlas.Ink},
			Width: atlas.Unit(k*0.025) + 6, Round: true}
	}
	var items []atlas.Item
	for _, hair := range [][]vec{{{6.9, 5.3}, {6.6, 6.3}}, {{4.4, 4.7}, {4.7, 3.7}}, {{16.3, 5.8}, {16.9, 6.9}}, {{2.8, 6.6}, {4.6, 7.1}, {5.4, 6.7}}} {
		items = append(items, body(atlas.Bark, taper(hair, 0.12, 0.04)))
	}
	items = append(items,
		body(atlas.Bark, taper([]vec{{2.7, 4.3}, {5.5, 5.2}, {9, 4.9}, {12.5, 5.0}, {15.5, 5.7}, {18.2, 5.3}}, branchMM, 0.2)),
		body(atlas.Bark, taper([]vec{{3.25, 8.3}, {4.4, 9.3}, {6.1, 9.7}}, 0.4, 0.08)),
		body(atlas.Bark, taper([]vec{{2.1, 0.16}, {2.7, 3.4}, {2.6, 6.4}, {3.5, 8.8}, {3.7, 10.2}}, rootMM*1.2, 0.3)),
		body(atlas.Flesh, disk(vec{9.2, 5.2 + NoduleMM/2}, NoduleMM/2)))
	for _, f := range []struct{ x, y, turn float64 }{{10.98, 4.46, -88}, {12.0, 4.52, -100}, {13.9, 4.88, -75}, {14.6, 5.78, 80}, {6.3, 4.66, -96}} {
		items = append(items, body(atlas.Chalk, lemon(vec{f.x, f.y}, f.turn)))
	}
	return items
}

// taper is the outline of a root along points, w0 thick where it begins and w1 at
// its rounded end.
func taper(points []vec, w0, w1 float64) []vec {
	line := smooth(points)
	var left, right []vec
	for i, p := range line {
		d := line[min(i+1, len(line)-1)].minus(line[max(i-1, 0)])
		half := (w0 + (w1-w0)*float64(i)/float64(len(line)-1)) / 2
		n := d.left().times(half / d.length())
		left, right = append(left, p.plus(n)), append(right, p.minus(n))
	}
	end, back := line[len(line)-1], line[len(line)-2]
	tip := end.plus(end.minus(back).times(w1 / 2 / end.minus(back).length()))
	slices.Reverse(right)
	return append(append(left, tip), right...)
}

func disk(c vec, r float64) []vec {
	out := make([]vec, 72)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 72)
		out[i] = vec{c.x + r*cos, c.y + r*sin}
	}
	return out
}

// lemon is a female: a pointed oval FemaleMM long, about its middle, turned by
// degrees.
func lemon(c vec, degrees float64) []vec {
	const tip = 1.16
	a := FemaleMM / 2 / tip
	b := a * femaleFat * tip
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	put := func(x, y float64) vec { return vec{c.x + x*cos - y*sin, c.y + x*sin + y*cos} }
	out := []vec{put(-a*tip, 0)}
	const n = 14
	for i := 1; i < n; i++ {
		u := -math.Cos(math.Pi * float64(i) / n)
		out = append(out, put(a*u, -b*math.Sqrt(1-u*u)))
	}
	out = append(out, put(a*tip, 0))
	for i := n - 1; i > 0; i-- {
		u := -math.Cos(math.Pi * float64(i) / n)
		out = append(out, put(a*u, b*math.Sqrt(1-u*u)))
	}
	return out
}

// smooth puts points between the given ones, on a Catmull-Rom curve.
func smooth(p []vec) []vec {
	var out []vec
	for i := 0; i+1 < len(p); i++ {
		p0, p1, p2, p3 := p[max(i-1, 0)], p[i], p[i+1], p[min(i+2, len(p)-1)]
		for s := range 8 {
			t := float64(s) / 8
			f := func(a, b, c, d float64) float64 {
				return 0.5 * (2*b + (c-a)*t + (2*a-5*b+4*c-d)*t*t + (3*b-a-3*c+d)*t*t*t)
			}
			out = append(out, vec{f(p0.x, p1.x, p2.x, p3.x), f(p0.y, p1.y, p2.y, p3.y)})
		}
	}
	return append(out, p[len(p)-1])
}

// callout draws a thin line from a thing to its words.
func callout(from, to atlas.XY, w atlas.Unit, s string) []atlas.Item {
	items := []atlas.Item{atlas.Segments{Lines: []atlas.Segment{{A: from, B: to}}, Stroke: atlas.Paint{Role: atlas.Ink}, Width: 22}}
	if s == "" {
		return items
	}
	c := column{x: to.X + 200, y: to.Y - 380, w: w, size: 380}
	c.block(atlas.SansSemiBold, c.size, atlas.Ink, 130, s)
	return append(items, c.items...)
}

// label sets words so that they end above a height.
func label(at atlas.XY, w atlas.Unit, s string, above atlas.Unit) []atlas.Item {
	c := column{x: at.X, y: at.Y, w: w, size: 380}
	lines := atlas.Wrap(atlas.SansSemiBold, c.size, s, w)
	c.y = max(at.Y, above-c.size*130/100*atlas.Unit(len(lines))) - c.size*30/100
	c.block(atlas.SansSemiBold, c.size, atlas.Ink, 130, s)
	return c.items
}
