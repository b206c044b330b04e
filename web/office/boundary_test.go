package office

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/web/shell"
)

const coordinator = account.Coordinator

// part is a file or a field of a form with files.
type part struct{ name, file, data string }

// sendParts sends such a form as a browser does.
func (w *world) sendParts(t *testing.T, path string, parts ...part) answer {
	t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for _, p := range parts {
		if p.file == "" {
			require.NoError(t, form.WriteField(p.name, p.data))
			continue
		}
		to, err := form.CreateFormFile(p.name, p.file)
		require.NoError(t, err)
		_, err = io.WriteString(to, p.data)
		require.NoError(t, err)
	}
	require.NoError(t, form.Close())
	return w.sendBody(t, path, form.FormDataContentType(), &body)
}

func (w *world) sendBody(t *testing.T, path, kind string, body io.Reader) answer {
	t.Helper()
	r := httptest.NewRequest(http.MethodPost, path, body)
	r.Header.Set("Content-Type", kind)
	r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: tokenOf(coordinator).String()})
	rec := httptest.NewRecorder()
	w.handler.ServeHTTP(rec, r)
	doc, err := goquery.NewDocumentFromReader(strings.NewReader(rec.Body.String()))
	require.NoError(t, err)
	require.NotContains(t, rec.Body.String(), "<script>alert")
	return answer{doc, rec.Code, rec.Header(), rec.Body.String()}
}

// arrived follows a page of work until nothing works on it, and where it leads.
func (w *world) arrived(t *testing.T, path string) (string, answer) {
	t.Helper()
	for until := time.Now().Add(10 * time.Second); time.Now().Before(until); {
		page := w.get(t, coordinator, path)
		switch {
		case page.status == http.StatusSeeOther:
			path = page.header.Get("Location")
		case page.header.Get("Refresh") == "":
			return path, page
		default:
			time.Sleep(2 * time.Millisecond)
		}
	}
	t.Fatal("the work does not end")
	return "", answer{}
}

// feature is a square of GeoJSON with text fields.
func featureText(x int, fields ...string) string {
	var props []string
	for i := 0; i+1 < len(fields); i += 2 {
		props = append(props, fmt.Sprintf("%q:%q", fields[i], fields[i+1]))
	}
	return fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":{"type":"Polygon","coordinates":[[[%d,40],[%d,40],[%d,41],[%d,41],[%d,40]]]}}`,
		strings.Join(props, ","), x, x+1, x+1, x, x)
}

func collectionText(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
}

func (w *world) sendBoth(t *testing.T, counties, townships string) (string, answer) {
	t.Helper()
	got := w.sendParts(t, "/office/boundaries", part{"counties", "c.geojson", counties}, part{"townships", "t.geojson", townships})
	require.Equal(t, http.StatusSeeOther, got.status, got.text("main"))
	return w.arrived(t, got.header.Get("Location"))
}

var (
	someCounties  = collectionText(featureText(-93, "FIPS", "001", "NAME", "Plover"))
	someTownships = collectionText(featureText(-93, "twp_no", "T1N R1E", "label", "Goose", "county", "001"))
)

