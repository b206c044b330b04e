package press_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

// sceneTexts lists the texts of a scene, sorted.
func sceneTexts(items []atlas.Item) []string {
	var out []string
	for _, it := range items {
		switch it := it.(type) {
		case atlas.Text:
			out = append(out, it.S)
		case atlas.Group:
			out = append(out, sceneTexts(it.Items)...)
		}
	}
	slices.Sort(out)
	return out
}

func saved(t *testing.T, b []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "doc.pdf")
	require.NoError(t, os.WriteFile(file, b, 0o600))
	return file
}

// One scene, the same shapes with the same colors, widths and dashes in SVG and
// PDF, number by number and in the same order, and the same texts.
func TestSVGAndPDFDrawTheSame(t *testing.T) {
	t.Parallel()
	scenes := map[string]atlas.Scene{
		"county": atlas.ComposeCounty(fixture.County(3), atlas.LetterWide),
		"all":    atlas.ComposeCounty(fixture.AllClasses(), atlas.Slide),
		"share":  atlas.ComposeCounty(fixture.Measured(atlas.ShareFound), atlas.LetterTall),
		"new":    atlas.ComposeCounty(fixture.Measured(atlas.NewFigures), atlas.TabloidTall),
		"state":  atlas.ComposeState(fixture.State(), atlas.TabloidWide),
		"years":  atlas.ComposeYears(fixture.County(3).Imprint, fixture.Years(4), atlas.HalfLetter),
	}
	for name, s := range scenes {
		for _, theme := range press.Themes() {
			if name != "county" && int(theme) != len(name)%3 {
				continue // one theme each is enough
			}
			t.Run(fmt.Sprint(name, " ", theme), func(t *testing.T) {
				drawing := svg(t, s, press.Options{Theme: theme})
				pages := pdfPages(t, pdf(t, press.PDFOptions{Theme: theme}, s))
				require.Len(t, pages, 1)
				want, got := svgShapes(t, drawing), pdfShapes(t, pages[0])[1:] // the first is the page's ground
				require.NotEmpty(t, want)
				require.Equal(t, len(want), len(got), "number of shapes")
				for i := range want {
					require.Equal(t, want[i], got[i], "shape %d", i)
				}
				var texts []string
				document(t, drawing).Find("text").Each(func(_ int, x *goquery.Selection) { texts = append(texts, x.Text()) })
				slices.Sort(texts)
				require.Equal(t, sceneTexts(s.Items), texts)
			})
		}
	}
}

func TestPDFTextIsText(t *testing.T) {
	s := atlas.ComposeCounty(fixture.County(3), atlas.LetterWide)
	file := saved(t, pdf(t, press.PDFOptions{}, s))
	// Words in reading order differ; letters and their number do not.
	got := letterCounts(tool(t, "pdftotext", "-raw", file, "-"))
	want := letterCounts(strings.Join(sceneTexts(s.Items), " "))
	require.Equal(t, want, got)
	text := tool(t, "pdftotext", "-layout", file, "-")
	for _, w := range []string{"Plover County", "100 cm³", "program’s", "T24N R4E", "Dunmore Mills", "Edition 12 · K7QF-2M"} {
		require.Contains(t, text, w)
	}
}

func letterCounts(s string) map[rune]int {
	out := map[rune]int{}
	for _, r := range s {
		if r > ' ' && r != 0xa0 {
			out[r]++
		}
	}
	return out
}

func TestPDFFile(t *testing.T) {
	t.Parallel()
	scenes := []atlas.Scene{
		atlas.ComposeCounty(fixture.County(3), atlas.LetterWide), atlas.ComposeCounty(fixture.County(3), atlas.TabloidTall),
		atlas.ComposeCounty(fixture.County(3), atlas.Slide),
	}
	b := pdf(t, press.PDFOptions{Title: "Plover County — ½"}, scenes...)
	file := saved(t, b)
	t.Run("fonts are embedded", func(t *testing.T) {
		lines := strings.Split(strings.TrimSpace(tool(t, "pdffonts", file)), "\n")[2:]
		require.Len(t, lines, 5, "each face once, whatever the number of pages")
		for _, line := range lines {
			f := strings.Fields(line)
			require.Equal(t, "yes", f[len(f)-5], "embedded: %s", line)
			require.Equal(t, "yes", f[len(f)-3], "with a table for copying text: %s", line)
		}
	})
	t.Run("title, language, pages, day, no author", func(t *testing.T) {
		info := tool(t, "pdfinfo", "-isodates", "-f", "1", "-l", "3", file)
		for _, re := range []string{
			`Title: +Plover County — ½\n`, `Pages: +3\n`, `CreationDate: +2027-01-14T00:00:00`, `ModDate: +2027-01-14T00:00:00`,
			`Page +1 size: +792 x 612 pts`, `Page +2 size: +792 x 1224 pts`, `Page +3 size: +959.98 x 540 pts`,
		} {
			require.Regexp(t, regexp.MustCompile(re), info)
		}
		require.NotContains(t, info, "Author")
		require.Contains(t, string(b), "/Lang (en)")
	})
	t.Run("same scenes, same bytes", func(t *testing.T) {
		require.True(t, bytes.Equal(b, pdf(t, press.PDFOptions{Title: "Plover County — ½"}, scenes...)))
	})
	t.Run("no pages", func(t *testing.T) {
		require.ErrorContains(t, press.PDF(&bytes.Buffer{}, nil, press.PDFOptions{}), "press.PDF")
	})
}

// Names out of a boundary file stay text: they close no string, draw nothing and
// break no reader.
func TestPDFNamesCannotInject(t *testing.T) {
	plain := fixture.County(3)
	evil := fixture.County(3)
	// As wide as what they replace does not matter: they only lie in titles.
	const attack = "x) Tj ET Q 1 0 0 rg 0 0 900 900 re f % \\) \\\r\n/Lang <</S/JavaScript>> endstream endobj"
	evil.Title, evil.Source = attack, "\x00\x1b\xff \U0001F33E \u202Egnol \uFFFE"+attack
	s := atlas.ComposeCounty(evil, atlas.LetterWide)
	b := pdf(t, press.PDFOptions{Title: attack}, s)
	file := saved(t, b)
	text := tool(t, "pdftotext", "-raw", file, "-")
	require.Contains(t, strings.ReplaceAll(text, "\n", " "), "Tj ET Q 1 0 0 rg 0 0 900 900 re f %")
	require.NotContains(t, text, "\U0001F33E", "letters the fonts have not are replaced")
	content := pdfPages(t, b)[0]
	require.NotRegexp(t, regexp.MustCompile(`(?m)^[^()]* re f`), content)
	require.Contains(t, tool(t, "pdfinfo", file), "Pages:           1")
	require.NotContains(t, string(b), "/JavaScript")
	// The map itself is drawn as without them.
	marks := func(s []shape) int {
		n := 0
		for _, x := range s {
			if x.fill != "" {
				n++
			}
		}
		return n
	}
	usual := pdfPages(t, pdf(t, press.PDFOptions{}, atlas.ComposeCounty(plain, atlas.LetterWide)))[0]
	require.Equal(t, marks(pdfShapes(t, usual)), marks(pdfShapes(t, content)))
}
