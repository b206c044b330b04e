package press

import (
	"bytes"
	"io"
	"strconv"
	"strings"

	"sixmile/internal/atlas"
	"sixmile/static/fonts"
)

// Options says how a scene is painted.
type Options struct {
	Theme    Theme
	Lang     string // language of the texts, such as "en"
	IDPrefix string // put before every id, for pages with several maps
}

// SVG writes the scene as one svg element, for standing alone or inside HTML. It
// uses neither style elements nor style attributes. User units are hundredths of
// a millimeter, so all numbers are whole.
//
// Each place is a group with data-place (its ID) and data-mark (Mark.String),
// each joined shape one with data-joined; furrows are paths with data-furrows,
// their number. A group with a link is wrapped in an a element. The root has the
// role img, or group when there are links, because an img hides its children
// from assistive technology.
func SVG(w io.Writer, s atlas.Scene, o Options) error {
	p := svgPainter{o: o, seen: map[string]bool{}}
	p.root(s)
	_, err := w.Write(p.Bytes())
	return err
}

type svgPainter struct {
	bytes.Buffer
	o    Options
	seen map[string]bool // outlines already written
}

func (p *svgPainter) root(s atlas.Scene) {
	p.Grow(64 << 10)
	p.WriteString(`<svg xmlns="http://www.w3.org/2000/svg"`)
	p.attr("width", mm(s.Width)+"mm")
	p.attr("height", mm(s.Height)+"mm")
	p.WriteString(` viewBox="0 0 `)
	p.num(s.Width)
	p.WriteByte(' ')
	p.num(s.Height)
	p.WriteByte('"')
	if p.o.Lang != "" {
		p.attr("lang", p.o.Lang)
	}
	role := "img"
	if linked(s.Items) {
		role = "group"
	}
	p.attr("role", role)
	label := p.o.IDPrefix + "map-name"
	if s.Desc != "" {
		label += " " + p.o.IDPrefix + "map-desc"
	}
	p.attr("aria-labelledby", label)
	p.attr("fill", "none")
	p.attr("font-family", family(atlas.CondensedRegular))
	p.WriteByte('>')
	p.element("title", p.o.IDPrefix+"map-name", s.Title)
	if s.Desc != "" {
		p.element("desc", p.o.IDPrefix+"map-desc", s.Desc)
	}
	if p.o.Theme == Dark {
		// Light lines need their ground also where the scene has no sheet of its own.
		p.WriteString("<rect")
		p.attr("width", strconv.Itoa(int(s.Width)))
		p.attr("height", strconv.Itoa(int(s.Height)))
		p.attr("fill", p.o.Theme.Color(atlas.Paint{Role: atlas.PaperRole}))
		p.WriteString("/>")
	}
	p.items(s.Items)
	p.WriteString("</svg>\n")
}

func linked(items []atlas.Item) bool {
	for _, it := range items {
		if g, ok := it.(atlas.Group); ok && (safeHref(g.Href) || linked(g.Items)) {
			return true
		}
	}
	return false
}

func (p *svgPainter) items(items []atlas.Item) {
	for _, it := range items {
		switch it := it.(type) {
		case atlas.Path:
			p.path(it)
		case atlas.Segments:
			p.segments(it)
		case atlas.Text:
			p.text(it)
		case atlas.Group:
			p.group(it)
		}
	}
}

func (p *svgPainter) group(g atlas.Group) {
	link := safeHref(g.Href)
	if link {
		p.WriteString("<a")
		p.attr("href", g.Href)
		p.WriteByte('>')
	}
	p.WriteString("<g")
	p.attr("id", p.o.IDPrefix+g.ID)
	switch g.Kind {
	case atlas.PlaceGroup:
		p.attr("data-place", strconv.Itoa(g.Place))
		p.attr("data-mark", g.Mark.String())
		if link {
			// Without it a click between the furrows would miss the link.
			p.attr("pointer-events", "all")
		}
	case atlas.JoinedGroup:
		p.attr("data-joined", g.ID)
		p.attr("data-mark", g.Mark.String())
		if !link {
			p.attr("pointer-events", "none")
		}
	case atlas.LegendGroup:
		p.attr("data-legend", g.Mark.String())
	case atlas.LayerGroup:
		if g.ID == "names" || strings.HasSuffix(g.ID, "outline") {
			p.attr("pointer-events", "none")
		}
	}
	p.WriteByte('>')
	if g.Title != "" {
		p.element("title", "", g.Title)
	}
	p.items(g.Items)
	p.WriteString("</g>")
	if link {
		p.WriteString("</a>")
	}
}

