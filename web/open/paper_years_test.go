package open

import (
	"fmt"
	"net/http"
	"path"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// One can step through all maps and back by links alone, and each step shows what
// its map did.
func TestStepThroughTheYears(t *testing.T) {
	s := newSite(inventedIssue())
	at, bags, shown := "/county/plover/years?map=3M8C-QP", 0, 0
	for i, month := range []string{"January 2025", "January 2026", "January 2027"} {
		d := s.dom(t, at)
		require.NotContains(t, d.Text(), "[paper.")
		require.Contains(t, text(d.Find("#now")), month)
		require.Equal(t, month, text(d.Find("ol.steps-years a[aria-current=page]")))
		var added, finds int
		_, err := fmt.Sscanf(text(d.Find("#now + p")), "It added %d bags of this county, %d of them", &added, &finds)
		require.NoError(t, err)
		bags += added
		require.Contains(t, text(d.Find(".map-wide")), fmt.Sprintf("%d bags, falls up to %d", bags, 2024+i), "maps add up")
		marked := d.Find(`.map-wide [data-place]:not([data-mark="no-figures"])`).Length()
		require.GreaterOrEqual(t, marked, shown)
		shown = marked
		prev, next := d.Find(".stepper a[rel=prev]"), d.Find(".stepper a[rel=next]")
		require.Equal(t, i > 0, prev.Length() == 1)
		require.Equal(t, i < 2, next.Length() == 1)
		if i < 2 {
			at = next.AttrOr("href", "")
		}
	}
	require.Equal(t, "/county/plover/years", at, "the newest has the plain address")
	require.Equal(t, 182, bags)
	pdf := s.dom(t, at).Find("a[download]").AttrOr("href", "")
	require.Equal(t, http.StatusOK, s.get(pdf).Code)
}

// Each file that the page offers is there.
func TestPageOffersWhatIsThere(t *testing.T) {
	s := newSite(inventedIssue())
	d := s.dom(t, "/county/plover/print?show=typical&paper=half-letter&look=ink")
	require.NotContains(t, d.Text(), "[")
	links := d.Find(".paper-files a")
	require.Equal(t, len(paperFiles), links.Length())
	links.Each(func(_ int, a *goquerySelection) {
		f, known := paperFileOf(lastPart(a.AttrOr("href", "")))
		require.True(t, known)
		if f.name == "slides.zip" || f.name == "map-large.png" { // slow, and made elsewhere
			return
		}
		require.Equal(t, http.StatusOK, s.get(a.AttrOr("href", "")).Code, a.AttrOr("href", ""))
	})
	svg := d.Find(".paper-sheet svg")
	require.Equal(t, 1, svg.Length(), "the preview stands in the page, drawn with its typefaces")
	require.Zero(t, svg.Find("a").Length(), "nothing in it leads on")
}

func lastPart(href string) string {
	href, _, _ = strings.Cut(href, "?")
	return path.Base(href)
}

// BenchmarkPaper is what a file costs when it is asked for the first time. The
// aims: a slide's picture 150 ms, a map's document 60 ms.
func BenchmarkPaper(b *testing.B) {
	issue := inventedIssue()
	for _, file := range []string{"map.svg?map=K7QF-2M", "map.pdf?map=K7QF-2M", "map.png?map=K7QF-2M&paper=slide", "map-large.png?map=K7QF-2M",
		"poster.pdf?map=K7QF-2M", "handout.pdf?map=K7QF-2M", "slides.pdf?map=K7QF-2M", "slides.zip?map=K7QF-2M", "years.pdf?map=K7QF-2M"} {
		b.Run(file, func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				s := newSite(issue)
				s.get("/county/plover")
				b.StartTimer()
				if w := s.get("/county/plover/paper/" + file); w.Code != http.StatusOK {
					b.Fatal(w.Code)
				}
			}
		})
	}
}
