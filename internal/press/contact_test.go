package press_test

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/draw"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

// contact names a folder for a look at everything: go test ./internal/press -run
// ContactSheet -contact /tmp/contact
var contact = flag.String("contact", "", "write every paper, theme and measure as PDF and PNG into this folder")

// edition is a day for documents.
var editionDay = time.Date(2027, 1, 14, 0, 0, 0, 0, time.UTC)

func pdf(t testing.TB, o press.PDFOptions, scenes ...atlas.Scene) []byte {
	t.Helper()
	if o.Title == "" {
		o.Title = "Plover County"
	}
	o.Lang, o.Date = "en", editionDay
	var b bytes.Buffer
	require.NoError(t, press.PDF(&b, scenes, o))
	return b.Bytes()
}

func TestContactSheet(t *testing.T) {
	if *contact == "" {
		t.Skip("only with -contact")
	}
	require.NoError(t, os.MkdirAll(*contact, 0o755))
	var sheet contactSheet
	write := func(name string, theme press.Theme, s ...atlas.Scene) {
		sheet.add(picture(t, s[0], press.PrintSize, theme))
		file := filepath.Join(*contact, fmt.Sprintf("%s-%s.pdf", name, theme))
		require.NoError(t, os.WriteFile(file, pdf(t, press.PDFOptions{Theme: theme}, s...), 0o644))
		f, err := os.Create(filepath.Join(*contact, fmt.Sprintf("%s-%s.png", name, theme)))
		require.NoError(t, err)
		defer f.Close()
		require.NoError(t, press.PNG(f, s[0], press.PrintSize, theme))
	}
	for _, theme := range press.Themes() {
		for _, p := range atlas.Papers() {
			write("county-"+p.String(), theme, atlas.ComposeCounty(fixture.County(3), p))
		}
		for _, m := range atlas.Measures() {
			if m.Steps() == nil && m != atlas.NewFigures {
				continue // levels are on the sheets above
			}
			write("measure-"+m.String(), theme, atlas.ComposeCounty(fixture.Measured(m), atlas.LetterWide))
		}
		write("classes", theme, atlas.ComposeCounty(fixture.AllClasses(), atlas.LetterWide))
		office := fixture.County(3)
		office.Band = "Not for release"
		write("office", theme, atlas.ComposeCounty(office, atlas.LetterWide))
		write("state", theme, atlas.ComposeState(fixture.State(), atlas.LetterTall))
		im := fixture.County(3).Imprint
		im.Title = "Plover County, map by map"
		write("years-wide", theme, atlas.ComposeYears(im, fixture.Years(6), atlas.LetterWide))
		write("years-tall", theme, atlas.ComposeYears(im, fixture.Years(6), atlas.LetterTall))
		poster, err := press.Poster(fixture.County(3), posterWords)
		require.NoError(t, err)
		write("poster", theme, poster)
		handout, err := press.Handout(fixture.County(3), handoutWords)
		require.NoError(t, err)
		write("handout", theme, handout...)
		roots, err := press.RootSheet(rootWords)
		require.NoError(t, err)
		write("roots", theme, roots)
		slips, err := press.AnswerSlips(answerSlips(), slipWords)
		require.NoError(t, err)
		write("slips", theme, slips...)
		title, err := press.TitleSlide("Soybean cyst nematode in Plover County", "What 412 bags of soil say", "Edition 12 · January 14, 2027")
		require.NoError(t, err)
		points, err := press.TextSlide("This winter", winter, cautions[1])
		require.NoError(t, err)
		write("slides", theme, title, atlas.ComposeCounty(fixture.County(3), atlas.Slide), points)
		write("thousands", theme, atlas.ComposeCounty(fixture.Thousands(), atlas.HalfLetter))
		sheet.column()
	}
	f, err := os.Create(filepath.Join(*contact, "sheet.png"))
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, png.Encode(f, sheet.image()))
}

// contactSheet puts pictures on one: a column a theme, a row a paper, measure or
// sheet, each in a cell of its own.
type contactSheet struct {
	columns [][]*image.RGBA
	now     []*image.RGBA
}

// cell is a side of a cell in dots.
const cell = 420

func (c *contactSheet) add(img *image.RGBA) { c.now = append(c.now, img) }

func (c *contactSheet) column() { c.columns, c.now = append(c.columns, c.now), nil }

func (c *contactSheet) image() image.Image {
	rows := 0
	for _, column := range c.columns {
		rows = max(rows, len(column))
	}
	const across = 4 // rows stand beside each other in so many groups
	down := (rows + across - 1) / across
	out := image.NewRGBA(image.Rect(0, 0, across*len(c.columns)*cell, down*cell))
	draw.Draw(out, out.Rect, image.NewUniform(color.Gray{Y: 128}), image.Point{}, draw.Src)
	for i, column := range c.columns {
		for k, img := range column {
			x, y := (k/down*len(c.columns)+i)*cell, k%down*cell
			scale := float64(cell-12) / float64(max(img.Rect.Dx(), img.Rect.Dy()))
			w, h := int(scale*float64(img.Rect.Dx())), int(scale*float64(img.Rect.Dy()))
			draw.ApproxBiLinear.Scale(out, image.Rect(x+6, y+6, x+6+w, y+6+h), img, img.Rect, draw.Src, nil)
		}
	}
	return out
}
