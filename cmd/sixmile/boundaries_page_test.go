package main

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/postgres"
)

// deskTop is a coordinator at the pages of a real program on a real database.
type deskTop struct {
	t      *testing.T
	base   string
	client *http.Client
	log    *lockedBuffer // the program's
}

func newDeskTop(t *testing.T, ctx context.Context, o *opened) *deskTop {
	t.Helper()
	log := &lockedBuffer{}
	h, err := handler(ctx, o, site{Log: slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))})
	require.NoError(t, err)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	d := &deskTop{t, server.URL, &http.Client{Jar: jar, Timeout: time.Minute}, log}
	hash, err := account.NewHasher().Hash(ctx, "six miles square")
	require.NoError(t, err)
	require.NoError(t, postgres.NewPeople(o.staff).Add(ctx, account.Staff{Login: "coordinator", Name: "C", Role: account.Coordinator}, hash))
	d.post("/office/sign-in", "login", "coordinator", "password", "six miles square")
	return d
}

// read answers with the page that a request leads to once nothing is worked on.
func (d *deskTop) read(res *http.Response, err error) (string, *goquery.Document) {
	d.t.Helper()
	for range 600 {
		require.NoError(d.t, err)
		doc, err2 := goquery.NewDocumentFromReader(res.Body)
		require.NoError(d.t, err2)
		require.NoError(d.t, res.Body.Close())
		at := res.Request.URL.Path
		if res.Header.Get("Refresh") == "" {
			require.Less(d.t, res.StatusCode, 500, at)
			return at, doc
		}
		time.Sleep(50 * time.Millisecond)
		res, err = d.client.Get(d.base + at)
	}
	d.t.Fatal("the work does not end")
	return "", nil
}

func (d *deskTop) get(path string) *goquery.Document {
	d.t.Helper()
	_, doc := d.read(d.client.Get(d.base + path))
	return doc
}

func (d *deskTop) post(path string, pairs ...string) (string, *goquery.Document) {
	d.t.Helper()
	form := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	return d.read(d.client.PostForm(d.base+path, form))
}

func (d *deskTop) send(path string, fields map[string]string, files map[string][]byte) (string, *goquery.Document) {
	d.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for name, v := range fields {
		require.NoError(d.t, form.WriteField(name, v))
	}
	for name, data := range files {
		part, err := form.CreateFormFile(name, "canaryfile "+name)
		require.NoError(d.t, err)
		_, err = part.Write(data)
		require.NoError(d.t, err)
	}
	require.NoError(d.t, form.Close())
	return d.read(d.client.Post(d.base+path, form.FormDataContentType(), &body))
}

