package press_test

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"image/png"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

func handout(t *testing.T, words press.HandoutWords) []atlas.Scene {
	t.Helper()
	s, err := press.Handout(fixture.County(3), words)
	require.NoError(t, err)
	return s
}

// everySheet composes each kind of sheet.
func everySheet(t *testing.T) map[string][]atlas.Scene {
	t.Helper()
	poster, err := press.Poster(fixture.County(3), posterWords)
	require.NoError(t, err)
	roots, err := press.RootSheet(rootWords)
	require.NoError(t, err)
	slips, err := press.AnswerSlips(answerSlips(), slipWords)
	require.NoError(t, err)
	title, err := press.TitleSlide("Soybean cyst nematode in Plover County", "What 412 bags of soil say", "Edition 12")
	require.NoError(t, err)
	points, err := press.TextSlide("This winter", winter, cautions[1])
	require.NoError(t, err)
	return map[string][]atlas.Scene{"poster": {poster}, "handout": handout(t, handoutWords), "roots": {roots}, "slips": slips, "slides": {title, points}}
}

func boxesOf(items []atlas.Item) []atlas.Text {
	var out []atlas.Text
	for _, it := range items {
		switch it := it.(type) {
		case atlas.Text:
			out = append(out, it)
		case atlas.Group:
			out = append(out, boxesOf(it.Items)...)
		}
	}
	return out
}

func TestSheetsKeepTheirTextsApartAndOnPaper(t *testing.T) {
	for name, sheets := range everySheet(t) {
		t.Run(name, func(t *testing.T) {
			for n, s := range sheets {
				texts := boxesOf(s.Items)
				require.NotEmpty(t, texts)
				for i, a := range texts {
					x := a.Bounds()
					require.True(t, x.X0 >= 600 && x.Y0 >= 600 && x.X1 <= s.Width-600 && x.Y1 <= s.Height-600, "sheet %d: %q leaves it", n, a.S)
					for _, b := range texts[:i] {
						y := b.Bounds()
						require.False(t, x.X0 < y.X1 && y.X0 < x.X1 && x.Y0 < y.Y1 && y.Y0 < x.Y1, "sheet %d: %q over %q", n, a.S, b.S)
					}
				}
			}
		})
	}
}

// Every sentence handed in is on the sheet, cautions above all.
func TestSheetsSayWhatTheyAreGiven(t *testing.T) {
	sheets := everySheet(t)
	said := func(name string) string {
		var words []string
		for _, s := range sheets[name] {
			for _, x := range boxesOf(s.Items) {
				words = append(words, strings.Fields(x.S)...)
			}
		}
		return strings.Join(words, " ")
	}
	for name, want := range map[string][]string{
		"poster":  append(slices.Concat(cautions, winter), posterWords.Title, posterWords.Subtitle, posterWords.Bags, "23 of 35", "K7QF-2M"),
		"handout": append(slices.Concat(cautions, winter, handoutWords.Facts), handoutWords.Lead, handoutWords.Foot, "T24N R3E", "With eggs", "K7QF-2M"),
		"roots":   append(slices.Concat(rootWords.Cautions, rootWords.Steps), rootWords.Lead, rootWords.Nodule, rootWords.Female, "1 mm", "drawn ten times life size", "Life size"),
		"slips":   append(slices.Clone(cautions), "K7QF-2M0", "K7QF-2M3", "level: found-3", slipWords.Head),
		"slides":  append(slices.Clone(winter), cautions[1], "What 412 bags of soil say"),
	} {
		text := said(name)
		for _, w := range want {
			// Columns interleave nothing: blocks are set one after another.
			require.Contains(t, text, strings.Join(strings.Fields(w), " "), name)
		}
	}
	require.Equal(t, 2, strings.Count(said("handout"), handoutWords.Foot), "on every side")
	require.Equal(t, 4, strings.Count(said("slips"), cautions[0]), "on every slip")
}

func TestHandoutHasTwoSidesUnlessLong(t *testing.T) {
	require.Len(t, handout(t, handoutWords), 2)
	long := handoutWords
	long.Back = append(slices.Clone(long.Back), press.Section{Head: "More", Table: townshipTable(150)})
	sides := handout(t, long)
	require.Greater(t, len(sides), 3)
	rows := 0
	for _, s := range sides {
		for _, x := range boxesOf(s.Items) {
			if x.S == "2015 to 2026" {
				rows++
			}
		}
	}
	require.Equal(t, 185, rows, "no row is lost where a side ends")
	long.Lead = strings.Repeat("Too many words for one front. ", 400)
	_, err := press.Handout(fixture.County(3), long)
	require.ErrorIs(t, err, press.ErrNoRoom)
	long.Lead = ""
	long.Cautions = []string{strings.Repeat("Too many words for one side. ", 900)}
	_, err = press.Handout(fixture.County(3), long)
	require.ErrorIs(t, err, press.ErrNoRoom)
}

