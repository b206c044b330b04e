package geofile

import (
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"
)

// wrap makes a collection of one feature with a geometry.
func wrap(geometry string) string {
	return `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"code":"T1","name":"One"},"geometry":` + geometry + `}]}`
}

const (
	// RFC 7946 appendix A.3, polygon with a hole, and A.5, multipolygon (read).
	rfcPolygon = `{"type": "Polygon","coordinates": [
		[[100.0, 0.0],[101.0, 0.0],[101.0, 1.0],[100.0, 1.0],[100.0, 0.0]],
		[[100.8, 0.8],[100.8, 0.2],[100.2, 0.2],[100.2, 0.8],[100.8, 0.8]]]}`
	rfcMultiPolygon = `{"type": "MultiPolygon","coordinates": [
		[[[102.0, 2.0],[103.0, 2.0],[103.0, 3.0],[102.0, 3.0],[102.0, 2.0]]],
		[[[100.0, 0.0],[101.0, 0.0],[101.0, 1.0],[100.0, 1.0],[100.0, 0.0]],
		 [[100.2, 0.2],[100.2, 0.8],[100.8, 0.8],[100.8, 0.2],[100.2, 0.2]]]]}`
	square = `{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1],[0,0]]]}`
)

func read(s string) (Layer, error) { return ReadGeoJSON(strings.NewReader(s), DefaultLimits()) }

func TestReadsRFCExamples(t *testing.T) {
	l, err := read(wrap(rfcPolygon))
	require.NoError(t, err)
	require.Equal(t, 4326, l.SRID)
	require.Len(t, l.Features, 1)
	require.Equal(t, map[string]string{"code": "T1", "name": "One"}, l.Features[0].Properties)
	g := l.Features[0].Geometry
	require.Equal(t, 4326, g.SRID())
	require.Equal(t, [][]int{{10, 20}}, g.Endss())
	require.Equal(t, []float64{100, 0, 101, 0, 101, 1, 100, 1, 100, 0, 100.8, 0.8}, g.FlatCoords()[:12])
	require.InDelta(t, 1-0.36, g.Area(), 1e-12, "one square less a hole of 0.6 by 0.6")

	l, err = read(wrap(rfcMultiPolygon))
	require.NoError(t, err)
	require.Equal(t, [][]int{{10}, {20, 30}}, l.Features[0].Geometry.Endss())
}

func TestReadAllows(t *testing.T) {
	plainSquare, err := read(wrap(square))
	require.NoError(t, err)
	for name, text := range map[string]string{
		"a byte-order mark":      "\ufeff" + wrap(square),
		"space around":           "\r\n\t " + wrap(square) + "\r\n",
		"heights":                wrap(strings.ReplaceAll(square, "0]", "0,255.5,3]")),
		"members before":         strings.Replace(wrap(square), `{"type"`, `{"bbox":[0,0,1,1],"name":{"features":[]},"type"`, 1),
		"members after":          strings.TrimSuffix(wrap(square), "}") + `,"x":null}`,
		"features before type":   `{"features":[{"properties":{"code":"T1","name":"One"},"geometry":` + square + `,"type":"Feature"}],"type":"FeatureCollection"}`,
		"an empty part":          wrap(`{"type":"MultiPolygon","coordinates":[[],[[[0,0],[1,0],[1,1],[0,1],[0,0]]]]}`),
		"numbers of other forms": wrap(strings.NewReplacer("[1,", "[1.0e0,", ",1]", ",10E-1]").Replace(square)),
	} {
		t.Run(name, func(t *testing.T) {
			l, err := read(text)
			require.NoError(t, err)
			require.Equal(t, plainSquare.Features[0].Properties, l.Features[0].Properties)
			require.Equal(t, plainSquare.Features[0].Geometry.FlatCoords(), l.Features[0].Geometry.FlatCoords())
			require.Equal(t, plainSquare.Features[0].Geometry.Endss(), l.Features[0].Geometry.Endss())
		})
	}
}

