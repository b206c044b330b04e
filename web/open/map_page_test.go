package open

import (
	"net/http"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// clean holds what is true of every page here.
func clean(t *testing.T, d *goquery.Document) {
	t.Helper()
	require.Zero(t, d.Find("script, style, [style], [onclick], iframe, object").Length(), "nothing inline")
	require.Equal(t, 1, d.Find("h1").Length())
	ids := map[string]bool{}
	d.Find("[id]").Each(func(_ int, s *goquery.Selection) {
		id := s.AttrOr("id", "")
		require.False(t, ids[id], "id %q stands twice", id)
		ids[id] = true
	})
	d.Find(`a[href^="#"]`).Each(func(_ int, s *goquery.Selection) {
		require.True(t, ids[strings.TrimPrefix(s.AttrOr("href", ""), "#")], "%s leads nowhere", s.AttrOr("href", ""))
	})
	d.Find("use[href]").Each(func(_ int, s *goquery.Selection) {
		require.True(t, ids[strings.TrimPrefix(s.AttrOr("href", ""), "#")])
	})
	d.Find("table").Each(func(_ int, s *goquery.Selection) {
		require.Equal(t, 1, s.Find("caption").Length())
		require.Zero(t, s.Find("th:not([scope])").Length())
	})
	require.NotContains(t, d.Text(), "[map.", "a sentence is missing")
	require.NotContains(t, d.Text(), "[county.", "a sentence is missing")
	require.NotContains(t, d.Text(), "{", "an argument is missing")
}

// levelWords are the marks of the default scheme in the table's words.
var levelWords = map[string]string{
	"none-found": "none found", "unconfirmed": "unconfirmed", "found-1": "low", "found-2": "moderate", "found-3": "high",
}

func TestStatePage(t *testing.T) {
	issue := inventedIssue()
	d := newSite(issue).dom(t, "/")
	clean(t, d)
	require.Equal(t, "Map of January 2027, number K7QF-2M: bags received by December 31, 2026.", text(d.Find(".edition-line")))

	// The table, against sums made here.
	type sums struct{ shown, found, bags, finds int }
	shown, found := map[place.ID]bool{}, map[place.ID]bool{} // townships, however often they came
	want := map[place.ID]*sums{}
	for _, c := range issue.Counties {
		want[c.ID] = &sums{}
	}
	for _, tr := range issue.Tranches {
		s, finds := want[tr.County], tr.Counts[2]+tr.Counts[3]+tr.Counts[4]
		s.bags += tr.Samples
		s.finds += finds
		if tr.Kind == "township" {
			at := tr.Places[0]
			if !shown[at] {
				shown[at] = true
				s.shown++
			}
			if finds > 0 && !found[at] {
				found[at] = true
				s.found++
			}
		}
	}
	number := newTeller(t, issue).lang.Number
	rows := d.Find("table.figures tbody tr")
	require.Equal(t, len(issue.Counties), rows.Length())
	last := ""
	for _, c := range issue.Counties {
		row := rows.FilterFunction(func(_ int, s *goquery.Selection) bool { return text(s.Find("th")) == c.Name+" County" })
		require.Equal(t, "/county/"+c.Slug, row.Find("th a").AttrOr("href", ""))
		s := want[c.ID]
		if s.bags == 0 {
			require.Equal(t, c.Name+" County no figures yet 0 of 22 – – –", text(row))
			continue
		}
		require.Equal(t, number(s.shown)+" of 22", text(row.Find("td").Eq(1)))
		require.Equal(t, number(s.found), text(row.Find("td").Eq(2)))
		require.Equal(t, number(s.bags), text(row.Find("td").Eq(3)))
		require.Equal(t, number(s.finds), text(row.Find("td").Eq(4)))
		for _, paper := range []string{".map-wide", ".map-narrow"} {
			mark := d.Find(paper+` [data-place="`+itoa(int(c.ID))+`"]`).AttrOr("data-mark", "")
			require.Equal(t, levelWords[mark], text(row.Find("td.level")), "%s: the map and the table", c.Name)
		}
	}
	rows.Each(func(_ int, s *goquery.Selection) {
		name := text(s.Find("th"))
		require.Less(t, last, name, "by name")
		last = name
	})
	require.Equal(t, 12, d.Find(".map-wide a[href^='/county/']").Length())
	require.Equal(t, 12, d.Find(".map-narrow a[href^='/county/']").Length())
	require.Equal(t, "table", strings.TrimPrefix(d.Find(".skip-map").AttrOr("href", ""), "#"))
}

func TestBeforeTheFirstEdition(t *testing.T) {
	issue := inventedIssue()
	issue.Tranches, issue.Falls, issue.Edition = nil, nil, gazette.Edition{K: 5}
	s := newSite(issue)
	d := s.dom(t, "/")
	clean(t, d)
	require.Equal(t, "The first map is on its way", text(d.Find("h1")))
	require.Contains(t, text(d.Find(".lede")), "five or more senders")
	require.Zero(t, d.Find("table").Length())
	require.Equal(t, 12, d.Find(".county-list a").Length())
	require.Equal(t, 12, d.Find(`.map-wide [data-mark="no-figures"]`).Length())
	require.Equal(t, 1, d.Find(`.button[href="/send"]`).Length())
	d = s.dom(t, "/county/plover")
	clean(t, d)
	require.Contains(t, text(d.Find(".in-short")), "No township of Plover County has figures yet")
	require.NotContains(t, text(d.Find("main")), "Fall of")
}

// A program without boundaries has a first page all the same.
func TestBeforeBoundaries(t *testing.T) {
	s := newSite(nil)
	d := s.dom(t, "/")
	clean(t, d)
	require.Equal(t, "The first map is on its way", text(d.Find("h1")))
	require.Zero(t, d.Find("figure").Length())
	require.Equal(t, http.StatusNotFound, s.get("/county/plover").Code)
	require.Equal(t, http.StatusNotFound, s.get("/map.svg").Code)
}

func TestNotThere(t *testing.T) {
	s := newSite(inventedIssue())
	for _, path := range []string{"/county/atlantis", "/county/atlantis/map.svg", "/county/plover/map.svg?paper=vellum", "/county/%3Cscript%3E"} {
		require.Equal(t, http.StatusNotFound, s.get(path).Code, path)
	}
}

// A map by itself is for a file: it leads nowhere, and every paper is there.
func TestMapFiles(t *testing.T) {
	s := newSite(inventedIssue())
	for _, p := range atlas.Papers() {
		for _, path := range []string{"/map.svg", "/county/plover/map.svg"} {
			w := s.get(path + "?paper=" + p.String())
			require.Equal(t, http.StatusOK, w.Code)
			require.Equal(t, "image/svg+xml", w.Header().Get("Content-Type"))
			require.NotContains(t, w.Body.String(), "<a ")
			require.Contains(t, w.Body.String(), "K7QF-2M")
			require.Contains(t, w.Body.String(), `role="img"`)
		}
	}
	dark := "#b04d2f" // a fill of the color ramp
	require.Contains(t, s.get("/county/plover/map.svg").Body.String(), dark)
	require.NotContains(t, s.get("/county/plover/map.svg?ink=1").Body.String(), dark)
}

// Names and sources are data, and stay text wherever they are shown.
func TestNothingIsMarkup(t *testing.T) {
	const evil = `<script>alert(1)</script>"'&`
	issue := inventedIssue()
	issue.Edition.Code = evil
	issue.Scheme.Source = evil
	issue.Scheme.Classes[2].Name = evil
	issue.Rivers[0].Name = evil
	for i := range issue.Towns {
		issue.Towns[i].Name = evil
	}
	for i := range issue.Counties {
		issue.Counties[i].Name = evil + issue.Counties[i].Name
		for k := range issue.Counties[i].Townships {
			issue.Counties[i].Townships[k].Name = evil
		}
	}
	s := newSite(issue)
	for _, path := range []string{"/", "/county/plover", "/county/wexley"} {
		d := s.dom(t, path)
		require.Zero(t, d.Find("script").Length(), path)
		require.Contains(t, d.Text(), evil, path)
	}
	require.NotContains(t, s.get("/county/plover/map.svg").Body.String(), "<script")
}