func TestBoundariesFromFilesToForce(t *testing.T) {
	t.Setenv("TMPDIR", "/nowhere") // were anything to be put in a temporary file, it could not be
	w := newWorld(t)
	start := w.get(t, coordinator, "/office/boundaries")
	require.Equal(t, http.StatusOK, start.status)
	require.Contains(t, start.text("table"), "Set 2 in force August 1, 2026 2 3 2")
	path, page := w.sendBoth(t, someCounties, someTownships)
	require.Contains(t, page.text("main"), "c.geojson 1 feature, EPSG:4326")
	require.Equal(t, "FIPS", page.attr("#counties-code option[selected]", "value"), "guessed by its name")
	require.Equal(t, "NAME (Plover)", page.text("#counties-name option[selected]"))
	require.Equal(t, "county", page.attr("#townships-county option[selected]", "value"))
	require.Equal(t, "", page.attr("#townships-code option[selected]", "value"), "nothing looks like it")
	require.Zero(t, page.Find("textarea").Length(), "the files say where they are")

	form := page.fields("form:has([value=look])")
	refused := w.post(t, coordinator, path, with(form, "do", "look")...)
	require.Equal(t, http.StatusUnprocessableEntity, refused.status)
	require.Equal(t, 1, refused.Find("#townships-code[aria-invalid]").Length())
	require.Contains(t, refused.text(".problems"), "Choose the field")

	w.ground.found = geofile.Inspection{Places: 1, Kept: 1, SRID: 32615, Findings: []geofile.Finding{
		{Kind: geofile.Gap, Weight: geofile.Look, Total: 1, Items: []geofile.Item{{Places: []string{`<script>alert(1)</script>`}, Area: 4e6, Lon: -92.5, Lat: 40.5}}},
		{Kind: geofile.CutByLine, Weight: geofile.Note, Total: 2}}}
	w.ground.hold = make(chan struct{})
	form = with(form, "townships-code", "twp_no", "townships-name", "label", "do", "look")
	require.Equal(t, http.StatusSeeOther, w.post(t, coordinator, path, form...).status)
	waiting := w.get(t, coordinator, path)
	require.Equal(t, "1", waiting.header.Get("Refresh"))
	require.Equal(t, 1, waiting.Find("progress").Length())
	// It can be left, and found again; meanwhile nothing else can begin.
	require.Equal(t, path, w.get(t, coordinator, "/office/boundaries").attr(".note a", "href"))
	busy := w.sendParts(t, "/office/boundaries", part{"counties", "c", someCounties}, part{"townships", "t", someTownships})
	require.Equal(t, http.StatusConflict, busy.status)
	require.Contains(t, busy.text(".problems"), "One at a time")
	close(w.ground.hold)
	staged, report := w.arrived(t, path)
	require.Equal(t, "/office/boundaries/staged/"+geofile.Ticket{7}.String(), staged)
	require.Equal(t, "T1N R1E", w.ground.last.Townships[0].Code)
	require.Equal(t, "001", w.ground.last.Townships[0].County)
	require.Contains(t, report.text(".findings"), "One part of a county is in no township: <script>alert(1)</script> (1.5 square miles, near 40.5000, -92.5000). Number 1 on the map.")
	require.Contains(t, report.text("main"), "County lines cut 2 townships")

	drawn := w.get(t, coordinator, staged+"/map.svg")
	require.Equal(t, "image/svg+xml", drawn.header.Get("Content-Type"))
	require.Contains(t, drawn.body, "T1N R1E")
	require.Contains(t, drawn.body, ">1<", "the place to look at carries its number")

	require.Len(t, w.ground.sets, 2, "nothing is in force before it is accepted")
	require.Equal(t, http.StatusSeeOther, w.post(t, coordinator, staged, "do", "accept").status)
	set, done := w.arrived(t, staged)
	require.Equal(t, "/office/boundaries/sets/3?accepted", set)
	require.Contains(t, done.text(".saved"), "in force")
	w.post(t, coordinator, staged, "do", "accept")
	require.Len(t, w.ground.sets, 3, "pressed twice")
	require.Empty(t, w.office.plats.held(), "the files go")
}

