package geofile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
	"pgregory.net/rapid"
)

func TestGeoPackageRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLayer(t)
		l.SRID, l.Name = 4326, rapid.StringMatching(`[a-z" ]{1,8}`).Draw(t, "name")
		for i := range l.Features { // a table has one row for all: what a feature lacks is empty
			l.Features[i].Properties = map[string]string{"code": rapid.String().Draw(t, "code"), "x y\"": fmt.Sprint(i)}
		}
		var b bytes.Buffer
		require.NoError(t, WriteGeoPackage(&b, []Layer{l}))
		back, err := Read("a.gpkg", bytes.NewReader(b.Bytes()), int64(b.Len()), DefaultLimits())
		require.NoError(t, err)
		require.Equal(t, l.Name, back.Name)
		require.Equal(t, 4326, back.SRID)
		require.Len(t, back.Features, len(l.Features))
		for i, f := range l.Features {
			got := back.Features[i]
			require.Equal(t, fmt.Sprint(i+1), got.Properties["fid"])
			require.Equal(t, f.Properties["code"], got.Properties["code"])
			require.Equal(t, fmt.Sprint(i), got.Properties["x y\""])
			require.Equal(t, f.Geometry.Endss(), got.Geometry.Endss())
			require.Equal(t, f.Geometry.FlatCoords(), got.Geometry.FlatCoords(), "every digit")
		}
	})
}

// sketches are a layer of each kind of shape that is no area.
func sketches() []Layer {
	lines := Layer{Name: "rivers", SRID: 4326, Features: []Feature{{Properties: map[string]string{"name": "Long"},
		Sketch: geom.NewMultiLineStringFlat(geom.XY, []float64{-93, 42, -92, 43, -91, 43, -90, 42, -89, 42}, []int{6, 10})}}}
	points := Layer{Name: "towns", SRID: 4326, Features: []Feature{{Properties: map[string]string{"name": "Élan"},
		Sketch: geom.NewMultiPointFlat(geom.XY, []float64{-93, 42})}}}
	return []Layer{lines, points}
}

func TestSketches(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteGeoPackage(&b, sketches()))
	for _, want := range sketches() {
		got, err := ReadWith("a.gpkg", bytes.NewReader(b.Bytes()), int64(b.Len()), DefaultLimits(), Options{Layer: want.Name, Any: true})
		require.NoError(t, err)
		require.Equal(t, want.Features[0].Sketch.FlatCoords(), got.Features[0].Sketch.FlatCoords())
		require.IsType(t, want.Features[0].Sketch, got.Features[0].Sketch)
		var text strings.Builder
		require.NoError(t, WriteGeoJSON(&text, want))
		_, err = read(text.String())
		var r *Report
		require.ErrorAs(t, err, &r, "no boundary")
		got, err = ReadWith("a", strings.NewReader(text.String()), int64(text.Len()), DefaultLimits(), Options{Any: true})
		require.NoError(t, err)
		require.Equal(t, want.Features[0].Sketch.FlatCoords(), got.Features[0].Sketch.FlatCoords())
	}
}

func TestSameLayersSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	require.NoError(t, WriteGeoPackage(&a, sketches()))
	require.NoError(t, WriteGeoPackage(&b, sketches()))
	require.True(t, bytes.Equal(a.Bytes(), b.Bytes()))
	err := WriteGeoPackage(&a, []Layer{{Name: "m", SRID: 26915}})
	require.ErrorIs(t, err, ErrCRS)
}

// GDAL reads what is written: count, extent, area to 1e-9 of it, letters.
func TestGDALReadsWhatIsWritten(t *testing.T) {
	var features []Feature
	total, e := 0.0, extent{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, f := range usCounties(t).Features {
		if f.Properties["id"][:2] == "19" {
			features = append(features, f)
			total += area(f.Geometry)
			e.add(f.Geometry.FlatCoords(), 2)
		}
	}
	l := Layer{Name: "counties", SRID: 4326, Features: features}
	dir := t.TempDir()
	for _, format := range []string{"geojson", "gpkg"} {
		var b bytes.Buffer
		if format == "gpkg" {
			require.NoError(t, WriteGeoPackage(&b, append([]Layer{l}, sketches()...)))
		} else {
			require.NoError(t, WriteGeoJSON(&b, l))
		}
		name := filepath.Join(dir, "counties."+format)
		require.NoError(t, os.WriteFile(name, b.Bytes(), 0o600))
		about := ogr(t, "ogrinfo", "-ro", "-so", "-al", name)
		require.NotContains(t, about, "Warning")
		require.Contains(t, about, "Feature Count: 99\n", "counties of Iowa, as published: see counties_test.go")
		require.Contains(t, about, fmt.Sprintf("Extent: (%f, %f) - (%f, %f)", e.x0, e.y0, e.x1, e.y1))
		out := filepath.Join(dir, format+"-area.json")
		ogr(t, "ogr2ogr", "-f", "GeoJSON", "-dialect", "SQLite", "-sql", "SELECT sum(st_area(geom)) AS a FROM counties",
			"-lco", "COORDINATE_PRECISION=15", out, geomColumn(t, name, dir))
		raw, err := os.ReadFile(out)
		require.NoError(t, err)
		var c struct {
			Features []struct{ Properties struct{ A float64 } }
		}
		require.NoError(t, json.Unmarshal(raw, &c))
		require.InEpsilon(t, total, c.Features[0].Properties.A, 1e-9)
	}
}

// geomColumn gives a file whose shapes GDAL calls geom, which GeoJSON's has no
// name for.
func geomColumn(t testing.TB, name, dir string) string {
	if strings.HasSuffix(name, ".gpkg") {
		return name
	}
	out := filepath.Join(dir, "copy.gpkg")
	ogr(t, "ogr2ogr", "-f", "GPKG", "-nln", "counties", out, name)
	return out
}

// FuzzGeoPackageShape: whatever stands where a shape should, reading ends within
// the limits and asks for no more memory than there are bytes.
func FuzzGeoPackageShape(f *testing.F) {
	for _, l := range append(sketches(), Layer{Features: []Feature{{Geometry: box(0, 0)}}}) {
		f.Add(appendWKB(gpkgHeader(4326), l.Features[0].shape()))
	}
	f.Add([]byte("GP\x00\x03\xe6\x10\x00\x00" + strings.Repeat("\x00", 32) + "\x01\x01\x00\x00\x00"))
	f.Add([]byte("GP\x00\x01\xe6\x10\x00\x00\x01\xeb\x0b\x00\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, blob []byte) {
		body, err := gpkgBody(blob)
		if err != nil || body == nil {
			return
		}
		b := newBuilder(Limits{Points: 100}, Options{Any: true})
		shape, err := readWKB(body, b)
		if err != nil {
			return
		}
		if n := len(shape.FlatCoords()); n > 200 || 8*n > len(body) {
			t.Fatalf("%d numbers out of %d bytes", n, len(body))
		}
		again, err := readWKB(appendWKB(nil, shape), newBuilder(Limits{Points: 100}, Options{Any: true}))
		if err != nil && len(shape.FlatCoords()) > 0 || err == nil && len(again.FlatCoords()) != len(shape.FlatCoords()) {
			t.Fatalf("round trip: %v", err)
		}
	})
}