func TestReadProperties(t *testing.T) {
	l, err := read(`{"type":"FeatureCollection","features":[{"type":"Feature","id":19169,"geometry":` + square + `,
		"properties":{"a":"é\u00e9","b":007.5,"c":true,"d":null,"e":[1],"f":{"g":1}}}]}`)
	require.ErrorIs(t, err, ErrNotGeoJSON, "007.5 is no JSON number")
	l, err = read(`{"type":"FeatureCollection","features":[{"type":"Feature","id":19169,"geometry":` + square + `,
		"properties":{"a":"é\u00e9","b":7.50,"c":true,"d":null,"e":[1],"f":{"g":1}}},
		{"type":"Feature","id":2,"properties":{"id":"01"},"geometry":` + square + `},
		{"type":"Feature","properties":null,"geometry":` + square + `}]}`)
	require.NoError(t, err)
	require.Equal(t, map[string]string{"a": "éé", "b": "7.50", "c": "true", "d": "", "id": "19169"}, l.Features[0].Properties)
	require.Equal(t, map[string]string{"id": "01"}, l.Features[1].Properties)
	require.Empty(t, l.Features[2].Properties)
	require.Equal(t, []string{"a", "b", "c", "d", "id"}, l.Fields())
}

func TestReadCRS(t *testing.T) {
	name := func(s string) string { return `{"type":"name","properties":{"name":"` + s + `"}}` }
	for crs, want := range map[string]int{
		`null`:                                4326,
		name("urn:ogc:def:crs:OGC:1.3:CRS84"): 4326,
		name("urn:ogc:def:crs:OGC::CRS84"):    4326,
		name("http://www.opengis.net/def/crs/OGC/1.3/CRS84"):       4326,
		name("urn:ogc:def:crs:OGC:1.3:CRS83"):                      4269,
		name("urn:ogc:def:crs:EPSG::26915"):                        26915,
		name("urn:ogc:def:crs:EPSG:6.6:4326"):                      4326,
		name("EPSG:4269"):                                          4269,
		name("epsg:3857"):                                          3857,
		name("http://www.opengis.net/def/crs/EPSG/0/5070"):         5070,
		`{"type":"EPSG","properties":{"code":2793}}`:               2793,
		`{"type":"link","properties":{"href":"x","type":"proj4"}}`: 0,
		name("local grid"):                                         0,
		name("EPSG:"):                                              0,
		name("EPSG:000000"):                                        0,
		`7`:                                                        0,
		`{}`:                                                       0,
	} {
		for _, text := range []string{
			strings.Replace(wrap(square), `"features"`, `"crs":`+crs+`,"features"`, 1),
			strings.TrimSuffix(wrap(square), "}") + `,"crs":` + crs + "}",
		} {
			l, err := read(text)
			if want == 0 {
				require.ErrorIs(t, err, ErrCRS, crs)
				continue
			}
			require.NoError(t, err, crs)
			require.Equal(t, want, l.SRID, crs)
			require.Equal(t, want, l.Features[0].Geometry.SRID(), crs)
		}
	}
}

func TestReadRefusesFiles(t *testing.T) {
	for name, text := range map[string]string{
		"nothing":              "",
		"only a mark":          "\ufeff",
		"UTF-16":               "\xff\xfe{\x00",
		"a zip archive":        "PK\x03\x04",
		"gzip":                 "\x1f\x8b\x08",
		"a table":              "code,name\n1,One\n",
		"a lone geometry":      square,
		"a lone feature":       `{"type":"Feature","properties":{},"geometry":` + square + `}`,
		"a topology":           `{"type":"Topology","objects":{},"arcs":[]}`,
		"a list":               `[1,2]`,
		"no features":          `{"type":"FeatureCollection"}`,
		"features no list":     `{"type":"FeatureCollection","features":{}}`,
		"two lists":            `{"type":"FeatureCollection","features":[],"features":[]}`,
		"no type":              `{"features":[]}`,
		"cut short":            wrap(square)[:150],
		"cut at the end":       strings.TrimSuffix(wrap(square), "]}"),
		"something after":      wrap(square) + "x",
		"two collections":      wrap(square) + wrap(square),
		"a stray comma":        strings.Replace(wrap(square), "]}}]", "]}},]", 1),
		"nested without end":   `{"type":"FeatureCollection","features":` + strings.Repeat("[", 100_000),
		"coordinates run wild": wrap(`{"type":"Polygon","coordinates":` + strings.Repeat("[", 100_000)),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := read(text)
			require.ErrorIs(t, err, ErrNotGeoJSON)
		})
	}
}

