package open

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/gazette"
)

// BenchmarkCountyPageWarm is the server's time for a county page that was
// rendered before, the question for the newest edition left out. The aim is
// under 5 ms.
func BenchmarkCountyPageWarm(b *testing.B) {
	s := newSite(inventedIssue())
	r := httptest.NewRequest(http.MethodGet, "/county/plover", nil)
	r.Header.Set("Accept-Encoding", "gzip, br")
	var w *httptest.ResponseRecorder
	for b.Loop() {
		w = httptest.NewRecorder()
		s.ServeHTTP(w, r)
	}
	if w.Code != http.StatusOK {
		b.Fatal(w.Code)
	}
	b.ReportMetric(float64(w.Body.Len()), "bytes-packed")
	b.ReportMetric(float64(s.get("/county/plover").Body.Len()), "bytes")
}

// BenchmarkCountyPageCold is the first time that a page of an edition is asked
// for: sums are there, both maps are composed and painted, the page is written
// and packed.
func BenchmarkCountyPageCold(b *testing.B) {
	x, err := gazette.NewIndex(inventedIssue())
	if err != nil {
		b.Fatal(err)
	}
	t := teller{lang: catalog.English(), about: desk.About{Name: "Sixmile", State: "Aldermark"}, x: x}
	v, _ := x.County("plover")
	for b.Loop() {
		c, err := t.view(v, nil, false)
		if err != nil {
			b.Fatal(err)
		}
		p := t.countyPage(c)
		if p.Wide, p.Narrow, err = t.both(t.countyMap(v)); err != nil {
			b.Fatal(err)
		}
		if _, err := page(x.Issue.Edition, countyTempl(p)); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkCompose is one county map, composed and painted.
func BenchmarkCompose(b *testing.B) {
	x, err := gazette.NewIndex(inventedIssue())
	if err != nil {
		b.Fatal(err)
	}
	t := teller{lang: catalog.English(), about: desk.About{State: "Aldermark"}, x: x}
	v, _ := x.County("plover")
	for b.Loop() {
		if _, err := t.paint(t.countyScene(v, wideDrawing), wideDrawing); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkIndex is what a new edition costs before its first page.
func BenchmarkIndex(b *testing.B) {
	issue := inventedIssue()
	for b.Loop() {
		if _, err := gazette.NewIndex(issue); err != nil {
			b.Fatal(err)
		}
	}
}
