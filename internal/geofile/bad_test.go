package geofile

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
)

// geoPackage makes a GeoPackage with one table and runs statements on it.
func geoPackage(t testing.TB, statements ...string) []byte {
	t.Helper()
	name := filepath.Join(t.TempDir(), "a.gpkg")
	var b bytes.Buffer
	require.NoError(t, WriteGeoPackage(&b, []Layer{{Name: "twp", SRID: 4326, Features: []Feature{
		{Properties: map[string]string{"code": "T1"}, Geometry: box(-93, 42)},
	}}}))
	require.NoError(t, os.WriteFile(name, b.Bytes(), 0o600))
	db, err := sql.Open("sqlite", "file:"+name)
	require.NoError(t, err)
	for _, s := range statements {
		_, err := db.ExecContext(context.Background(), s)
		require.NoError(t, err, s)
	}
	require.NoError(t, db.Close())
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	return data
}

// blob writes bytes as an SQL blob.
func blob(parts ...[]byte) string { return fmt.Sprintf("x'%x'", bytes.Join(parts, nil)) }

func le(v uint32) []byte { return binary.LittleEndian.AppendUint32(nil, v) }

func gzipped(s string) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, _ = io.WriteString(z, s)
	_ = z.Close()
	return b.Bytes()
}

// bomb is a zip archive of some kilobytes that unpacks to 20 million bytes: a
// table of empty rows.
func bomb(t testing.TB) []byte {
	const rows, width = 320, 65535
	dbf := dbfFile([]string{"C"})
	binary.LittleEndian.PutUint32(dbf[4:], rows)
	binary.LittleEndian.PutUint16(dbf[10:], width)
	dbf = append(dbf[:len(dbf)-1], bytes.Repeat([]byte(" "), rows*width)...)
	records := make([][]byte, rows)
	for i := range records {
		records[i] = le(0)
	}
	return zipFile(t, file{"a.shp", shpFile(records...)}, file{"a.dbf", dbf})
}

