package press

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"sixmile/internal/atlas"
)

// PDFOptions says how scenes become a document. No author is named.
type PDFOptions struct {
	Theme Theme
	Title string
	Lang  string // language of the texts, such as "en"
	// Date stands in the document as the time of making and of change, such as the
	// edition's day: the same scenes give the same bytes.
	Date time.Time
}

// PDF writes the scenes as one vector document, a page each, as large as the
// scene. Fonts are embedded and text stays text. Shapes keep the scene's own whole
// numbers: a page is scaled once.
func PDF(w io.Writer, scenes []atlas.Scene, o PDFOptions) error {
	if len(scenes) == 0 {
		return errors.New("press.PDF: no pages")
	}
	l, err := newLetters()
	if err != nil {
		return fmt.Errorf("press.PDF: %w", err)
	}
	d := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: pageSize(scenes[0])})
	d.SetCatalogSort(true)
	d.SetCreationDate(o.Date)
	d.SetModificationDate(o.Date)
	d.SetProducer("Sixmile", true)
	d.SetTitle(l.clean(atlas.SansRegular, o.Title), true)
	d.SetLang(o.Lang)
	d.SetAutoPageBreak(false, 0)
	d.SetMargins(0, 0, 0)
	d.SetDisplayMode("fullpage", "single")
	p := &pdfPainter{d: d, theme: o.Theme, letters: l}
	for _, s := range scenes {
		p.page(s)
	}
	if err := d.Output(w); err != nil {
		return fmt.Errorf("press.PDF: %w", err)
	}
	return nil
}

// pageSize is the scene's size; the PDF standard allows up to 200 inches a side
// (ISO 32000-1, annex C, for a unit of 1/72 inch).
func pageSize(s atlas.Scene) fpdf.SizeType {
	const limit = 5080
	return fpdf.SizeType{Wd: min(max(s.Width.MM(), 1), limit), Ht: min(max(s.Height.MM(), 1), limit)}
}

// pdfPainter is a canvas that writes the operators of PDF (ISO 32000-1, 8.4 and
// 8.5) itself, and leaves fonts and the file to the library.
type pdfPainter struct {
	d       *fpdf.Fpdf
	theme   Theme
	letters *letters
	height  float64 // of the page in mm
	loaded  [faceCount]bool
	open    bool // within the scaled graphics state
	pen     pdfPen
	buf     bytes.Buffer
}

// pdfPen is the graphics state that was last written.
type pdfPen struct {
	fill, stroke string
	width        atlas.Unit
	round        int // 1 round, 2 not, 0 unknown
	dash         string
}

func (p *pdfPainter) page(s atlas.Scene) {
	size := pageSize(s)
	p.height = size.Ht
	p.d.AddPageFormat("P", size)
	p.path(atlas.Path{Rings: []atlas.Ring{{{}, {X: s.Width}, {X: s.Width, Y: s.Height}, {Y: s.Height}}}, Fill: atlas.Paint{Role: atlas.PaperRole}})
	paint(p, s.Items)
	p.leave()
}

// pointsPerUnit: a point is 1/72 inch, a unit 1/2540 inch.
const pointsPerUnit = 72.0 / 2540

// enter begins the state in which coordinates are the scene's.
func (p *pdfPainter) enter() {
	if p.open {
		return
	}
	p.open = true
	p.pen = pdfPen{}
	fmt.Fprintf(&p.buf, "q %.8f 0 0 %.8f 0 %.4f cm\n", pointsPerUnit, -pointsPerUnit, p.height*72/25.4)
}

func (p *pdfPainter) leave() {
	if !p.open {
		return
	}
	p.open = false
	p.buf.WriteString("Q")
	p.d.RawWriteBuf(&p.buf)
	p.buf.Reset()
}

// ops writes numbers and an operator.
func (p *pdfPainter) ops(op string, numbers ...atlas.Unit) {
	for _, n := range numbers {
		p.buf.Write(strconv.AppendInt(p.buf.AvailableBuffer(), int64(n), 10))
		p.buf.WriteByte(' ')
	}
	p.buf.WriteString(op)
	p.buf.WriteByte('\n')
}

func (p *pdfPainter) path(d atlas.Path) {
	fill, stroke := p.theme.Color(d.Fill), p.theme.Color(d.Stroke)
	if d.Open {
		fill = ""
	}
	if d.Width <= 0 {
		stroke = ""
	}
	if fill == "" && stroke == "" {
		return
	}
	p.enter()
	p.filling(fill)
	p.stroking(d.Stroke, stroke, d.Width, d.Dash, d.Round)
	drawn := false
	for _, r := range d.Rings {
		for i, at := range r {
			if i == 0 {
				p.ops("m", at.X, at.Y)
			} else {
				p.ops("l", at.X, at.Y)
			}
		}
		if !d.Open && len(r) > 0 {
			p.ops("h")
		}
		drawn = drawn || len(r) > 0
	}
	switch {
	case !drawn:
	case fill != "" && stroke != "":
		p.ops("B*")
	case fill != "":
		p.ops("f*")
	default:
		p.ops("S")
	}
}

func (p *pdfPainter) segments(s atlas.Segments) {
	c := p.theme.Color(s.Stroke)
	if c == "" || s.Width <= 0 {
		return
	}
	p.enter()
	p.stroking(s.Stroke, c, s.Width, s.Dash, s.Round)
	for _, l := range s.Lines {
		p.ops("m", l.A.X, l.A.Y)
		p.ops("l", l.B.X, l.B.Y)
	}
	p.ops("S")
}

func (p *pdfPainter) filling(c string) {
	if c != "" && c != p.pen.fill {
		p.pen.fill = c
		p.buf.WriteString(pdfColor(c) + " rg\n")
	}
}

func (p *pdfPainter) stroking(paint atlas.Paint, c string, width atlas.Unit, dash []atlas.Unit, round bool) {
	if c == "" {
		return
	}
	if c != p.pen.stroke {
		p.pen.stroke = c
		p.buf.WriteString(pdfColor(c) + " RG\n")
	}
	if width = p.theme.Width(paint, width); width != p.pen.width {
		p.pen.width = width
		p.ops("w", width)
	}
	shape := 2
	if round {
		shape = 1
	}
	if shape != p.pen.round {
		p.pen.round = shape
		at := atlas.Unit(2 - shape)
		p.ops("J", at)
		p.ops("j", at)
		p.ops("M", 4) // SVG's default limit of miters
	}
	pattern, all := "[", atlas.Unit(0)
	for _, d := range dash {
		pattern += strconv.Itoa(int(d)) + " "
		all += d
	}
	if all <= 0 { // dashes of no length at all are an error in PDF and a solid line in SVG
		pattern = "["
	}
	if pattern += "] 0 d\n"; pattern != p.pen.dash {
		p.pen.dash = pattern
		p.buf.WriteString(pattern)
	}
}

// pdfColor writes a color as three shares of one.
func pdfColor(s string) string {
	c, _ := rgb(s)
	share := func(v uint8) string { return strconv.FormatFloat(math.Round(float64(v)/255*1000)/1000, 'f', -1, 64) }
	return share(c.R) + " " + share(c.G) + " " + share(c.B)
}