// Counties of North Carolina in the datum of 1927 as a zipped shapefile (the
// Debian package r-cran-sf) from the page into a real PostGIS: read, looked over,
// drawn, accepted; next year's townships with a code changed, one moved and one
// gone, and the crosswalk that says so; a layer on top; a file back out.
func TestBoundariesByThePages(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	data := "--data=" + folder(t)
	code, _, errs := try(t, "", "found", data, "--name=Soil Watch", "--state=Nowhere")
	require.Zero(t, code, errs)
	o, err := database{Data: strings.TrimPrefix(data, "--data=")}.open(ctx, io.Discard)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, o.close()) })
	d := newDeskTop(t, ctx, o)

	counties := zipped(t, "/usr/lib/R/site-library/sf/shape/nc", ".shp", ".dbf", ".prj")
	unplaced := zipped(t, "/usr/lib/R/site-library/sf/shape/nc", ".shp", ".dbf")
	rect := func(code, x0, x1 string) string {
		return `{"type":"Feature","id":"canaryid","properties":{"code":"` + code + `","owner":"canaryowner"},"geometry":{"type":"Polygon","coordinates":[[[` +
			x0 + `,35.7],[` + x1 + `,35.7],[` + x1 + `,35.8],[` + x0 + `,35.8],[` + x0 + `,35.7]]]}}`
	}
	townships := func(list ...string) []byte {
		return []byte(`{"type":"FeatureCollection","features":[` + strings.Join(list, ",") + `]}`)
	}
	first := townships(rect("T1N R1E", "-78.7", "-78.6"), rect("T1N R2E", "-78.6", "-78.5"), rect("T1N R3E", "-78.8", "-78.7"))

	// Without its .prj the file does not say where it is: it is asked, and a raw
	// .prj is an answer.
	path, page := d.send("/office/boundaries", nil, map[string][]byte{"counties": unplaced, "townships": first})
	require.Equal(t, 1, page.Find("#counties-crs").Length())
	prj, err := os.ReadFile("/usr/lib/R/site-library/sf/shape/nc.prj")
	require.NoError(t, err)
	look := []string{"do", "look", "counties-code", "FIPS", "counties-name", "NAME", "townships-code", "code", "townships-name", "code", "counties-crs"}
	_, page = d.post(path, append(look, "no system")...)
	require.Equal(t, 1, page.Find("#counties-crs[aria-invalid]").Length())
	staged, page := d.post(path, append(look, string(prj))...)
	require.Contains(t, page.Find("main").Text(), "100", "counties")
	require.Contains(t, page.Find("main").Text(), "datum of 1927")
	res, err := d.client.Get(d.base + staged + "/map.svg")
	require.NoError(t, err)
	drawn, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Contains(t, string(drawn), "T1N R2E")
	at, page := d.post(staged, "do", "accept")
	require.Equal(t, "/office/boundaries/sets/1", at)
	d.plantGround(counties, look, townships(rect("canarycode", "-78.7", "-78.6"), rect("T1N R2E", "-78.6", "-78.5")))
	require.Contains(t, page.Find(".facts").Text(), "100")

	// Next year: R2E has another code on the same ground, R3E's code stands for half
	// of its ground, R1E is gone.
	next := townships(rect("T1N R9E", "-78.6", "-78.5"), rect("T1N R3E", "-78.75", "-78.7"))
	path, _ = d.send("/office/boundaries", nil, map[string][]byte{"counties": counties, "townships": next})
	staged, page = d.post(path, look[:len(look)-1]...)
	require.Contains(t, d.get("/office/boundaries").Find(".map-files").Text(), "Laid out on")
	require.Contains(t, page.Find(".findings").Text(), "One place has another code than before")
	require.Contains(t, page.Find(".findings").Text(), "on the map")
	at, page = d.post(staged, "do", "accept")
	require.Equal(t, "/office/boundaries/sets/2", at)
	walk := page.Find("#crosswalk ~ .scroll tbody tr").Map(func(_ int, s *goquery.Selection) string {
		return strings.Join(s.Find("th, td").Map(func(_ int, c *goquery.Selection) string { return c.Text() }), " ")
	})
	require.Len(t, walk, 3)
	require.Contains(t, walk[0], "Gone township T1N R1E")
	require.Contains(t, walk[1], "Other ground township T1N R3E T1N R3E")
	require.Contains(t, walk[1], "50% in it")
	require.Contains(t, walk[2], "Another code or name township T1N R2E T1N R9E")
	require.Contains(t, page.Find(".facts").Text(), "As before100")

	road := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"label":"Mill <script>alert(1)</script> Road","owner":"canaryowner"},"geometry":{"type":"LineString","coordinates":[[-78.7,35.7],[-78.5,35.8]]}}]}`
	path, _ = d.send("/office/boundaries/layers", map[string]string{"kind": "road", "position": "3"}, map[string][]byte{"layer": []byte(road)})
	_, page = d.post(path, "do", "put", "layer-name", "label")
	require.Contains(t, page.Find(".saved").Text(), "Roads: 1 feature is on the maps.")
	res, err = d.client.Get(d.base + "/county/wake/map.svg")
	require.NoError(t, err)
	drawn, err = io.ReadAll(res.Body)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Contains(t, string(drawn), `id="roads"`, "the public map draws it")
	require.Contains(t, string(drawn), ">road<")
	_, page = d.post("/office/boundaries/layer", "do", "arrange", "was", "Roads", "title", "Farm roads", "kind", "river", "position", "2")
	title, _ := page.Find("#layer-0").Attr("value")
	require.Equal(t, "Farm roads", title)
	_, page = d.post("/office/boundaries/layer", "do", "arrange", "was", "Farm roads", "title", "Farm roads", "kind", "town", "position", "2")
	require.Contains(t, page.Find("#layer-0-wrong").Text(), "cannot be drawn in that style")

	var stays int
	require.NoError(t, o.staff.QueryRow(ctx, `SELECT count(*) FROM priv.trail WHERE action = 'layer'`).Scan(&stays))
	require.Equal(t, 2, stays)
	trail := d.get("/office/trail").Find("main").Text()
	require.Contains(t, trail, "changed a reference layer")
	require.Contains(t, trail, "accepted boundaries")
	d.groundIsClean(ctx, o, strings.TrimPrefix(data, "--data="))
}

// plantGround uploads what is looked at and given up again: a set that is laid out
// and discarded, and files that cannot be read.
func (d *deskTop) plantGround(counties []byte, look []string, townships []byte) {
	path, _ := d.send("/office/boundaries", nil, map[string][]byte{"counties": counties, "townships": townships})
	staged, page := d.post(path, look[:len(look)-1]...)
	require.Contains(d.t, page.Find("main").Text(), "canarycode", "the office sees what it uploads")
	d.post(staged, "do", "discard")
	for _, broken := range []string{`{"type":"FeatureCollection","features":[{"canarybroken":`,
		`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"code":"canarybroken"},"geometry":{"type":"Polygon","coordinates":[[[999,999],[1,1],[999,999]]]}}]}`} {
		d.send("/office/boundaries", nil, map[string][]byte{"counties": counties, "townships": []byte(broken)})
	}
}

// groundIsClean: values of fields that nobody picked, and names of files, are in no
// file of the database, not even its write-ahead log. What was discarded or could
// not be read is on no page of the public's and in no line of the program's log or
// of PostgreSQL's.
func (d *deskTop) groundIsClean(ctx context.Context, o *opened, data string) {
	marks := map[string][]byte{}
	for _, m := range []string{"canaryowner", "canaryid", "canaryfile"} {
		marks[m] = []byte(m)
	}
	asAdmin(d.t, ctx, o, `CHECKPOINT`)
	found, read := traces(d.t, data, marks)
	require.Empty(d.t, found)
	require.Greater(d.t, read, int64(10<<20), "the files were not read")

	l := &leaks{t: d.t, planted: map[string]string{"a field": "canaryowner", "an id": "canaryid", "a file": "canaryfile", "discarded": "canarycode", "broken": "canarybroken"}}
	var err error
	l.h, err = handler(ctx, o, site{Log: slog.New(slog.NewTextHandler(d.log, nil))})
	require.NoError(d.t, err)
	for _, path := range []string{"/", "/bags", "/send", "/send?county=wake", "/county/wake", "/county/wake/map.svg", "/map.svg", "/map.pdf", "/region",
		"/places/outlines.json", "/features", "/features/collections/townships/items", "/no-such-page"} {
		_, body := l.ask(http.MethodGet, path, nil)
		require.Empty(d.t, l.search(path, body))
	}
	require.Empty(d.t, l.search("headers", l.heads.Bytes()))
	require.NotEmpty(d.t, d.log.String())
	require.Empty(d.t, l.search("the program's log", []byte(d.log.String())))
	server, err := os.ReadFile(filepath.Join(data, "server.log"))
	require.NoError(d.t, err)
	require.Contains(d.t, string(server), "starting PostgreSQL")
	require.Empty(d.t, l.search("PostgreSQL's log", server))
}

// zipped puts the parts of a shapefile into one file.
func zipped(t *testing.T, base string, parts ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, p := range parts {
		data, err := os.ReadFile(base + p)
		require.NoError(t, err)
		f, err := z.Create("canaryfile" + p)
		require.NoError(t, err)
		_, err = f.Write(data)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}
