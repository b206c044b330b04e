package open

import (
	"bytes"
	"fmt"
	"image/png"
	"net/http"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
)

// Every choice of the state's map is a page of its own, which leads to all others,
// and its drawing shows what its table says.
func TestEveryMapOfTheState(t *testing.T) {
	site := newSite(inventedIssue())
	for _, m := range atlas.Measures() {
		for _, townships := range []bool{false, true} {
			c := stateChoice{measure: m, townships: townships}
			t.Run(c.query(), func(t *testing.T) {
				d := site.dom(t, "/"+c.query())
				clean(t, d)
				require.NotContains(t, d.Text(), "[state.", "a sentence is missing")
				require.NotContains(t, d.Text(), "[paper.", "a sentence is missing")
				require.Equal(t, 2, d.Find(".picks a[aria-current]").Length())
				require.Equal(t, len(atlas.Measures())+2, d.Find(".picks a").Length())
			})
		}
	}
}

// By townships every place of every county stands on the map, with the mark that
// its own county's map has, and leads to its county's page.
func TestStateByTownships(t *testing.T) {
	issue := inventedIssue()
	site := newSite(issue)
	d := site.dom(t, "/?by=townships")
	marks := map[string]string{}
	d.Find(`.map-wide [data-place]`).Each(func(_ int, s *goquery.Selection) {
		marks[s.AttrOr("data-place", "")] = s.AttrOr("data-mark", "")
	})
	n := 0
	for _, c := range issue.Counties {
		site.dom(t, "/county/"+c.Slug).Find(`.map-wide [data-place]`).Each(func(_ int, s *goquery.Selection) {
			n++
			id := s.AttrOr("data-place", "")
			require.Equal(t, s.AttrOr("data-mark", ""), marks[id], "place %s of %s", id, c.Name)
		})
	}
	require.Equal(t, n, len(marks))
	require.NotZero(t, d.Find(`.map-wide a[href^="/county/"]`).Length())
	for _, c := range issue.Counties {
		require.Contains(t, text(d.Find(".map-wide")), c.Name, "the counties are named")
	}
}

// The list under the table says of every place what its mark says, and of no
// other.
func TestPlacesOfTheStateAreListed(t *testing.T) {
	site := newSite(inventedIssue())
	for _, path := range []string{"/?by=townships", "/?show=share&by=townships", "/region?in=tamarind,plover&by=townships"} {
		d := site.dom(t, path)
		marked := 0
		d.Find(".map-wide [data-place], .map-wide [data-joined]").Each(func(_ int, s *goquery.Selection) {
			if s.AttrOr("data-mark", "no-figures") != "no-figures" {
				marked++
			}
		})
		rows := d.Find("table.place-rows tbody tr")
		require.Positive(t, marked, path)
		require.Equal(t, marked, rows.Length(), path)
		require.Contains(t, text(d.Find(".place-list summary")), fmt.Sprint(marked))
		said := text(d.Find(".map-wide"))
		rows.Each(func(_ int, r *goquery.Selection) {
			to := r.Find("a").AttrOr("href", "")
			address, at, _ := strings.Cut(to, "#")
			require.Equal(t, 1, site.dom(t, address).Find("#"+at).Length(), "%s leads to its row", to)
			if !strings.HasPrefix(at, "joined") {
				require.Contains(t, said, text(r.Find("a")), path)
			}
			require.NotEmpty(t, text(r.Find(".level")), path)
		})
	}
	require.Zero(t, site.dom(t, "/").Find(".place-list").Length(), "a map of counties has their table")
}

// Shares are those of the table: bags with eggs of those sure either way.
func TestStateByShare(t *testing.T) {
	d := newSite(inventedIssue()).dom(t, "/?show=share")
	d.Find("table.figures tbody tr").Each(func(_ int, tr *goquery.Selection) {
		cell := text(tr.Find("td.level"))
		finds := text(tr.Find("td").Last())
		if finds == "–" {
			require.Equal(t, "no figures yet", cell)
			return
		}
		require.True(t, strings.HasSuffix(cell, "%") || cell == "no bag is sure either way", cell)
		if strings.HasSuffix(cell, "%") {
			require.Contains(t, text(d.Find(".map-wide")), cell, "on the map too")
		}
	})
}