func TestBoundariesDiscardedStoppedAndFailed(t *testing.T) {
	w := newWorld(t)
	look := func() string {
		path, page := w.sendBoth(t, someCounties, someTownships)
		w.post(t, coordinator, path, with(page.fields("form:has([value=look])"), "townships-code", "twp_no", "do", "look")...)
		return path
	}
	staged, _ := w.arrived(t, look())
	require.Equal(t, staged, w.get(t, coordinator, "/office/boundaries").attr(".map-files a", "href"), "laid out, listed")
	require.Equal(t, http.StatusSeeOther, w.post(t, coordinator, staged, "do", "discard").status)
	require.Equal(t, http.StatusNotFound, w.get(t, coordinator, staged+"/map.svg").status)

	w.ground.found = geofile.Inspection{Findings: []geofile.Finding{{Kind: geofile.Elsewhere, Weight: geofile.Stop, Total: 1}}}
	staged, page := w.arrived(t, look())
	require.Zero(t, page.Find("button[value=accept]").Length())
	w.post(t, coordinator, staged, "do", "accept")
	_, page = w.arrived(t, staged)
	require.Contains(t, page.text("[role=alert]"), "cannot be accepted")
	require.Len(t, w.ground.sets, 2)

	w.ground.found = geofile.Inspection{Known: 1}
	_, page = w.arrived(t, look())
	require.Contains(t, page.text(".saved"), "accepted before, as set 1")

	for err, says := range map[error]string{
		fmt.Errorf("Boundaries.Stage: %w: EPSG:9999 cannot be turned", geofile.ErrCRS): "The coordinate system of the file is not known: EPSG:9999",
		fmt.Errorf("secret 10.0.0.1 of the database"):                                  "Something failed on our side",
		fault.ErrConflict: "Other boundaries were accepted since",
	} {
		w.ground.failing = err
		_, page = w.arrived(t, look())
		require.Contains(t, page.text("[role=alert]"), says)
		require.NotContains(t, page.body, "10.0.0.1")
	}
}

// The files that people send by mistake, and those of people who mean harm: each
// is refused in words, at its own place, and the database is not asked.
func TestBoundaryFilesThatCannotBeUsed(t *testing.T) {
	bomb := zipBomb(t)
	tricks := zipText(t, "../../etc/cron.d/x.shp", "x", "/abs/x.dbf", "x")
	for name, c := range map[string]struct{ data, says string }{
		"no file at all": {"\x00\x01\x02\x03", "It is no GeoJSON, no zipped shapefile and no GeoPackage"},
		"cut short":      {someCounties[:60], "ends too early"},
		"truncated zip":  {"PK\x03\x04rest", ""},
		"bomb":           {bomb, "more than"},
		"paths":          {tricks, ""},
		"points":         {`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1,2]}}]}`, "only Polygon and MultiPolygon"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			w.office.plats.limits.Bytes = 64 << 10
			_, page := w.sendBoth(t, c.data, someTownships)
			require.Equal(t, 1, page.Find("fieldset:first-of-type [role=alert]").Length(), page.text("main"))
			require.Contains(t, strings.ToLower(page.text("fieldset:first-of-type [role=alert]")), strings.ToLower(c.says))
			require.Zero(t, page.Find("button[value=look]").Length())
			require.Equal(t, 1, page.Find("button[value=forget]").Length())
			require.Empty(t, w.ground.staged)
		})
	}
	w := newWorld(t)
	none := w.sendParts(t, "/office/boundaries", part{"counties", "c.geojson", someCounties})
	require.Equal(t, http.StatusUnprocessableEntity, none.status)
	require.Equal(t, 1, none.Find("#townships[aria-invalid]").Length())
	require.Equal(t, http.StatusUnprocessableEntity, w.post(t, coordinator, "/office/boundaries", "counties", "x").status, "no form with files")
	require.Equal(t, http.StatusNotFound, w.get(t, coordinator, "/office/boundaries/files/AAAAAAAAAAAAAAAAAAAAAA").status)
}

