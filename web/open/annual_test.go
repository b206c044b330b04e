package open

import (
	"archive/zip"
	"bytes"
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"

	"sixmile/internal/annual"
	"sixmile/internal/annual/fixture"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// yearFake is an invented edition, its land and its season.
type yearFake struct{ issue *gazette.Issue }

func (f yearFake) Version(context.Context) (gazette.Version, error) {
	return gazette.Version{Number: f.issue.Edition.Number}, nil
}
func (f yearFake) Issue(context.Context, int) (*gazette.Issue, error) { return f.issue, nil }
func (f yearFake) Season(_ context.Context, y int) (annual.Period, error) {
	return annual.Period{Year: y, From: time.Date(y, 8, 1, 0, 0, 0, 0, time.UTC), To: time.Date(y+1, 7, 31, 0, 0, 0, 0, time.UTC)}, nil
}
func (f yearFake) Outlines(_ context.Context, _ int, kind place.Kind, see func(place.ID, *geom.MultiPolygon, float64) error) error {
	box := geom.NewMultiPolygonFlat(geom.XY, []float64{0, 0, 1, 0, 1, 1, 0, 1, 0, 0}, [][]int{{10}})
	for _, c := range f.issue.Counties {
		if kind == place.County {
			if err := see(c.ID, box, 1); err != nil {
				return err
			}
			continue
		}
		for _, t := range c.Townships {
			if err := see(t.ID, box, 1); err != nil {
				return err
			}
		}
	}
	return nil
}

func yearPages(issue *gazette.Issue, l *catalog.Lang) http.Handler {
	f := yearFake{issue}
	router := chi.NewRouter()
	for _, r := range MapRoutes(MapDeps{Lang: l, About: desk.About{Name: "Sixmile <script>alert(1)</script>", State: "Tamarack"}, Editions: f, Log: slog.New(slog.DiscardHandler), Years: YearDeps{Land: f, Seasons: f}}) {
		router.Method(r.Method, r.Path, http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
			if err := r.Handler(w, req); err != nil {
				http.Error(w, err.Error(), http.StatusNotFound)
			}
		}))
	}
	return router
}

// The page leads to the archive of the newest edition; it is the public copy, the
// same for whoever asks, and an address with another code leads nowhere.
func TestPublicSummary(t *testing.T) {
	for _, l := range []*catalog.Lang{catalog.English(), catalog.Spanish().At("/es")} {
		h := yearPages(fixture.Issue(), l)
		ask := func(path string, head ...string) *httptest.ResponseRecorder {
			r := httptest.NewRequest(http.MethodGet, path, nil)
			for i := 0; i+1 < len(head); i += 2 {
				r.Header.Set(head[i], head[i+1])
			}
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			return w
		}
		page := ask("/annual")
		require.Equal(t, http.StatusOK, page.Code)
		doc, err := goquery.NewDocumentFromReader(page.Body)
		require.NoError(t, err)
		require.Empty(t, doc.Find("main script").Nodes)
		require.NotContains(t, doc.Find("main").Text(), "[")
		require.Equal(t, l.Say("yearbook.title"), doc.Find("h1").Text())
		href, _ := doc.Find("a.button").Attr("href")
		require.Equal(t, l.Prefix()+"/annual/TEST-A3", href)
		file := ask("/annual/TEST-A3")
		require.Equal(t, http.StatusOK, file.Code)
		require.Contains(t, file.Header().Get("Content-Disposition"), "annual-season-2026-TEST-A3-public.zip")
		z, err := zip.NewReader(bytes.NewReader(file.Body.Bytes()), int64(file.Body.Len()))
		require.NoError(t, err)
		for _, f := range z.File {
			require.NotContains(t, strings.ToLower(f.Name), "release")
			require.NotContains(t, f.Name, "sponsor")
		}
		require.Equal(t, http.StatusNotModified, ask("/annual/TEST-A3", "If-None-Match", file.Header().Get("ETag")).Code)
		require.Equal(t, http.StatusNotFound, ask("/annual/TEST-A2").Code)
	}
	blank := fixture.Ground(1, 4)
	blank.Edition, blank.Editions = gazette.Edition{K: 3}, nil
	w := httptest.NewRecorder()
	yearPages(blank, catalog.English()).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/annual", nil))
	require.Contains(t, w.Body.String(), "The first map has not been released yet.")
}