// What a file is refused with. Each line is what a person reads.
func TestBadFiles(t *testing.T) {
	shp, dbf := shpFile(shpRecord(5, outerRing)), dbfFile([]string{"C"}, []string{"1"})
	whole := zipFile(t, file{"a.shp", shp}, file{"a.dbf", dbf})
	shapefile := func(shp []byte, more ...file) []byte {
		return zipFile(t, append([]file{{"a.shp", shp}, {"a.dbf", dbf}}, more...)...)
	}
	columns := make([]string, 2000)
	cells := make([]string, 2000)
	for i := range columns {
		columns[i] = fmt.Sprintf("c%d", i)
	}
	wide := "CREATE TABLE wide (geom BLOB, c" + strings.Join(strings.Fields(fmt.Sprint(seq(1900))), ",c")[1:] + ")"
	wide = strings.NewReplacer("[", "", "]", "").Replace(wide)
	nan := math.NaN()
	for name, tc := range map[string]struct {
		data []byte
		want string
	}{
		"nothing":         {nil, "not a usable GeoJSON file: the file is empty"},
		"a picture":       {[]byte("\x89PNG\r\n\x1a\n"), "not a usable boundary file: it is no GeoJSON, no zipped shapefile and no GeoPackage"},
		"a bare .shp":     {shp, "not a usable boundary file: this is one part of a shapefile; put all its parts (.shp, .dbf, .prj, .cpg) into one zip file"},
		"truncated zip":   {whole[:len(whole)-30], "not a usable boundary file: the zip archive is broken or cut short"},
		"damaged zip":     {damaged(whole), "not a usable boundary file: the zip archive is broken or cut short"},
		"zip bomb":        {bomb(t), "the file has more than 10485760 bytes; simplify or split it first"},
		"gzip bomb":       {gzipped(`{"type":"` + strings.Repeat(" ", 20<<20) + `"}`), "read GeoJSON: the file has more than 10485760 bytes; simplify or split it first"},
		"cut gzip":        {gzipped(wrap(square))[:60], "read GeoJSON: not a usable GeoJSON file: it ends too early"},
		"empty zip":       {zipFile(t), "the file has no layer of shapes"},
		"zip of pictures": {zipFile(t, file{"a.png", nil}), "the file has no layer of shapes"},
		"no table":        {zipFile(t, file{"a.shp", shp}), "not a usable shapefile: the part a.dbf, with the table, is missing"},
		"short table":     {shapefile(shpFile(shpRecord(5, outerRing), shpRecord(5, otherRing))), "not a usable shapefile: its table has fewer rows than there are shapes"},
		"cut .shp":        {shapefile(shp[:len(shp)-3]), "not a usable shapefile: its .shp part ends within record 1"},
		"no .shp header":  {shapefile(shp[:50]), "not a usable shapefile: its .shp part ends within the header"},
		"other .shp":      {shapefile(bytes.Repeat([]byte("x"), 200)), "not a usable shapefile: its .shp part does not begin like one"},
		"cut .dbf":        {zipFile(t, file{"a.shp", shp}, file{"a.dbf", dbf[:len(dbf)-5]}), "not a usable shapefile: its .dbf part has fewer rows than it says"},
		"patches":         {shapefile(shpFile(shpRecord(31, outerRing))), "not a usable shapefile: record 1: shapes of type 31 cannot be used"},
		"parts in disorder": {shapefile(shpFile(func() []byte {
			r := shpRecord(5, outerRing, otherRing)
			binary.LittleEndian.PutUint32(r[48:], 0)
			return r
		}())), "not a usable shapefile: record 1: its parts are not in order"},
		"claims of points": {shapefile(shpFile(func() []byte {
			r := shpRecord(5, outerRing)
			binary.LittleEndian.PutUint32(r[40:], 1<<31)
			return r
		}())), "not a usable shapefile: record 1: it ends too early"},
		"claims of length": {shapefile(func() []byte {
			b := bytes.Clone(shp)
			binary.BigEndian.PutUint32(b[104:], 1<<31-1)
			return b
		}()), "the file has more than 4000000 points; simplify or split it first"},
		"a .prj of noise":      {shapefile(shp, file{"a.prj", []byte("\x00\x01\x02")}), "the coordinate system of the file is not known: its .prj part is no definition of one"},
		"a .prj without end":   {shapefile(shp, file{"a.prj", bytes.Repeat([]byte("x"), 1<<20)}), "not a usable shapefile: its .prj or .cpg part is too long"},
		"unknown letters":      {shapefile(shp, file{"a.cpg", []byte("Martian")}), `not a usable shapefile: its .cpg part says "Martian", which is no known way of writing letters; save the file as UTF-8`},
		"points":               {shapefile(shpFile(binary.LittleEndian.AppendUint64(binary.LittleEndian.AppendUint64(le(1), 0), 0))), "Feature 1: it is a point; only Polygon and MultiPolygon can be used."},
		"empty geometry":       {shapefile(shpFile(le(0))), "Feature 1: it has no outline."},
		"NaN":                  {shapefile(shpFile(shpRecord(5, []float64{0, 0, nan, 9, 9, 9, 0, 0}))), "Feature 1: its coordinates cannot be read."},
		"infinite":             {shapefile(shpFile(shpRecord(5, []float64{0, 0, 0, math.Inf(1), 9, 9, 0, 0}))), "Feature 1: its coordinates cannot be read."},
		"2,000 columns":        {zipFile(t, file{"a.shp", shp}, file{"a.dbf", dbfFile(columns, cells)}), "the file's table has more than 255 fields; leave out those that are not needed"},
		"2,000 members":        {[]byte(strings.Replace(wrap(square), `"code"`, strings.Join(quotedAll(columns), `:1,`)+`:1,"code"`, 1)), "read GeoJSON: the file's table has more than 255 fields; leave out those that are not needed"},
		"1,900 SQL columns":    {geoPackage(t, wide, "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES ('wide','features','w',4326)", "DELETE FROM gpkg_geometry_columns", "INSERT INTO gpkg_geometry_columns VALUES ('wide','geom','GEOMETRY',4326,0,0)"), "the file's table has more than 255 fields; leave out those that are not needed"},
		"truncated GeoPackage": {geoPackage(t)[:9000], "not a usable GeoPackage: the file is broken or cut short"},
		"a plain database":     {geoPackage(t, "DROP TABLE gpkg_geometry_columns"), "not a usable GeoPackage: it is a database without a list of layers"},
		"a view as a layer": {geoPackage(t, "DROP TABLE twp",
			"CREATE VIEW twp AS WITH RECURSIVE r(n) AS (SELECT 1 UNION ALL SELECT n+1 FROM r) SELECT n, x'00' AS geom FROM r"), "the file has no layer of shapes"},
		"hostile WKB":            {geoPackage(t, "UPDATE twp SET geom = "+blob(gpkgHeader(4326), []byte{1}, le(6), le(1<<31-1))), "Feature 1: its coordinates cannot be read."},
		"hostile WKB, points":    {geoPackage(t, "UPDATE twp SET geom = "+blob(gpkgHeader(4326), []byte{1}, le(2), le(1<<32-1))), "Feature 1: its coordinates cannot be read."},
		"WKB of a curve":         {geoPackage(t, "UPDATE twp SET geom = "+blob(gpkgHeader(4326), []byte{1}, le(10), le(0))), "Feature 1: its coordinates cannot be read."},
		"WKB and more":           {geoPackage(t, "UPDATE twp SET geom = CAST(geom || x'00' AS BLOB)"), "Feature 1: its coordinates cannot be read."},
		"no WKB":                 {geoPackage(t, "UPDATE twp SET geom = x'0102'"), "Feature 1: its coordinates cannot be read."},
		"NULL in a GeoPackage":   {geoPackage(t, "UPDATE twp SET geom = NULL"), "Feature 1: it has no outline."},
		"empty in a GeoPackage":  {geoPackage(t, "UPDATE twp SET geom = "+blob([]byte{'G', 'P', 0, 0x11}, le(4326))), "Feature 1: it has no outline."},
		"envelope of no kind":    {geoPackage(t, "UPDATE twp SET geom = "+blob([]byte{'G', 'P', 0, 0x0f}, le(4326), make([]byte, 99))), "Feature 1: its coordinates cannot be read."},
		"too long a definition":  {geoPackage(t, "UPDATE gpkg_spatial_ref_sys SET organization='me', definition=printf('%.*c', 100000, 'x') WHERE srs_id=4326"), "the coordinate system of the file is not known: its definition is too long"},
		"a system of no meaning": {geoPackage(t, "UPDATE gpkg_spatial_ref_sys SET organization='me', definition='hello' WHERE srs_id=4326"), "the coordinate system of the file is not known: its .prj part is no definition of one"},
	} {
		t.Run(name, func(t *testing.T) {
			lim := DefaultLimits()
			if strings.Contains(name, "bomb") {
				lim.Bytes = 10 << 20
			}
			_, err := Read("in/a.zip", bytes.NewReader(tc.data), int64(len(tc.data)), lim)
			require.Error(t, err)
			said := strings.TrimPrefix(err.Error(), "a.zip: ")
			said = strings.TrimPrefix(said, "read GeoJSON: ")
			require.Equal(t, strings.TrimPrefix(tc.want, "read GeoJSON: "), said)
		})
	}
}

