package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/postgres"
)

// table is what GDAL's driver for OGC API - Features reads of a collection, by
// id: the live service, page by page.
func table(t *testing.T, base, collection, sql string) map[string]map[string]string {
	t.Helper()
	cmd := exec.Command("ogr2ogr", "-f", "CSV", "/vsistdout/", "-oo", "PAGE_SIZE=60", "OAPIF:"+base+"/features", "-sql", sql)
	out, err := cmd.Output()
	require.NoError(t, err, collection)
	rows, err := csv.NewReader(strings.NewReader(string(out))).ReadAll()
	require.NoError(t, err)
	got := map[string]map[string]string{}
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		got[m["id"]] = m
	}
	require.Len(t, got, len(rows)-1, "ids are of one feature each")
	return got
}

// A general GIS library (GDAL) reads the live service: as many features as there
// are places, their areas those of PostGIS, their figures those of the county's
// page; an edition by its code; a box and a filter; and a group that is taken back
// is gone with the next request.
func featuresByGDAL(ctx context.Context, t *testing.T, o *opened) {
	h, err := handler(ctx, o, site{Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	server := httptest.NewServer(h)
	defer server.Close()
	published := postgres.NewPublished(o.public)
	no, err := published.Latest(ctx)
	require.NoError(t, err)
	issue, err := published.Issue(ctx, no)
	require.NoError(t, err)

	for kind, collection := range map[string]string{"township": "townships", "county": "counties"} {
		got := table(t, server.URL, collection, `SELECT *, OGR_GEOM_AREA AS area FROM `+collection)
		rows, err := o.public.Query(ctx, `
			SELECT s.place::text, ST_Area(s.geom)
			  FROM open.place_shape s JOIN open.place p ON p.id = s.place
			 WHERE p.kind = $1 AND s.set = (SELECT set FROM open.edition WHERE no = $2)`, kind, no)
		require.NoError(t, err)
		n := 0
		for rows.Next() {
			var id string
			var area float64
			require.NoError(t, rows.Scan(&id, &area))
			n++
			read, err := strconv.ParseFloat(got[id]["area"], 64)
			require.NoError(t, err)
			require.Less(t, math.Abs(read/area-1), 1e-7, "nine decimals of a degree")
		}
		require.NoError(t, rows.Err())
		require.Len(t, got, n)
	}

	// The page of a county says the same.
	townships := table(t, server.URL, "townships", `SELECT * FROM townships`)
	county := issue.Counties[1]
	doc := readPage(t, server.URL+"/county/"+county.Slug)
	compared := 0
	for _, place := range county.Townships {
		f := townships[strconv.Itoa(int(place.ID))]
		require.Equal(t, place.Code, f["code"])
		cells := doc.Find("#t-" + place.Slug + " td.num").Map(func(_ int, s *goquery.Selection) string { return strings.TrimSpace(s.Text()) })
		if f["samples"] == "" {
			continue
		}
		require.Contains(t, cells, f["samples"], place.Code)
		require.Contains(t, cells, f["found"], place.Code)
		compared++
	}
	require.Greater(t, compared, 5)

	// An older edition by its code, and what is asked of the server itself.
	first := issue.Editions[0]
	older := table(t, server.URL, "counties", `SELECT * FROM "counties-`+first.Code+`"`)
	require.Len(t, older, len(issue.Counties))
	for _, f := range older {
		require.Equal(t, first.Code, f["edition"])
	}
	var page struct {
		Matched  int `json:"numberMatched"`
		Features []struct {
			ID         string         `json:"id"`
			Properties map[string]any `json:"properties"`
		} `json:"features"`
	}
	ask := func(path string) (etag string) {
		t.Helper()
		res, err := http.Get(server.URL + "/features/collections/" + path)
		require.NoError(t, err)
		defer res.Body.Close()
		require.Equal(t, http.StatusOK, res.StatusCode, path)
		page.Features = nil
		require.NoError(t, json.NewDecoder(res.Body).Decode(&page))
		return res.Header.Get("ETag")
	}
	ask("townships/items?shown=figures&county=" + county.Name)
	require.Equal(t, compared, page.Matched)
	ask("townships/items?bbox=-180,-90,180,90")
	require.Equal(t, len(townships), page.Matched)
	ask("townships/items?bbox=179,-90,-179,90")
	require.Zero(t, page.Matched)
	ask("counties/items?bbox=-40.5,41,-40.49,41.01")
	require.Positive(t, page.Matched)
	require.Less(t, page.Matched, 3)

	// Taken back.
	var of edition.Ref
	var place int32
	require.NoError(t, o.staff.QueryRow(ctx, `
		SELECT t.edition, t.id % 1000000, p.place
		  FROM open.tranche t JOIN open.tranche_place p ON p.tranche = t.id
		 WHERE t.kind = 'township'
		   AND 1 = (SELECT count(*) FROM open.tranche_place q JOIN open.tranche u ON u.id = q.tranche WHERE q.place = p.place AND u.kind <> 'remainder')
		 ORDER BY t.id DESC LIMIT 1`).Scan(&of.Edition, &of.ID, &place))
	at := "townships/items/" + strconv.Itoa(int(place))
	read := func() (string, map[string]any) {
		res, err := http.Get(server.URL + "/features/collections/" + at)
		require.NoError(t, err)
		defer res.Body.Close()
		var one struct {
			Properties map[string]any `json:"properties"`
		}
		require.NoError(t, json.NewDecoder(res.Body).Decode(&one))
		return res.Header.Get("ETag"), one.Properties
	}
	tag, before := read()
	require.NotNil(t, before["samples"])
	figures := figuresOf(t, server.URL, issue, int(place))
	for path, text := range figures() {
		require.Regexp(t, `\b`+fmt.Sprint(before["samples"])+`\b`, text, path)
	}
	require.NoError(t, postgres.NewRecalls(o.staff).Recall(ctx, of, desk.WrongCount, today(), account.ID{}))
	after, now := read()
	require.NotEqual(t, tag, after)
	require.Equal(t, "taken back", now["shown"])
	require.Nil(t, now["samples"])
	require.Nil(t, now["level"])
	for path, text := range figures() {
		require.NotRegexp(t, `\d`, text, "off %s within one request", path)
	}
}

func readPage(t *testing.T, address string) *goquery.Document {
	t.Helper()
	res, err := http.Get(address)
	require.NoError(t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	doc, err := goquery.NewDocumentFromReader(strings.NewReader(string(b)))
	require.NoError(t, err)
	return doc
}