// A file over the limit is cut off while it comes in.
func TestBoundaryFileTooBig(t *testing.T) {
	w := newWorld(t)
	head := "--x\r\nContent-Disposition: form-data; name=\"counties\"; filename=\"c\"\r\n\r\n"
	endless := io.MultiReader(strings.NewReader(head), io.LimitReader(zeros{}, maxGround+2))
	got := w.sendBody(t, "/office/boundaries", "multipart/form-data; boundary=x", endless)
	require.Equal(t, http.StatusUnprocessableEntity, got.status)
	require.Contains(t, got.text("#counties-wrong"), "over 64 MB")
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func zipText(t *testing.T, namesAndData ...string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i+1 < len(namesAndData); i += 2 {
		f, err := z.Create(namesAndData[i])
		require.NoError(t, err)
		_, err = io.WriteString(f, namesAndData[i+1])
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.String()
}

// zipBomb is a shapefile of a few kilobytes that unpacks to two million bytes.
func zipBomb(t *testing.T) string {
	const rows, width = 32, 65535
	dbf := make([]byte, 32+32+1)
	dbf[0], dbf[64] = 3, '\r'
	binary.LittleEndian.PutUint32(dbf[4:], rows)
	binary.LittleEndian.PutUint16(dbf[8:], 65)
	binary.LittleEndian.PutUint16(dbf[10:], width)
	copy(dbf[32:], "CODE")
	dbf[32+11], dbf[32+16] = 'C', 254
	shp := make([]byte, 100)
	binary.BigEndian.PutUint32(shp, 9994)
	binary.BigEndian.PutUint32(shp[24:], 50+rows*6)
	binary.LittleEndian.PutUint32(shp[28:], 1000)
	binary.LittleEndian.PutUint32(shp[32:], 5)
	for i := range rows { // null shapes
		shp = binary.BigEndian.AppendUint32(shp, uint32(i+1))
		shp = append(shp, 0, 0, 0, 2, 0, 0, 0, 0)
	}
	return zipText(t, "x.shp", string(shp), "x.dbf", string(dbf)+strings.Repeat(" ", rows*width))
}

// Names of files, fields and values are shown as text.
func TestPlantedNamesOfBoundaryFilesStayText(t *testing.T) {
	const evil = `"><script>alert(1)</script>`
	w := newWorld(t)
	counties := strings.ReplaceAll(collectionText(featureText(-93, "CODE", "1", "XX", "YY")), `"XX":"YY"`, `"\"><script>alert(1)</script>":"\"><script>alert(1)</script>"`)
	got := w.sendParts(t, "/office/boundaries", part{"counties", evil, counties}, part{"townships", evil, someTownships})
	path, page := w.arrived(t, got.header.Get("Location"))
	require.Contains(t, page.text("main"), evil)
	form := page.fields("form:has([value=look])")
	wrong := w.post(t, coordinator, path, with(form, "counties-code", evil, "townships-code", evil, "do", "look")...)
	require.Equal(t, http.StatusSeeOther, wrong.status)
	_, page = w.arrived(t, path)
	require.Contains(t, page.text("[role=alert]"), "no feature has a field called", "a field that is not there is said, not believed")

	w.ground.layers[0].Title = evil
	require.Contains(t, w.get(t, coordinator, "/office/boundaries").attr("#layer-0", "value"), evil)
	require.Contains(t, w.get(t, coordinator, "/office/boundaries/sets/2").text("main"), "Dry Run <script>alert(1)</script>")
}

func TestReferenceLayers(t *testing.T) {
	w := newWorld(t)
	line := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"label":"Long Fork","rank":"2"},"geometry":{"type":"LineString","coordinates":[[-93,40],[-92,41]]}}]}`
	send := func(kind, at, data string) answer {
		return w.sendParts(t, "/office/boundaries/layers", part{"kind", "", kind}, part{"title", "", "County roads"}, part{"position", "", at}, part{"layer", "r.geojson", data})
	}
	for _, c := range [][3]string{{"pond", "1", "kind"}, {"road", "0", "position"}, {"road", "x", "position"}} {
		bad := send(c[0], c[1], line)
		require.Equal(t, http.StatusUnprocessableEntity, bad.status)
		require.Equal(t, 1, bad.Find("#"+c[2]+"[aria-invalid]").Length(), c)
		require.Equal(t, "County roads", bad.attr("#title", "value"), "what was typed stays")
	}
	path, page := w.arrived(t, send("road", "4", line).header.Get("Location"))
	require.Equal(t, "label", page.attr("#layer-name option[selected]", "value"))
	w.post(t, coordinator, path, with(page.fields("form:has([value=put])"), "do", "put")...)
	_, page = w.arrived(t, path)
	require.Contains(t, page.text(".saved"), "County roads: 1 feature is on the maps. 3 lie elsewhere and were left out.")
	require.Equal(t, "Long Fork", w.ground.put[0].Features[0].Name)
	require.Equal(t, [3]any{"road", 2, 4}, [3]any{w.ground.put[0].Features[0].Kind, w.ground.put[0].Features[0].Rank, w.ground.put[0].Position})

	path, page = w.arrived(t, send("town", "1", line).header.Get("Location"))
	w.post(t, coordinator, path, with(page.fields("form:has([value=put])"), "do", "put")...)
	_, page = w.arrived(t, path)
	require.Contains(t, page.text("[role=alert]"), "feature 1 cannot be drawn as a town")

	list := w.get(t, coordinator, "/office/boundaries")
	require.Equal(t, 2, list.Find("#layer-0-kind option").Length(), "lines may be rivers or roads")
	require.Equal(t, 1, list.Find("#layer-1-kind option").Length())
	form := list.fields(".layer-list li:first-child form")
	require.Equal(t, http.StatusSeeOther, w.post(t, coordinator, "/office/boundaries/layer", with(form, "title", "Creeks", "kind", "road", "position", "7", "do", "arrange")...).status)
	require.Equal(t, "Creeks", w.ground.layers[0].Title)
	taken := w.post(t, coordinator, "/office/boundaries/layer", "was", "Creeks", "title", "Towns", "kind", "road", "position", "7")
	require.Equal(t, http.StatusUnprocessableEntity, taken.status)
	require.Contains(t, taken.text("#layer-0-wrong"), "Another layer has this title")
	require.Equal(t, http.StatusSeeOther, w.post(t, coordinator, "/office/boundaries/layer", "was", "Creeks", "do", "drop").status)
	require.Len(t, w.ground.layers, 1)
	require.Equal(t, http.StatusNotFound, w.post(t, coordinator, "/office/boundaries/layer", "was", "Creeks", "do", "drop").status)
}

func TestOneSet(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, coordinator, "/office/boundaries/sets/2")
	require.Contains(t, page.text("table"), "Goose T1N R1E Plover 83% in it 36.0 square miles")
	require.Contains(t, page.text(".facts"), "Gone 2")
	require.Contains(t, page.text("details"), "1.1 T21N R8E, T22N R8E")
	require.Zero(t, w.get(t, coordinator, "/office/boundaries/sets/1").Find("#crosswalk").Length(), "nothing came before it")
	for _, no := range []string{"3", "0", "-1", "x"} {
		require.Equal(t, http.StatusNotFound, w.get(t, coordinator, "/office/boundaries/sets/"+no).status, no)
	}
	text := w.get(t, coordinator, "/office/boundaries/sets/2/boundaries.geojson")
	layer, err := geofile.ReadGeoJSON(strings.NewReader(text.body), geofile.DefaultLimits())
	require.NoError(t, err)
	require.Equal(t, "counties", layer.Features[0].Properties["layer"])
	pack := w.get(t, coordinator, "/office/boundaries/sets/2/boundaries.gpkg")
	names, err := geofile.Layers("x.gpkg", strings.NewReader(pack.body), int64(len(pack.body)), geofile.DefaultLimits())
	require.NoError(t, err)
	require.Equal(t, []string{"counties"}, names)
	require.Contains(t, pack.header.Get("Content-Disposition"), `filename="boundaries-2.gpkg"`)
}