func TestReadReportsFeatures(t *testing.T) {
	for name, tc := range map[string]struct {
		geometry string
		kind     Kind
	}{
		"point":              {`{"type":"Point","coordinates":[1,2]}`, NotPolygon},
		"line":               {`{"type":"LineString","coordinates":[[1,2],[3,4]]}`, NotPolygon},
		"collection":         {`{"type":"GeometryCollection","geometries":[]}`, NotPolygon},
		"no type":            {`{}`, NotPolygon},
		"null":               {`null`, NoGeometry},
		"empty polygon":      {`{"type":"Polygon","coordinates":[]}`, NoGeometry},
		"empty multipolygon": {`{"type":"MultiPolygon","coordinates":[[]]}`, NoGeometry},
		"no coordinates":     {`{"type":"Polygon"}`, BadPosition},
		"null coordinates":   {`{"type":"Polygon","coordinates":null}`, BadPosition},
		"too shallow":        {`{"type":"Polygon","coordinates":[[0,0],[1,1]]}`, BadPosition},
		"too deep":           {`{"type":"Polygon","coordinates":[[[[0,0],[1,0],[1,1],[0,0]]]]}`, BadPosition},
		"one number":         {`{"type":"Polygon","coordinates":[[[0],[1],[1],[0]]]}`, BadPosition},
		"words":              {`{"type":"Polygon","coordinates":[[["0","0"]]]}`, BadPosition},
		"null inside":        {`{"type":"Polygon","coordinates":[[[0,null]]]}`, BadPosition},
		"huge number":        {`{"type":"Polygon","coordinates":[[[1e999,0],[1,0],[1,1],[1e999,0]]]}`, BadPosition},
		"no object":          {`7`, BadFeature},
	} {
		t.Run(name, func(t *testing.T) {
			good := strings.TrimSuffix(wrap(square), "]}")
			bad := `{"type":"Feature","properties":{},"geometry":` + tc.geometry + `}`
			_, err := read(good + "," + bad + "," + bad + "]}")
			var r *Report
			require.ErrorAs(t, err, &r)
			require.Equal(t, 2, r.Total, "reading goes on after the first")
			require.Equal(t, 2, r.Problems[0].Feature)
			require.Equal(t, 3, r.Problems[1].Feature)
			require.Equal(t, tc.kind, r.Problems[0].Kind)
			require.Contains(t, err.Error(), "Feature 2: ")
		})
	}
	_, err := read(`{"type":"FeatureCollection","features":[5,{"type":"Other"},{"type":"Feature","properties":[]}]}`)
	var r *Report
	require.ErrorAs(t, err, &r)
	require.Equal(t, 3, r.Total)
}

func TestReportStaysReadable(t *testing.T) {
	text := `{"type":"FeatureCollection","features":[` + strings.Repeat("5,", 999) + `5]}`
	_, err := read(text)
	var r *Report
	require.ErrorAs(t, err, &r)
	require.Equal(t, 1000, r.Total)
	require.Len(t, r.Problems, maxProblems)
	require.Contains(t, err.Error(), "And 950 more.")
}

