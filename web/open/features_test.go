package open

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// fakeShapes gives every group the same square, and knows which places a box
// meets.
type fakeShapes struct {
	met   map[place.ID]bool
	boxes [][4]float64
	no    int
}

func (f *fakeShapes) Extent(context.Context, int) ([4]float64, error) {
	return [4]float64{-41, 40, -39, 42}, nil
}

func (f *fakeShapes) Meeting(_ context.Context, no int, boxes [][4]float64) (map[place.ID]bool, error) {
	f.boxes, f.no = boxes, no
	return f.met, nil
}

func (f *fakeShapes) Ground(_ context.Context, no int, groups [][]place.ID) ([][]byte, error) {
	f.no = no
	out := make([][]byte, len(groups))
	for i := range groups {
		out[i] = []byte(`{"type":"MultiPolygon","coordinates":[[[[-40,41],[-39,41],[-39,42],[-40,41]]]]}`)
	}
	return out, nil
}

// gisSite serves features as the server does.
func gisSite(issue *gazette.Issue) (*site, *fakeShapes) {
	shapes := &fakeShapes{}
	s := newSiteOf(issue, []*catalog.Lang{catalog.English()}, func(d *MapDeps) { d.Shapes, d.BaseURL = shapes, "https://maps.example.org" })
	s.store.issue = func(no int) *gazette.Issue {
		i := *issue
		for _, e := range issue.Editions {
			if e.Number == no {
				i.Edition = e
			}
		}
		return &i
	}
	return s, shapes
}

func (s *site) json(t *testing.T, path string, headers ...string) map[string]any {
	t.Helper()
	w := s.get(path, headers...)
	require.Equal(t, http.StatusOK, w.Code, "%s: %s", path, w.Body)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &doc))
	return doc
}

// linkOf is the address of a document's link, without the host; "" for none.
func linkOf(doc map[string]any, rel string) string {
	list, _ := doc["links"].([]any)
	for _, l := range list {
		if l := l.(map[string]any); l["rel"] == rel {
			return strings.TrimPrefix(l["href"].(string), "https://maps.example.org")
		}
	}
	return ""
}

// Every document is what the service's own description says (OpenAPI 3.0, by
// github.com/getkin/kin-openapi), and has the links that OGC 17-069r4 asks for.
func TestFeatureDocuments(t *testing.T) {
	s, _ := gisSite(inventedIssue())
	w := s.get("/features/api")
	require.Equal(t, "application/vnd.oai.openapi+json;version=3.0", w.Header().Get("Content-Type"))
	api, err := openapi3.NewLoader().LoadFromData(w.Body.Bytes())
	require.NoError(t, err)
	require.NoError(t, api.Validate(t.Context()))
	require.Equal(t, "https://maps.example.org/features", api.Servers[0].URL)

	for path, c := range map[string]struct {
		at, media string
		rels      []string
	}{
		"/features":                                {"/", "application/json", []string{"self", "alternate", "service-desc", "service-doc", "conformance", "data"}},
		"/features/conformance":                    {"/conformance", "application/json", []string{"self"}},
		"/features/collections":                    {"/collections", "application/json", []string{"self", "alternate"}},
		"/features/collections/townships":          {"/collections/{collectionId}", "application/json", []string{"self", "items"}},
		"/features/collections/counties/items":     {"/collections/{collectionId}/items", "application/geo+json", []string{"self", "alternate", "collection"}},
		"/features/collections/joined/items":       {"/collections/{collectionId}/items", "application/geo+json", []string{"self"}},
		"/features/collections/counties/items/600": {"/collections/{collectionId}/items/{featureId}", "application/geo+json", []string{"self", "alternate", "collection"}},
	} {
		t.Run(path, func(t *testing.T) {
			w := s.get(path)
			require.Equal(t, http.StatusOK, w.Code, w.Body.String())
			require.Equal(t, c.media, w.Header().Get("Content-Type"))
			require.Equal(t, "*", w.Header().Get("Access-Control-Allow-Origin"))
			var doc any
			require.NoError(t, json.Unmarshal(w.Body.Bytes(), &doc))
			schema := api.Paths.Find(c.at).Get.Responses.Status(200).Value.Content.Get(c.media).Schema.Value
			require.NoError(t, schema.VisitJSON(doc))
			for _, rel := range c.rels {
				require.NotEmpty(t, linkOf(doc.(map[string]any), rel), rel)
			}
			// The same as a page, in the frame of the site, by f= and by what is accepted.
			for _, page := range []*httptest.ResponseRecorder{s.get(path + "?f=html"), s.get(path, "Accept", "text/html,application/xhtml+xml,*/*;q=0.8")} {
				require.Equal(t, http.StatusOK, page.Code)
				require.Equal(t, "text/html; charset=utf-8", page.Header().Get("Content-Type"))
				d, err := goquery.NewDocumentFromReader(page.Body)
				require.NoError(t, err)
				require.Equal(t, 1, d.Find("h1").Length())
				require.NotContains(t, d.Find("main").Text(), "[")
				require.Empty(t, d.Find("[style], style, script:not([src])").Nodes)
			}
			// Whoever has it already gets nothing.
			again := s.get(path, "If-None-Match", w.Header().Get("ETag"))
			require.Equal(t, http.StatusNotModified, again.Code)
			require.Empty(t, again.Body.String())
		})
	}
	list := s.json(t, "/features/collections")["collections"].([]any)
	require.Len(t, list, 3*4, "the newest edition by its plain name, and three by their codes")
	classes := s.json(t, "/features/conformance")["conformsTo"].([]any)
	require.Contains(t, classes, "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson")
}

