package press

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"sixmile/internal/atlas"
)

func (p *svgPainter) rings(d atlas.Path) {
	p.WriteString(` d="`)
	for _, r := range d.Rings {
		for i, at := range r {
			if i == 0 {
				p.WriteByte('M')
				p.pair(at.X, at.Y)
				continue
			}
			p.step(at.X-r[i-1].X, at.Y-r[i-1].Y, i == 1)
		}
		if !d.Open {
			p.WriteByte('z')
		}
	}
	p.WriteByte('"')
}

// step writes a relative line; the letter is needed only for the first.
func (p *svgPainter) step(dx, dy atlas.Unit, first bool) {
	if first {
		p.WriteByte('l')
	} else if dx >= 0 {
		p.WriteByte(' ')
	}
	p.pair(dx, dy)
}

func (p *svgPainter) pair(x, y atlas.Unit) {
	p.num(x)
	if y >= 0 {
		p.WriteByte(' ')
	}
	p.num(y)
}

// safeHref reports whether a link leads within the site or to a web page; others,
// such as script addresses, are left out.
func safeHref(h string) bool {
	for _, start := range []string{"/", "#", "?", "https://", "http://"} {
		if strings.HasPrefix(h, start) {
			return true
		}
	}
	return false
}

func (p *svgPainter) element(name, id, text string) {
	p.WriteByte('<')
	p.WriteString(name)
	if id != "" {
		p.attr("id", id)
	}
	p.WriteByte('>')
	p.escape(text)
	p.WriteString("</")
	p.WriteString(name)
	p.WriteByte('>')
}

func (p *svgPainter) attr(name, value string) {
	p.WriteByte(' ')
	p.WriteString(name)
	p.WriteString(`="`)
	p.escape(value)
	p.WriteByte('"')
}

func (p *svgPainter) num(u atlas.Unit) {
	p.Write(strconv.AppendInt(p.AvailableBuffer(), int64(u), 10))
}

// escape writes text so that it stays text, in elements and in attributes.
// Characters XML does not allow are replaced.
func (p *svgPainter) escape(s string) {
	for _, r := range s {
		switch {
		case r == '&':
			p.WriteString("&amp;")
		case r == '<':
			p.WriteString("&lt;")
		case r == '>':
			p.WriteString("&gt;")
		case r == '"':
			p.WriteString("&#34;")
		case r == '\t' || r == '\n' || r == '\r':
			p.WriteByte(' ')
		case r < ' ' || r == 0xFFFE || r == 0xFFFF:
			p.WriteRune(utf8.RuneError)
		default:
			p.WriteRune(r)
		}
	}
}

// mm writes a length in millimeters without trailing zeros.
func mm(u atlas.Unit) string { return strconv.FormatFloat(u.MM(), 'f', -1, 64) }
