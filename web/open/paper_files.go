package open

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"sixmile/internal/atlas"
	"sixmile/internal/desk"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
)

const (
	pngKind  = "image/png"
	pdfKind  = "application/pdf"
	zipKind  = "application/zip"
	textKind = "text/plain; charset=utf-8"
)

// paperFile is one of the files that can be had of a county.
type paperFile struct {
	name string // last part of its address
	kind string
	uses parts // of a choice
	make func(printJob) ([]byte, error)
}

// paperFiles are all of them.
var paperFiles = []paperFile{
	{"map.pdf", pdfKind, everyPart, printJob.mapPDF},
	{"map.png", pngKind, everyPart, printJob.mapPNG},
	{"map-large.png", pngKind, everyPart, printJob.mapLarge},
	{"map.svg", svgKind, everyPart, printJob.mapSVG},
	{"poster.pdf", pdfKind, byLayers | byTheme, printJob.poster},
	{"handout.pdf", pdfKind, byLayers | byTheme, printJob.handout},
	{"slides.pdf", pdfKind, byLayers | byTheme, printJob.slidesPDF},
	{"slides.zip", zipKind, byLayers | byTheme, printJob.slidesZip},
	{"slides-drawn.zip", zipKind, byLayers | byTheme, printJob.slidesDrawn},
	{"years.pdf", pdfKind, byPaper | byTheme, printJob.yearsPDF},
	{"roots.pdf", pdfKind, byTheme, printJob.roots},
	{"newspaper.txt", textKind, 0, printJob.newspaper},
}

func paperFileOf(name string) (paperFile, bool) {
	for _, f := range paperFiles {
		if f.name == name {
			return f, true
		}
	}
	return paperFile{}, false
}

// printJob is a county and what is wanted of it.
type printJob struct {
	t      teller // of the edition that is chosen
	v      *gazette.CountyView
	c      choice
	office *desk.Office
	over   bool      // the office's last day has passed
	own    *ownWords // nil: the map's words alone
}

// saveAs is the file's name on the reader's machine: county, edition, what it is,
// on which paper.
func (f paperFile) saveAs(slug string, c choice) string {
	base, ext, _ := strings.Cut(f.name, ".")
	words := []string{slug}
	if c.code != "" {
		words = append(words, c.code)
	}
	words = append(words, base)
	words = append(words, c.words()...)
	if f.uses&byPaper != 0 {
		words = append(words, c.paper.String())
	}
	if c.theme != press.Color {
		words = append(words, c.theme.String())
	}
	return plainName(strings.Join(words, "-")) + "." + ext
}

func (f paperFile) ext() string {
	_, ext, _ := strings.Cut(f.name, ".")
	return ext
}

// plainName keeps letters, digits and hyphens: what stands in a header, and what
// every machine takes for a name.
func plainName(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case 'a' <= r && r <= 'z', 'A' <= r && r <= 'Z', '0' <= r && r <= '9', r == '-':
			return r
		}
		return -1
	}, s)
}

// county is the map by the job's measure.
func (j printJob) county(m atlas.Measure) (atlas.County, picked, error) {
	c, p, err := j.t.paperCounty(j.v, m)
	return bare(c, j.c.without), p, err
}

// scene is the map on its sheet.
func (j printJob) scene() (atlas.Scene, error) {
	c, _, err := j.county(j.c.measure)
	if err != nil {
		return atlas.Scene{}, err
	}
	j.own.on(&c.Imprint)
	return atlas.ComposeCounty(c, j.c.paper), nil
}

func (j printJob) mapSVG() ([]byte, error) { return j.svg("") }

// svg paints the map; a prefix keeps its ids apart from those of a page.
func (j printJob) svg(prefix string) ([]byte, error) {
	s, err := j.scene()
	if err != nil {
		return nil, err
	}
	return written(func(b *bytes.Buffer) error {
		return press.SVG(b, s, press.Options{Theme: j.c.theme, Lang: j.t.lang.Tag(), IDPrefix: prefix})
	})
}

func (j printJob) mapPNG() ([]byte, error) {
	if j.c.paper == atlas.Slide {
		return j.png(press.SlideSize)
	}
	return j.png(press.PrintSize)
}

func (j printJob) mapLarge() ([]byte, error) { return j.png(press.LargeSize) }

func (j printJob) png(size press.Size) ([]byte, error) {
	s, err := j.scene()
	if err != nil {
		return nil, err
	}
	return written(func(b *bytes.Buffer) error { return press.PNG(b, s, size, j.c.theme) })
}

func (j printJob) mapPDF() ([]byte, error) {
	s, err := j.scene()
	if err != nil {
		return nil, err
	}
	return j.pdf(j.t.lang.SayOf("paper.measure", j.c.measure.String()), s)
}

// pdf makes a document of sheets; its title is what it is, the county and the
// edition.
func (j printJob) pdf(what string, sheets ...atlas.Scene) ([]byte, error) {
	return written(func(b *bytes.Buffer) error {
		return press.PDF(b, sheets, press.PDFOptions{Theme: j.c.theme, Title: j.title(what), Lang: j.t.lang.Tag(), Date: j.day()})
	})
}

func (j printJob) title(what string) string {
	if !j.t.released() {
		return j.t.say("paper.doc.blank", "county", j.t.county(j.v), "what", what)
	}
	e := j.t.edition()
	return j.t.say("paper.doc", "county", j.t.county(j.v), "what", what, "month", j.t.lang.MonthYear(e.Released), "code", e.Code)
}

// day stands in documents as the day they were made.
func (j printJob) day() time.Time {
	if j.t.released() {
		return j.t.edition().Released
	}
	return time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
}

func (j printJob) newspaper() ([]byte, error) {
	c, err := j.t.view(j.v, j.office, j.over)
	if err != nil {
		return nil, err
	}
	return []byte(j.t.newspaper(c) + "\n"), nil
}

// key names what a job makes, in the memory of its pressroom: everything that the
// bytes depend on.
func (j printJob) key(gen int, file string) string {
	return fmt.Sprintf("%d %s %s %s %t %s %s", gen, j.t.lang.Tag(), j.v.Slug, file, j.over, j.t.edition().Code, j.c.query(""))
}