// Pages lead to each other, cover everything once, and say what the county's page
// says.
func TestFeaturePages(t *testing.T) {
	issue := inventedIssue()
	s, _ := gisSite(issue)
	index, err := gazette.NewIndex(issue)
	require.NoError(t, err)
	ids, pages := map[string]map[string]any{}, 0
	var before string
	for path := "/features/collections/townships/items?limit=100"; path != ""; pages++ {
		doc := s.json(t, path)
		features := doc["features"].([]any)
		require.EqualValues(t, len(features), doc["numberReturned"])
		require.Equal(t, issue.Edition.Code, doc["edition"])
		require.Equal(t, before != "", linkOf(doc, "prev") != "")
		if before != "" {
			require.Equal(t, before, linkOf(doc, "prev"))
		}
		for _, f := range features {
			f := f.(map[string]any)
			require.NotContains(t, ids, f["id"])
			ids[f["id"].(string)] = f["properties"].(map[string]any)
		}
		before, path = strings.TrimSuffix(path, "&offset=0"), linkOf(doc, "next")
	}
	require.Equal(t, 3, pages)
	all := 0
	for _, v := range index.State().Counties {
		for i := range v.Areas {
			a := &v.Areas[i]
			all++
			p := ids[strconv.Itoa(int(a.ID))]
			if !a.HasFigures() {
				require.Nil(t, p["samples"], "nothing is not zero")
				require.Nil(t, p["level"])
				continue
			}
			require.EqualValues(t, a.Samples, p["samples"])
			require.EqualValues(t, a.Finds, p["found"])
			require.EqualValues(t, a.Level.Rank, p["level_rank"])
			require.Equal(t, issue.Scheme.Classes[a.Level.Rank].Name, p["level"])
		}
	}
	require.Len(t, ids, all)

	plover := s.json(t, "/features/collections/townships/items?county=Plover&shown=figures")
	v, _ := index.County("plover")
	require.EqualValues(t, v.Shown, plover["numberMatched"])
	joined := s.json(t, "/features/collections/joined/items?county=Plover")
	require.EqualValues(t, len(v.Joined), joined["numberMatched"])
	first := joined["features"].([]any)[0].(map[string]any)
	require.Equal(t, "600-1", first["id"])
	require.EqualValues(t, v.Joined[0].Samples, first["properties"].(map[string]any)["samples"])
}