func seq(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func quotedAll(names []string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = `"` + n + `"`
	}
	return out
}

// damaged has a byte in the middle of the first member changed.
func damaged(data []byte) []byte {
	out := bytes.Clone(data)
	out[60] ^= 0xff
	return out
}

// What can be read and is then found wrong when it is to be boundaries.
func TestBadBoundaries(t *testing.T) {
	layerOf := func(shapes ...*geom.MultiPolygon) Layer {
		l := Layer{SRID: 4326}
		for i, g := range shapes {
			l.Features = append(l.Features, Feature{Properties: map[string]string{"c": fmt.Sprint(i)}, Geometry: g})
		}
		return l
	}
	ring := func(flat ...float64) *geom.MultiPolygon {
		return geom.NewMultiPolygonFlat(geom.XY, flat, [][]int{{len(flat)}})
	}
	twice := layerOf(box(0, 0), box(2, 0))
	twice.Features[1].Properties["c"] = "0"
	unknown := layerOf(box(0, 0))
	unknown.SRID = 0
	for name, tc := range map[string]struct {
		layer Layer
		want  string
	}{
		"across the antimeridian": {layerOf(ring(179, 51, -179, 51, -179, 52, 179, 52, 179, 51)), "Feature 1: an outline crosses the 180° meridian; cut it there into two."},
		"one township twice":      {twice, `Feature 2: the code "0" is used by an earlier feature.`},
		"no coordinate system":    {unknown, "the coordinate system of the file is not known: it does not say which; a shapefile needs its .prj part"},
		"meters called degrees":   {layerOf(ring(500000, 4649776, 500100, 4649776, 500100, 4649876, 500000, 4649776)), "Feature 1: the position 500000, 4.649776e+06 is no longitude and latitude; is the file in another coordinate system?"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := NewSet(layerOf(box(0, 0)), tc.layer, Fields{Code: "c"}, Fields{Code: "c"})
			require.Error(t, err)
			require.Equal(t, "townships: "+tc.want, err.Error())
		})
	}
}

// Two million corners are much, but no more than the limit.
func TestTwoMillionCorners(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a second")
	}
	data := bigShapefile(t, 2000)
	l, err := readBytes(data, Options{})
	require.NoError(t, err)
	require.Len(t, l.Features, 2000)
	lim := DefaultLimits()
	lim.Points = 1_999_999
	_, err = Read("big.zip", bytes.NewReader(data), int64(len(data)), lim)
	require.EqualError(t, err, "big.zip: the file has more than 1999999 points; simplify or split it first")
}