// path writes an outline; one that was written before is used again.
func (p *svgPainter) path(d atlas.Path) {
	switch {
	case d.Key != "" && p.seen[d.Key]:
		p.WriteString("<use")
		p.attr("href", "#"+p.o.IDPrefix+d.Key)
		p.pen(d)
		p.WriteString("/>")
		return
	case d.Key != "":
		// The colors sit on a group around it, or they would win over those of
		// its later uses.
		p.seen[d.Key] = true
		p.WriteString("<g")
		p.pen(d)
		p.WriteString("><path")
		p.attr("id", p.o.IDPrefix+d.Key)
		p.rings(d)
		p.WriteString("/></g>")
		return
	}
	p.WriteString("<path")
	p.pen(d)
	p.rings(d)
	p.WriteString("/>")
}

func (p *svgPainter) pen(d atlas.Path) {
	if c := p.o.Theme.Color(d.Fill); c != "" {
		p.attr("fill", c)
		if len(d.Rings) > 1 {
			p.attr("fill-rule", "evenodd")
		}
	}
	p.stroke(d.Stroke, d.Width, d.Dash, d.Round)
}

func (p *svgPainter) stroke(paint atlas.Paint, width atlas.Unit, dash []atlas.Unit, round bool) {
	c := p.o.Theme.Color(paint)
	if c == "" {
		return
	}
	p.attr("stroke", c)
	p.attr("stroke-width", strconv.Itoa(int(p.o.Theme.Width(paint, width))))
	if round {
		p.attr("stroke-linecap", "round")
		p.attr("stroke-linejoin", "round")
	}
	if len(dash) > 0 {
		p.WriteString(` stroke-dasharray="`)
		for i, d := range dash {
			if i > 0 {
				p.WriteByte(' ')
			}
			p.num(d)
		}
		p.WriteByte('"')
	}
}

func (p *svgPainter) segments(s atlas.Segments) {
	if len(s.Lines) == 0 || p.o.Theme.Color(s.Stroke) == "" {
		return
	}
	p.WriteString("<path")
	if s.Kind == atlas.Furrows {
		p.attr("data-furrows", strconv.Itoa(levels(s.Lines)))
	}
	p.stroke(s.Stroke, s.Width, s.Dash, s.Round)
	p.WriteString(` d="`)
	for _, l := range s.Lines {
		p.WriteByte('M')
		p.pair(l.A.X, l.A.Y)
		if l.A.Y == l.B.Y {
			p.WriteByte('h')
			p.num(l.B.X - l.A.X)
		} else {
			p.WriteByte('l')
			p.pair(l.B.X-l.A.X, l.B.Y-l.A.Y)
		}
	}
	p.WriteString(`"/>`)
}

// levels counts the heights at which there are lines: a furrow across joined
// places may be broken in parts and is still one.
func levels(lines []atlas.Segment) int {
	seen := map[atlas.Unit]bool{}
	for _, l := range lines {
		seen[l.A.Y] = true
	}
	return len(seen)
}

func (p *svgPainter) text(t atlas.Text) {
	c := p.o.Theme.Color(t.Paint)
	if c == "" || t.S == "" {
		return
	}
	p.WriteString("<text")
	p.attr("x", strconv.Itoa(int(t.X)))
	p.attr("y", strconv.Itoa(int(t.Y)))
	p.attr("font-size", strconv.Itoa(int(t.Size)))
	if t.Face != atlas.CondensedRegular && t.Face != atlas.CondensedSemiBold {
		p.attr("font-family", family(t.Face))
	}
	if t.Face == atlas.SansSemiBold || t.Face == atlas.CondensedSemiBold || t.Face == atlas.SerifSemiBold {
		p.attr("font-weight", "600")
	}
	switch t.Anchor {
	case atlas.Middle:
		p.attr("text-anchor", "middle")
	case atlas.End:
		p.attr("text-anchor", "end")
	}
	if t.Spacing != 0 {
		p.attr("letter-spacing", strconv.Itoa(int(t.Spacing)))
	}
	if t.Turn != 0 {
		p.attr("transform", "rotate("+strconv.Itoa(t.Turn)+" "+strconv.Itoa(int(t.X))+" "+strconv.Itoa(int(t.Y))+")")
	}
	p.attr("fill", c)
	if t.Halo {
		p.attr("stroke", p.o.Theme.Color(atlas.Paint{Role: atlas.Halo}))
		p.attr("stroke-width", strconv.Itoa(int(t.Size*haloPercent/100)))
		p.attr("stroke-linejoin", "round")
		p.attr("paint-order", "stroke")
	}
	p.WriteByte('>')
	p.escape(t.S)
	p.WriteString("</text>")
}

// family lists a typeface with what may stand in for it.
func family(f atlas.Face) string {
	switch f {
	case atlas.SansRegular, atlas.SansSemiBold:
		return fonts.Sans + ",sans-serif"
	case atlas.SerifSemiBold:
		return fonts.Serif + ",serif"
	default:
		return fonts.Condensed + ",Arial Narrow,sans-serif"
	}
}