func TestLimits(t *testing.T) {
	text := `{"type":"FeatureCollection","features":[` +
		strings.Repeat(`{"type":"Feature","properties":{},"geometry":`+square+`},`, 3) +
		`{"type":"Feature","properties":{},"geometry":` + square + `}]}`
	fits := Limits{Bytes: int64(len(text)), Features: 4, Points: 20, Columns: 1, Cells: 8}
	_, err := ReadGeoJSON(strings.NewReader(text), fits)
	require.NoError(t, err)
	for _, tc := range []struct {
		change func(*Limits)
		want   LimitError
	}{
		{func(l *Limits) { l.Bytes-- }, LimitError{"bytes", fits.Bytes - 1}},
		{func(l *Limits) { l.Features-- }, LimitError{"features", 3}},
		{func(l *Limits) { l.Points-- }, LimitError{"points", 19}},
		{func(l *Limits) { *l = Limits{} }, LimitError{"bytes", 0}},
	} {
		lim := fits
		tc.change(&lim)
		for _, r := range []io.Reader{strings.NewReader(text), iotest.OneByteReader(strings.NewReader(text))} {
			_, err := ReadGeoJSON(r, lim)
			var over *LimitError
			require.ErrorAs(t, err, &over)
			require.Equal(t, tc.want, *over)
		}
	}
	_, err = ReadGeoJSON(iotest.ErrReader(io.ErrClosedPipe), DefaultLimits())
	require.ErrorIs(t, err, io.ErrClosedPipe, "a failing disk is not a bad file")
	require.NotErrorIs(t, err, ErrNotGeoJSON)
}

func FuzzReadGeoJSON(f *testing.F) {
	for _, s := range []string{
		wrap(rfcPolygon), wrap(rfcMultiPolygon), wrap(square), wrap(`null`), "\ufeff" + wrap(square), "", "{", `{"type":"FeatureCollection","features":[]}`,
		strings.Replace(wrap(square), `"features"`, `"crs":{"type":"name","properties":{"name":"EPSG:26915"}},"features"`, 1),
		wrap(`{"type":"MultiPolygon","coordinates":[[],[[]],[[[0,0,1]]]]}`),
	} {
		f.Add(s)
	}
	lim := Limits{Bytes: 1 << 16, Features: 100, Points: 1000, Columns: 50, Cells: 1000}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := ReadGeoJSON(strings.NewReader(s), lim)
		if err != nil {
			return
		}
		points := 0
		for _, feature := range l.Features {
			points += feature.Geometry.NumCoords()
		}
		if points > lim.Points || len(l.Features) > lim.Features {
			t.Fatalf("limits not kept: %d points", points)
		}
		fields := Fields{Code: "code", Name: "name"}
		if counties, err := l.Counties(fields); err == nil {
			_, _ = l.Townships(Fields{Code: "code", County: "name"}, counties)
		}
		var b strings.Builder
		if err := WriteGeoJSON(&b, l); err != nil {
			t.Fatal(err)
		}
		again, err := read(b.String())
		if err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
		if fmt.Sprint(again.Fields()) != fmt.Sprint(l.Fields()) || len(again.Features) != len(l.Features) {
			t.Fatal("round trip lost something")
		}
	})
}

// bigFile is a collection of 2,000 rings of 1,000 points.
func bigFile() string {
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	for i := range 2000 {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString(`{"type":"Feature","properties":{"code":"T1"},"geometry":{"type":"Polygon","coordinates":[[`)
		for j := range 1000 {
			if j > 0 {
				b.WriteByte(',')
			}
			fmt.Fprintf(&b, "[-93.%06d,42.%06d]", i*331+j, j*j%999_983)
		}
		b.WriteString("]]}}")
	}
	b.WriteString("]}")
	return b.String()
}

func BenchmarkReadTwoMillionPoints(b *testing.B) {
	text := bigFile()
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := read(text); err != nil {
			b.Fatal(err)
		}
	}
}
