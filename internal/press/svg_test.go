package press_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

func svg(t *testing.T, s atlas.Scene, o press.Options) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, press.SVG(&b, s, o))
	return b.String()
}

func document(t *testing.T, s string) *goquery.Document {
	t.Helper()
	d, err := goquery.NewDocumentFromReader(strings.NewReader(s))
	require.NoError(t, err)
	return d
}

func TestSVGShowsEveryPlaceOnce(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]atlas.County{"three": fixture.County(3), "five": fixture.AllClasses(), "two": fixture.County(2)} {
		for _, p := range atlas.Papers() {
			for _, theme := range press.Themes() {
				if theme != press.Color && p != atlas.Screen {
					continue // colors do not change with the paper
				}
				t.Run(fmt.Sprintf("%s %s %d", name, p, theme), func(t *testing.T) {
					d := document(t, svg(t, atlas.ComposeCounty(c, p), press.Options{Theme: theme, Lang: "en"}))
					require.Equal(t, len(c.Areas), d.Find("[data-place]").Length())
					for _, a := range c.Areas {
						g := d.Find("[data-place='" + strconv.Itoa(a.ID) + "']")
						require.Equal(t, 1, g.Length(), a.Code)
						require.Equal(t, a.Mark.String(), g.AttrOr("data-mark", ""))
						require.Equal(t, a.Title, g.Children().First().Text(), "the title comes first")
						require.Equal(t, a.Href, g.Parent().AttrOr("href", ""))
						requireFurrows(t, a.Mark, g.Find("[data-furrows]"))
					}
					require.Equal(t, len(c.Joined), d.Find("[data-joined]").Length())
					for i, j := range c.Joined {
						g := d.Find("[data-joined=j" + strconv.Itoa(i) + "]")
						require.Equal(t, j.Mark.String(), g.AttrOr("data-mark", ""))
						want := strconv.Itoa(max(1, j.Mark.Lines))
						g.Find("[data-furrows]").Each(func(_ int, f *goquery.Selection) {
							require.Equal(t, want, f.AttrOr("data-furrows", ""))
						})
						require.NotZero(t, g.Find("[data-furrows]").Length())
					}
				})
			}
		}
	}
}

// requireFurrows checks that the number of lines is the class, by the attribute
// and by the path drawn.
func requireFurrows(t *testing.T, m atlas.Mark, furrows *goquery.Selection) {
	t.Helper()
	want := map[atlas.Standing]int{atlas.Found: m.Lines, atlas.Unconfirmed: 1}[m.Standing]
	if want == 0 {
		require.Zero(t, furrows.Length())
		return
	}
	require.Equal(t, 1, furrows.Length())
	require.Equal(t, strconv.Itoa(want), furrows.AttrOr("data-furrows", ""))
	require.Equal(t, want, strings.Count(furrows.AttrOr("d", ""), "M"))
	_, broken := furrows.Attr("stroke-dasharray")
	require.Equal(t, m.Standing == atlas.Unconfirmed, broken)
}

func TestSVGIsPlainXML(t *testing.T) {
	for _, p := range atlas.Papers() {
		s := svg(t, atlas.ComposeCounty(fixture.County(3), p), press.Options{Lang: "en", IDPrefix: "m-"})
		ids, uses := map[string]bool{}, []string{}
		d := xml.NewDecoder(strings.NewReader(s))
		for {
			tok, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
			e, ok := tok.(xml.StartElement)
			if !ok {
				continue
			}
			require.NotContains(t, []string{"style", "script", "foreignObject", "image"}, e.Name.Local)
			seen := map[string]bool{}
			for _, a := range e.Attr {
				require.NotEqual(t, "style", a.Name.Local, "a strict content policy forbids inline style")
				require.False(t, strings.HasPrefix(a.Name.Local, "on"), a.Name.Local)
				require.False(t, seen[a.Name.Local], "attribute twice: %s", a.Name.Local)
				seen[a.Name.Local] = true
				switch {
				case a.Name.Local == "id":
					require.False(t, ids[a.Value], "id twice: %s", a.Value)
					require.True(t, strings.HasPrefix(a.Value, "m-"), a.Value)
					ids[a.Value] = true
				case e.Name.Local == "use" && a.Name.Local == "href":
					uses = append(uses, strings.TrimPrefix(a.Value, "#"))
				}
			}
		}
		require.NotEmpty(t, uses)
		for _, u := range uses {
			require.True(t, ids[u], "use of %s, which is not there", u)
		}
		require.NotRegexp(t, regexp.MustCompile(`[0-9]\.[0-9]*0[^0-9]`), s, "trailing zeros")
	}
}

