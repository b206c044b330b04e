package geofile

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
)

// squares are three places: one in two parts, one without an outline.
func squares() Drawn {
	box := func(x float64) *geom.MultiPolygon {
		return geom.NewMultiPolygonFlat(geom.XY, []float64{x, 42, x + .1, 42, x + .1, 42.1, x, 42.1, x, 42}, [][]int{{10}})
	}
	two := geom.NewMultiPolygonFlat(geom.XY, append(box(-93).FlatCoords(), box(-92).FlatCoords()...), [][]int{{10}, {20}})
	return Drawn{Name: "places", Title: "Places", About: "three of them",
		Attributes: []Attribute{{Name: "code"}, {Name: "bags", Kind: WholeValue}, {Name: "share", Kind: RealValue}},
		Each: func(see func([]any, *geom.MultiPolygon) error) error {
			return errors.Join(see([]any{"=1\"é", 12, 0.5}, box(-94)), see([]any{"two", 0, 1.0}, two), see([]any{"none", nil, nil}, nil))
		}}
}

var facts = []Fact{{"edition", "K7QF-2M"}, {"not_in_it", "any \"single\" result"}}

// GDAL reads both formats: rows, types, values, area to a millionth on the
// ellipsoid, and what is said of the whole.
func TestGDALReadsFigures(t *testing.T) {
	dir := t.TempDir()
	var b bytes.Buffer
	require.NoError(t, WriteDrawnGeoJSON(&b, squares(), facts))
	var whole map[string]any
	require.NoError(t, json.Unmarshal(b.Bytes(), &whole))
	require.Equal(t, "K7QF-2M", whole["edition"])
	require.Len(t, whole["features"], 3)
	files := map[string]string{"a.geojson": b.String()}
	b.Reset()
	require.NoError(t, WriteDrawnGeoPackage(t.Context(), &b, []Drawn{squares()}, facts))
	files["a.gpkg"] = b.String()
	column := map[string]string{"a.geojson": "geometry", "a.gpkg": "geom"}
	for name, body := range files {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(body), 0o600))
		about := ogr(t, "ogrinfo", "-ro", "-so", path, "places")
		require.Contains(t, about, "Feature Count: 3", name)
		require.Contains(t, about, "bags: Integer", name)
		require.Contains(t, about, "share: Real", name)
		out := filepath.Join(dir, name+".csv")
		ogr(t, "ogr2ogr", "-f", "CSV", out, path, "-dialect", "SQLite", "-sql",
			"SELECT code, bags, share, ST_Area("+column[name]+", 1) AS m2 FROM places ORDER BY bags DESC")
		text, err := os.ReadFile(out)
		require.NoError(t, err)
		rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
		require.NoError(t, err)
		require.Equal(t, []string{"=1\"é", "12", "0.5"}, rows[1][:3], name)
		require.Equal(t, "two", rows[2][0])
		require.Empty(t, rows[3][1], "nothing is nothing, not zero")
		one, err := strconv.ParseFloat(rows[1][3], 64)
		require.NoError(t, err)
		two, err := strconv.ParseFloat(rows[2][3], 64)
		require.NoError(t, err)
		require.InEpsilon(t, 2*one, two, 1e-6, "%s: squares of one latitude", name)
	}
	require.Contains(t, ogr(t, "ogrinfo", "-ro", filepath.Join(dir, "a.gpkg"), "about"), `any "single" result`)
}

func TestSameFiguresSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	require.NoError(t, WriteDrawnGeoPackage(t.Context(), &a, []Drawn{squares()}, facts))
	require.NoError(t, WriteDrawnGeoPackage(t.Context(), &b, []Drawn{squares()}, facts))
	require.True(t, bytes.Equal(a.Bytes(), b.Bytes()))
}

func TestFiguresThatCannotBeWritten(t *testing.T) {
	d := squares()
	for _, v := range []any{math.NaN(), math.Inf(1), true} {
		d.Each = func(see func([]any, *geom.MultiPolygon) error) error { return see([]any{"a", 1, v}, nil) }
		require.Error(t, WriteDrawnGeoJSON(&bytes.Buffer{}, d, nil))
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.Error(t, WriteDrawnGeoPackage(ctx, &bytes.Buffer{}, []Drawn{squares()}, nil))
}
