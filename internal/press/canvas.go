package press

import (
	"strings"
	"sync"

	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"

	"sixmile/internal/atlas"
	"sixmile/static/fonts"
)

// canvas is what a scene is painted on when a painter draws it item by item.
type canvas interface {
	path(atlas.Path)
	segments(atlas.Segments)
	text(atlas.Text)
}

// paint draws items in order, groups and all.
func paint(c canvas, items []atlas.Item) {
	for _, it := range items {
		switch it := it.(type) {
		case atlas.Path:
			c.path(it)
		case atlas.Segments:
			if len(it.Lines) > 0 {
				c.segments(it)
			}
		case atlas.Text:
			if it.S != "" {
				c.text(it)
			}
		case atlas.Group:
			paint(c, it.Items)
		}
	}
}

// faceCount is the number of faces.
const faceCount = int(atlas.SerifSemiBold) + 1

// ttf returns the bytes of a face.
func ttf(f atlas.Face) []byte {
	switch f {
	case atlas.SansRegular:
		return fonts.SansRegular()
	case atlas.SansSemiBold:
		return fonts.SansSemiBold()
	case atlas.CondensedRegular:
		return fonts.CondensedRegular()
	case atlas.CondensedSemiBold:
		return fonts.CondensedSemiBold()
	default:
		return fonts.SerifSemiBold()
	}
}

// parsedFaces are the faces, read once. A parsed font never changes; what reads
// from it keeps a buffer of its own, so painters may run side by side.
var parsedFaces = sync.OnceValues(func() (out [faceCount]*opentype.Font, err error) {
	for i := range out {
		if out[i], err = opentype.Parse(ttf(atlas.Face(i))); err != nil {
			return out, err
		}
	}
	return out, nil
})

// substitute stands for a character the faces have not.
const substitute = '?'

// letters looks up the outlines of letters and keeps those it has seen. Each
// painter has its own.
type letters struct {
	faces [faceCount]*opentype.Font
	buf   sfnt.Buffer
	seen  [faceCount]map[rune]letter
}

// letter is an outline in ems, y downward from the baseline.
type letter struct {
	advance  float64
	contours []contour
}

// contour is a closed line of straight and quadratic pieces.
type contour struct {
	x, y  float64
	parts []part
}

// part goes to x, y by way of the control point cx, cy when curved.
type part struct {
	curved       bool
	cx, cy, x, y float64
}

func newLetters() (*letters, error) {
	faces, err := parsedFaces()
	if err != nil {
		return nil, err
	}
	l := &letters{faces: faces}
	for i := range l.seen {
		l.seen[i] = map[rune]letter{}
	}
	return l, nil
}

// clean replaces what a face cannot show, so that every painter shows the same.
func (l *letters) clean(f atlas.Face, s string) string {
	return strings.Map(func(r rune) rune {
		if g, err := l.faces[f].GlyphIndex(&l.buf, r); err != nil || g == 0 {
			if r == '\n' || r == '\t' {
				return ' '
			}
			return substitute
		}
		return r
	}, s)
}

// letter returns the outline of a rune the face has.
func (l *letters) letter(f atlas.Face, r rune) letter {
	if got, ok := l.seen[f][r]; ok {
		return got
	}
	font := l.faces[f]
	em := font.UnitsPerEm()
	k := 1 / float64(em) / 64
	var out letter
	g, err := font.GlyphIndex(&l.buf, r)
	if err == nil {
		ppem := fixedInt(em)
		if w, err := font.GlyphAdvance(&l.buf, g, ppem, 0); err == nil {
			out.advance = float64(w) * k
		}
		if segs, err := font.LoadGlyph(&l.buf, g, ppem, nil); err == nil {
			out.contours = contours(segs, k)
		}
	}
	l.seen[f][r] = out
	return out
}

func contours(segs sfnt.Segments, k float64) []contour {
	var out []contour
	for _, s := range segs {
		x0, y0 := float64(s.Args[0].X)*k, float64(s.Args[0].Y)*k
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			out = append(out, contour{x: x0, y: y0})
			continue
		}
		if len(out) == 0 {
			continue
		}
		c := &out[len(out)-1]
		switch s.Op {
		case sfnt.SegmentOpLineTo:
			c.parts = append(c.parts, part{x: x0, y: y0})
		case sfnt.SegmentOpQuadTo:
			c.parts = append(c.parts, part{curved: true, cx: x0, cy: y0, x: float64(s.Args[1].X) * k, y: float64(s.Args[1].Y) * k})
		}
	}
	return out
}

// set places the letters of a text on the sheet: see is called with each contour,
// its points already in units of the scene.
func (l *letters) set(t atlas.Text, see func(contour)) {
	s := l.clean(t.Face, t.S)
	size := float64(t.Size)
	w := 0.0
	for _, r := range s {
		w += l.letter(t.Face, r).advance*size + float64(t.Spacing)
	}
	pen := 0.0
	switch t.Anchor {
	case atlas.Middle:
		pen = -w / 2
	case atlas.End:
		pen = -w
	}
	put := func(x, y float64) (float64, float64) {
		x, y = pen+x*size, y*size
		if t.Turn == -90 {
			x, y = y, -x
		}
		return float64(t.X) + x, float64(t.Y) + y
	}
	for _, r := range s {
		g := l.letter(t.Face, r)
		for _, c := range g.contours {
			var out contour
			out.x, out.y = put(c.x, c.y)
			out.parts = make([]part, len(c.parts))
			for i, p := range c.parts {
				q := part{curved: p.curved}
				q.x, q.y = put(p.x, p.y)
				if p.curved {
					q.cx, q.cy = put(p.cx, p.cy)
				}
				out.parts[i] = q
			}
			see(out)
		}
		pen += g.advance*size + float64(t.Spacing)
	}
}

// corners flattens a contour.
func (c contour) corners() []vec {
	out := []vec{{c.x, c.y}}
	at := vec{c.x, c.y}
	for _, p := range c.parts {
		if p.curved {
			const n = 5
			for i := 1; i < n; i++ {
				t := float64(i) / n
				u := 1 - t
				out = append(out, vec{u*u*at.x + 2*u*t*p.cx + t*t*p.x, u*u*at.y + 2*u*t*p.cy + t*t*p.y})
			}
		}
		at = vec{p.x, p.y}
		out = append(out, at)
	}
	return out
}