func TestStateFiles(t *testing.T) {
	site := newSite(inventedIssue())
	pdf := site.get("/map.pdf?by=townships")
	require.Equal(t, "application/pdf", pdf.Header().Get("Content-Type"))
	require.True(t, bytes.HasPrefix(pdf.Body.Bytes(), []byte("%PDF")))
	img, err := png.Decode(site.get("/map.png?show=share").Body)
	require.NoError(t, err)
	require.Equal(t, 1920, img.Bounds().Dx())
	require.Equal(t, 1080, img.Bounds().Dy())
	for _, path := range []string{"/?show=treasure", "/?by=farm", "/map.pdf?by=farm", "/map.png?show=<script>"} {
		require.Equal(t, http.StatusNotFound, site.get(strings.ReplaceAll(path, "<", "%3C")).Code, path)
	}
}

// A region's map has the townships of its counties and no others, its sums are
// those of its counties, and it has one address.
func TestRegion(t *testing.T) {
	issue := inventedIssue()
	site := newSite(issue)
	ask := site.dom(t, "/region")
	clean(t, ask)
	require.Equal(t, len(issue.Counties), ask.Find("input[name=in]").Length())

	a, b := issue.Counties[0], issue.Counties[1]
	messy := site.get("/region?by=townships&in=" + b.Slug + "&in=" + a.Slug)
	require.Equal(t, http.StatusFound, messy.Code)
	at := messy.Header().Get("Location")
	d := site.dom(t, at)
	clean(t, d)
	require.Contains(t, text(d.Find("h1")), a.Name+" and "+b.Name+" counties")
	require.Equal(t, 2, d.Find("table.figures tbody tr").Length())
	n := 0
	for _, c := range []string{a.Slug, b.Slug} {
		n += site.dom(t, "/county/"+c).Find(`.map-wide [data-place]`).Length()
	}
	require.Equal(t, n, d.Find(`.map-wide [data-place]`).Length())
	bags := 0
	for _, tr := range issue.Tranches {
		if tr.County == a.ID || tr.County == b.ID {
			bags += tr.Samples
		}
	}
	require.Equal(t, fmt.Sprint(bags), strings.ReplaceAll(text(d.Find("table.figures tfoot td").Eq(3)), ",", ""))

	_, query, _ := strings.Cut(at, "?")
	require.True(t, bytes.HasPrefix(site.get("/region.pdf?"+query).Body.Bytes(), []byte("%PDF")))
	require.Equal(t, http.StatusNotFound, site.get("/region.pdf").Code)
	require.Equal(t, http.StatusNotFound, site.get("/region?in=nowhere").Code)
}

// How to read a map is said of the map that is shown: lines are counted on maps of
// levels only, and white and dotted places are explained where there are any.
func TestHowToReadFollowsTheMap(t *testing.T) {
	site := newSite(inventedIssue())
	for _, m := range atlas.Measures() {
		for _, townships := range []bool{false, true} {
			c := stateChoice{measure: m, townships: townships}
			how := text(site.dom(t, "/"+c.query()).Find(".map-how"))
			level := m.Steps() == nil && m != atlas.Standings
			require.Equal(t, level, strings.Contains(how, "count the lines"), c.query())
			require.Equal(t, m == atlas.HighestLevel, strings.Contains(how, "highest level of any bag"), c.query())
			require.Equal(t, m.Steps() != nil, strings.Contains(how, "a greater number"), c.query())
			require.Equal(t, townships, strings.Contains(how, "White means"), c.query())
			require.Equal(t, townships, strings.Contains(how, "edged with dots"), c.query())
		}
	}
}