// A small group tells none found, unconfirmed and found without their levels (rule 7).
// The levels, and what is found without one, add up to the bags all the same: with the
// county's page, 13 none found, 2 unconfirmed, 1 low and 4 without a level are 20.
func TestLevelsOfFeaturesAddUp(t *testing.T) {
	issue := small()
	issue.Tranches[1].Coarse, issue.Tranches[1].Counts = true, []int{1, 1, 4}
	s, _ := gisSite(issue)
	doc := s.json(t, "/features/collections/counties/items?name=Plover")
	p := doc["features"].([]any)[0].(map[string]any)["properties"].(map[string]any)
	sum := p["found_level_not_shown"].(float64)
	for i, want := range []float64{13, 2, 1, 0, 0} {
		n := p["level_"+strconv.Itoa(i)+"_"+issue.Scheme.Classes[i].Name]
		require.Equal(t, want, n, issue.Scheme.Classes[i].Name)
		sum += want
	}
	require.Equal(t, 4.0, p["found_level_not_shown"])
	require.Equal(t, p["samples"], sum)
	require.Equal(t, p["none_found"], p["level_0_none"])
}

func TestFeatureQuestions(t *testing.T) {
	s, shapes := gisSite(inventedIssue())
	shapes.met = map[place.ID]bool{600: true, 601: true}
	doc := s.json(t, "/features/collections/counties/items?bbox=170,-10,-170,10&datetime=2020-01-01/..")
	require.EqualValues(t, 1, doc["numberMatched"])
	require.Len(t, shapes.boxes, 2, "around the back of the earth")
	require.Equal(t, 12, shapes.no)
	older := s.json(t, "/features/collections/counties-W4TR-7H/items?limit=1")
	require.Equal(t, "W4TR-7H", older["edition"])
	require.Equal(t, 11, shapes.no, "drawn with its own boundaries")

	for path, status := range map[string]int{
		"/features/collections/townships/items?limit=0":       400,
		"/features/collections/townships/items?limit=many":    400,
		"/features/collections/townships/items?bbox=1,2":      400,
		"/features/collections/townships/items?datetime=x":    400,
		"/features/collections/townships/items?eggs=4":        400,
		"/features/collections/townships/items?f=xml":         400,
		"/features/collections/townships/items?a=%zz":         400,
		"/features?limit=3":                                   400,
		"/features/collections/townships/items/601?limit=3":   400,
		"/features/collections/samples":                       404,
		"/features/collections/samples/items":                 404,
		"/features/collections/townships-AAAA-AA/items":       404,
		"/features/collections/townships-/items":              404,
		"/features/collections/townships/items/0":             404,
		"/features/collections/townships/items/601%20or%201":  404,
		"/features/collections/townships/items/%3Cscript%3E1": 404,
	} {
		w := s.get(path)
		require.Equal(t, status, w.Code, path)
		require.Equal(t, "application/json", w.Header().Get("Content-Type"), path)
		require.Empty(t, w.Header().Get("ETag"), path)
		var e map[string]any
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &e))
		require.NotEmpty(t, e["code"], path)
		require.NotEmpty(t, e["description"], path)
		page := s.get(path, "Accept", "text/html")
		require.Equal(t, status, page.Code, path)
		require.NotContains(t, page.Body.String(), "<script>1")
	}
	require.Equal(t, http.StatusNotAcceptable, s.get("/features", "Accept", "image/png").Code)
	const evil = "/features/collections/townships/items?f=html&name=%22%3E%3Cscript%3Ealert(1)%3C/script%3E"
	require.NotContains(t, s.get(evil).Body.String(), "<script>alert")
	require.NotContains(t, s.get(strings.Replace(evil, "name=", "bbox=", 1)).Body.String(), "<script>alert")
}