func TestSVGIsAccessible(t *testing.T) {
	c := fixture.County(3)
	linked := document(t, svg(t, atlas.ComposeCounty(c, atlas.Screen), press.Options{Lang: "en"})).Find("svg")
	require.Equal(t, "group", linked.AttrOr("role", ""), "an img would hide its links")
	require.Equal(t, "en", linked.AttrOr("lang", ""))
	for i := range c.Areas {
		c.Areas[i].Href = ""
	}
	d := document(t, svg(t, atlas.ComposeCounty(c, atlas.Screen), press.Options{}))
	require.Equal(t, "img", d.Find("svg").AttrOr("role", ""))
	require.Zero(t, d.Find("a").Length())
	for _, id := range strings.Fields(d.Find("svg").AttrOr("aria-labelledby", "")) {
		require.NotEmpty(t, d.Find("#"+id).Text(), id)
	}
	require.Equal(t, c.Title, d.Find("svg > title").Text())
	require.Equal(t, c.Words.Desc, d.Find("svg > desc").Text())
}

func TestSVGNamesCannotInject(t *testing.T) {
	const evil = `"><script>alert(1)</script>&amp;<a href='javascript:x'>` + "\x00\x1b\xff"
	c := fixture.County(3)
	c.Title, c.Subtitle, c.Source = evil, evil, evil
	c.Words.Desc = evil
	c.Words.LegendHead = evil
	for i := range c.Areas {
		c.Areas[i].Code, c.Areas[i].Short, c.Areas[i].Title = evil, "<", evil
		c.Areas[i].Href = "javascript:alert(1)"
	}
	c.Areas[0].Href = `/x" onload="alert(1)`
	for i := range c.Towns {
		c.Towns[i].Name = "<b>" + c.Towns[i].Name
	}
	s := svg(t, atlas.ComposeCounty(c, atlas.Screen), press.Options{})
	d := document(t, s)
	require.Zero(t, d.Find("script, b").Length())
	require.Equal(t, 1, d.Find("a").Length(), "only the first link leads within the site")
	require.Equal(t, c.Areas[0].Href, d.Find("a").AttrOr("href", ""))
	_, has := d.Find("a").Attr("onload")
	require.False(t, has)
	require.NoError(t, xml.Unmarshal([]byte(s), new(struct{ XMLName xml.Name })))
}

func TestSVGSameSceneSameBytes(t *testing.T) {
	first := svg(t, atlas.ComposeCounty(fixture.County(4), atlas.Screen), press.Options{Lang: "en"})
	for range 5 {
		require.Equal(t, first, svg(t, atlas.ComposeCounty(fixture.County(4), atlas.Screen), press.Options{Lang: "en"}))
	}
}

func BenchmarkCounty(b *testing.B) {
	c := fixture.County(3)
	b.Run("compose", func(b *testing.B) {
		for b.Loop() {
			atlas.ComposeCounty(c, atlas.Screen)
		}
	})
	s := atlas.ComposeCounty(c, atlas.Screen)
	b.Run("svg", func(b *testing.B) {
		for b.Loop() {
			_ = press.SVG(io.Discard, s, press.Options{Lang: "en"})
		}
	})
}

// forty is a county of forty townships.
func forty() atlas.County {
	c := fixture.County(3)
	c.Areas = c.Areas[:min(40, len(c.Areas))]
	return c
}

func BenchmarkPictures(b *testing.B) {
	c := forty()
	b.Run("compose and SVG", func(b *testing.B) {
		for b.Loop() {
			_ = press.SVG(io.Discard, atlas.ComposeCounty(c, atlas.Screen), press.Options{Lang: "en"})
		}
	})
	slide := atlas.ComposeCounty(c, atlas.Slide)
	b.Run("PNG 1920x1080", func(b *testing.B) {
		for b.Loop() {
			_ = press.PNG(io.Discard, slide, press.SlideSize, press.Color)
		}
	})
	b.Run("raster alone", func(b *testing.B) {
		for b.Loop() {
			_, _ = press.Picture(slide, press.SlideSize, press.Color)
		}
	})
	letter := atlas.ComposeCounty(c, atlas.LetterWide)
	b.Run("PDF", func(b *testing.B) {
		for b.Loop() {
			_ = press.PDF(io.Discard, []atlas.Scene{letter}, press.PDFOptions{Title: "Plover", Lang: "en", Date: editionDay})
		}
	})
}