func TestSheetsRefuseWhatHasNoRoom(t *testing.T) {
	much := strings.Repeat("much too much ", 300)
	_, err := press.Poster(fixture.County(3), press.PosterWords{Bags: much})
	require.ErrorIs(t, err, press.ErrNoRoom)
	_, err = press.RootSheet(press.RootWords{Steps: []string{much, much}})
	require.ErrorIs(t, err, press.ErrNoRoom)
	_, err = press.AnswerSlips([]press.AnswerSlip{{Lines: []string{much}}}, slipWords)
	require.ErrorIs(t, err, press.ErrNoRoom)
	_, err = press.TextSlide("x", []string{much}, "")
	require.ErrorIs(t, err, press.ErrNoRoom)
}

// The root is drawn to scale: ten times life size, and once in life size; a unit
// is a hundredth of a millimeter.
func TestRootIsDrawnToScale(t *testing.T) {
	s, err := press.RootSheet(rootWords)
	require.NoError(t, err)
	longest := func(fill atlas.Role) (out []float64) { // lengths of bodies of a fill, in mm of paper
		for _, it := range s.Items {
			p, ok := it.(atlas.Path)
			if !ok || p.Fill.Role != fill {
				continue
			}
			most := 0.0
			for i, a := range p.Rings[0] {
				for _, b := range p.Rings[0][:i] {
					dx, dy := float64(a.X-b.X)/100, float64(a.Y-b.Y)/100
					most = max(most, dx*dx+dy*dy)
				}
			}
			out = append(out, most)
		}
		slices.Sort(out)
		return out
	}
	females := longest(atlas.Chalk)
	require.Len(t, females, 10)
	for i, sq := range females {
		want := press.FemaleMM
		if i >= 5 {
			want *= 10
		}
		require.InDelta(t, want*want, sq, want*want*0.1)
	}
	nodules := longest(atlas.Flesh)
	require.Len(t, nodules, 2)
	require.InDelta(t, press.NoduleMM*press.NoduleMM, nodules[0], 0.5)
	require.InDelta(t, 100*press.NoduleMM*press.NoduleMM, nodules[1], 20)
	require.InDelta(t, 0.1, press.FemaleMM/press.NoduleMM, 1e-9, "about a tenth the size of a nodule (common practice)")
	bars := longest(atlas.Ink)
	require.InDelta(t, 100, bars[len(bars)-1], 2, "the bar is a millimeter ten times enlarged, 0.9 mm thick")
}

// Slides to change are drawings whose words are words: every text of the scene
// stands in its file, and the files are XML.
func TestDrawingsZip(t *testing.T) {
	t.Parallel()
	scenes := everySheet(t)["slides"]
	var b bytes.Buffer
	require.NoError(t, press.DrawingsZip(&b, scenes, press.Options{Lang: "en"}, editionDay))
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	require.NoError(t, err)
	require.Len(t, z.File, len(scenes))
	for i, f := range z.File {
		require.Equal(t, fmt.Sprintf("slide-%02d.svg", i+1), f.Name)
		require.True(t, f.Modified.Equal(editionDay))
		r, err := f.Open()
		require.NoError(t, err)
		var texts []string
		in := false
		for d := xml.NewDecoder(r); ; {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			require.NoError(t, err)
			switch x := token.(type) {
			case xml.StartElement:
				in = x.Name.Local == "text"
			case xml.EndElement:
				in = false
			case xml.CharData:
				if in {
					texts = append(texts, string(x))
				}
			}
		}
		require.Equal(t, sceneTexts(scenes[i].Items), slices.Sorted(slices.Values(texts)))
	}
}

func TestSlidesZip(t *testing.T) {
	t.Parallel()
	scenes := everySheet(t)["slides"]
	var b bytes.Buffer
	require.NoError(t, press.SlidesZip(&b, scenes, press.Dark, editionDay))
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	require.NoError(t, err)
	require.Len(t, z.File, len(scenes))
	for i, f := range z.File {
		require.Equal(t, []string{"slide-01.png", "slide-02.png"}[i], f.Name)
		require.True(t, f.Modified.Equal(editionDay), "the caller's date and no other: same scenes, same bytes")
		r, err := f.Open()
		require.NoError(t, err)
		content, err := io.ReadAll(r)
		require.NoError(t, err)
		c, err := png.DecodeConfig(bytes.NewReader(content))
		require.NoError(t, err)
		require.Equal(t, []int{1920, 1080}, []int{c.Width, c.Height})
	}
}
