package press

import (
	"bytes"
	"fmt"
	"strconv"

	"sixmile/internal/atlas"
)

// pointsPerMM converts to the unit of type sizes.
const pointsPerMM = 72 / 25.4

// text sets a text. The paper left free around one that lies on the map is drawn
// from the letters' outlines, so that readers find the text once.
func (p *pdfPainter) text(t atlas.Text) {
	c, ok := rgb(p.theme.Color(t.Paint))
	if !ok {
		return
	}
	if t.Halo {
		p.halo(t)
	}
	p.leave()
	t.S = p.letters.clean(t.Face, t.S)
	x, y := t.X.MM(), t.Y.MM()
	w := p.letters.width(t)
	left := x
	switch t.Anchor {
	case atlas.Middle:
		left -= w / 2
	case atlas.End:
		left -= w
	}
	p.font(t)
	p.d.SetTextColor(int(c.R), int(c.G), int(c.B))
	if t.Spacing != 0 {
		p.d.RawWriteStr(strconv.FormatFloat(t.Spacing.MM()*pointsPerMM, 'f', 4, 64) + " Tc")
	}
	if t.Turn != 0 {
		p.d.TransformBegin()
		p.d.TransformRotate(-float64(t.Turn), x, y)
	}
	p.d.Text(left, y, t.S)
	if t.Turn != 0 {
		p.d.TransformEnd()
	}
	if t.Spacing != 0 {
		p.d.RawWriteStr("0 Tc")
	}
}

// font selects a face at a size; a face is embedded when first used.
func (p *pdfPainter) font(t atlas.Text) {
	name := "f" + strconv.Itoa(int(t.Face))
	if !p.loaded[t.Face] {
		p.loaded[t.Face] = true
		// The library cuts the font down in place.
		p.d.AddUTF8FontFromBytes(name, "", bytes.Clone(ttf(t.Face)))
	}
	p.d.SetFont(name, "", t.Size.MM()*pointsPerMM)
}

func (p *pdfPainter) halo(t atlas.Text) {
	c := p.theme.Color(atlas.Paint{Role: atlas.Halo})
	if c == "" {
		return
	}
	p.enter()
	p.stroking(atlas.Paint{Role: atlas.Halo}, c, t.Size*haloPercent/100, nil, true)
	p.letters.set(t, func(o contour) {
		for i, at := range o.corners() {
			op := "l"
			if i == 0 {
				op = "m"
			}
			fmt.Fprintf(&p.buf, "%.1f %.1f %s\n", at.x, at.y, op)
		}
		p.ops("h")
	})
	p.ops("S")
}

// width is how wide a text is set, in millimeters.
func (l *letters) width(t atlas.Text) float64 {
	w := 0.0
	for _, r := range l.clean(t.Face, t.S) {
		w += l.letter(t.Face, r).advance*float64(t.Size) + float64(t.Spacing)
	}
	return w / 100
}