// Browsers of other sites ask first, and may read.
func TestFeaturesFromOtherSites(t *testing.T) {
	s, _ := gisSite(inventedIssue())
	r := httptest.NewRequest(http.MethodOptions, "/features/collections/townships/items", nil)
	r.Header.Set("Origin", "https://other.example")
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	require.Equal(t, http.StatusNoContent, w.Code)
	require.Equal(t, "*", w.Header().Get("Access-Control-Allow-Origin"))
	require.Contains(t, w.Header().Get("Access-Control-Allow-Methods"), "GET")
	require.Equal(t, "cross-origin", s.get("/features").Header().Get("Cross-Origin-Resource-Policy"))
	require.Contains(t, s.get("/features").Header().Values("Vary"), "Accept")
}

// What is kept is asked about each time, and made anew when a figure is taken
// back, an edition withdrawn, or another released.
func TestFeaturesAreFresh(t *testing.T) {
	s, _ := gisSite(inventedIssue())
	const path = "/features/collections/townships/items?limit=2"
	tag := s.get(path).Header().Get("ETag")
	require.Equal(t, "no-cache", s.get(path).Header().Get("Cache-Control"))
	require.NotEqual(t, tag, s.get(path+"&offset=2").Header().Get("ETag"))
	require.NotEqual(t, tag, s.get(path, "Accept", "text/html").Header().Get("ETag"))
	require.Equal(t, tag, s.get(path).Header().Get("ETag"))
	s.store.gone.Store(1)
	require.Equal(t, http.StatusOK, s.get(path, "If-None-Match", tag).Code)
	require.NotEqual(t, tag, s.get(path).Header().Get("ETag"))

	// Another name for a place is part of no edition.
	tag = s.get(path).Header().Get("ETag")
	renamed := inventedIssue()
	renamed.Counties[0].Townships[0].Name = "Wexford"
	s.store.issue = func(int) *gazette.Issue { return renamed }
	s.clock.forward(freshFor)
	again := s.get(path, "If-None-Match", tag)
	require.Equal(t, http.StatusOK, again.Code)
	require.Contains(t, again.Body.String(), "Wexford")
}

// Before the first edition there are places without figures; before any
// boundaries there is nothing.
func TestFeaturesBeforeTheFirstEdition(t *testing.T) {
	issue := inventedIssue()
	issue.Edition, issue.Editions, issue.Tranches, issue.Falls = gazette.Edition{K: 3}, nil, nil, nil
	s, _ := gisSite(issue)
	doc := s.json(t, "/features/collections/counties/items")
	require.EqualValues(t, 12, doc["numberMatched"])
	require.Contains(t, doc["note"], "No map has been released yet")
	require.Len(t, s.json(t, "/features/collections")["collections"].([]any), 3)
	s, _ = gisSite(inventedIssue())
	s.store.issue = func(int) *gazette.Issue { return nil }
	require.ErrorIs(t, errOf(t, s), fault.ErrNotFound)
}

func errOf(t *testing.T, s *site) error {
	t.Helper()
	if w := s.get("/features"); w.Code == http.StatusNotFound {
		return fault.ErrNotFound
	}
	return nil
}

// In another language addresses keep to it; names of fields do not change.
func TestFeaturesInSpanish(t *testing.T) {
	s := newSiteOf(inventedIssue(), []*catalog.Lang{catalog.English(), catalog.Choose("es").At("/es")}, func(d *MapDeps) {
		d.Shapes, d.BaseURL = &fakeShapes{}, "https://maps.example.org"
	})
	doc := s.json(t, "/es/features")
	require.Equal(t, "/es/features/collections", linkOf(doc, "data"))
	require.Contains(t, doc["description"], "cifras publicadas")
	one := s.json(t, "/es/features/collections/counties/items/600")
	require.Contains(t, one["properties"], "samples")
}
