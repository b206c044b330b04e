package geofile

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
)

// shpFile is a .shp part with the given records.
func shpFile(records ...[]byte) []byte {
	var b []byte
	for i, r := range records {
		b = binary.BigEndian.AppendUint32(b, uint32(i+1))
		b = binary.BigEndian.AppendUint32(b, uint32(len(r)/2))
		b = append(b, r...)
	}
	head := make([]byte, 100)
	binary.BigEndian.PutUint32(head, 9994)
	binary.BigEndian.PutUint32(head[24:], uint32((100+len(b))/2))
	binary.LittleEndian.PutUint32(head[28:], 1000)
	return append(head, b...)
}

// shpRecord is a record of lines or rings of a type; heights and measures that
// the type wants are made up.
func shpRecord(kind uint32, rings ...[]float64) []byte {
	b := binary.LittleEndian.AppendUint32(nil, kind)
	b = append(b, make([]byte, 32)...) // its box, which nobody reads
	b = binary.LittleEndian.AppendUint32(b, uint32(len(rings)))
	points := 0
	for _, r := range rings {
		points += len(r) / 2
	}
	b = binary.LittleEndian.AppendUint32(b, uint32(points))
	at := 0
	for _, r := range rings {
		b = binary.LittleEndian.AppendUint32(b, uint32(at))
		at += len(r) / 2
	}
	for _, r := range rings {
		for _, v := range r {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
	}
	for range kind / 10 { // 1x: heights and measures, 2x: measures; near enough
		b = append(b, bytes.Repeat([]byte{0xff}, 16+8*points)...)
	}
	return b
}

// dbfFile is a .dbf part of text fields ten wide.
func dbfFile(fields []string, rows ...[]string) []byte {
	const width = 10
	b := make([]byte, 32)
	b[0] = 3
	binary.LittleEndian.PutUint32(b[4:], uint32(len(rows)))
	binary.LittleEndian.PutUint16(b[8:], uint16(33+32*len(fields)))
	binary.LittleEndian.PutUint16(b[10:], uint16(1+width*len(fields)))
	for _, f := range fields {
		d := make([]byte, 32)
		copy(d, f)
		d[11], d[16] = 'C', width
		b = append(b, d...)
	}
	b = append(b, '\r')
	for _, r := range rows {
		b = append(b, ' ')
		for _, v := range r {
			b = append(b, v+strings.Repeat(" ", width-len(v))...)
		}
	}
	return append(b, 0x1a)
}

// file is one member of an archive.
type file struct {
	name string
	data []byte
}

func zipFile(t testing.TB, files ...file) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		w, err := z.Create(f.name)
		require.NoError(t, err)
		_, err = w.Write(f.data)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}

func readBytes(data []byte, opt Options) (Layer, error) {
	return ReadWith("test.zip", bytes.NewReader(data), int64(len(data)), DefaultLimits(), opt)
}

var (
	// Clockwise outer rings, counter-clockwise holes, as the description wants.
	outerRing  = []float64{0, 0, 0, 9, 9, 9, 9, 0, 0, 0}
	holeRing   = []float64{1, 1, 8, 1, 8, 8, 1, 8, 1, 1}
	islandRing = []float64{3, 3, 3, 5, 5, 5, 5, 3, 3, 3}
	otherRing  = []float64{20, 0, 20, 9, 29, 9, 29, 0, 20, 0}
	somePRJ    = []byte(`GEOGCS["GCS_North_American_1983",DATUM["D_North_American_1983",SPHEROID["GRS_1980",6378137.0,298.257222101]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`)
)

func TestShapefile(t *testing.T) {
	for _, kind := range []uint32{5, 15, 25} {
		data := zipFile(t,
			file{"Folder/TWP.SHP", shpFile(shpRecord(kind, outerRing, holeRing, islandRing, otherRing), shpRecord(kind, otherRing))},
			file{"Folder/twp.dbf", dbfFile([]string{"CODE", "NAME"}, []string{"T1", "Se\xf1or"}, []string{"T2", "O'Hara"})},
			file{"Folder/Twp.Prj", somePRJ}, file{"Folder/twp.cpg", []byte("ISO88591\r\n")},
			file{"__MACOSX/Folder/._TWP.SHP", []byte("junk")}, file{"readme.txt", nil})
		l, err := readBytes(data, Options{})
		require.NoError(t, err)
		require.Equal(t, "TWP", l.Name)
		require.Equal(t, CRS{WKT: string(somePRJ)}, l.CRS())
		require.Equal(t, map[string]string{"CODE": "T1", "NAME": "Señor"}, l.Features[0].Properties)
		require.Equal(t, "O'Hara", l.Features[1].Properties["NAME"])
		require.Equal(t, [][]int{{10, 20}, {30}, {40}}, l.Features[0].Geometry.Endss(), "the hole goes with the ring around it")
		require.InDelta(t, 81-49+4+81, area(l.Features[0].Geometry), 1e-12)
	}
}

func TestShapefileRings(t *testing.T) {
	reverse := func(r []float64) []float64 {
		var out []float64
		for i := len(r) - 2; i >= 0; i -= 2 {
			out = append(out, r[i], r[i+1])
		}
		return out
	}
	for name, tc := range map[string]struct {
		rings [][]float64
		want  [][]int
	}{
		"hole first":            {[][]float64{holeRing, outerRing}, [][]int{{10, 20}}},
		"all the wrong way":     {[][]float64{reverse(outerRing), reverse(otherRing)}, [][]int{{10}, {20}}},
		"a hole nobody has":     {[][]float64{outerRing, reverse(otherRing)}, [][]int{{10}, {20}}},
		"a hole in two, nested": {[][]float64{outerRing, islandRing, {3.5, 3.5, 4, 3.5, 4, 4, 3.5, 3.5}}, [][]int{{10}, {20, 28}}},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := newShapes(bytes.NewReader(shpFile(shpRecord(5, tc.rings...))), newBuilder(DefaultLimits(), Options{}))
			require.NoError(t, err)
			shape, err := s.next()
			require.NoError(t, err)
			require.Equal(t, tc.want, shape.(*geom.MultiPolygon).Endss())
			_, err = s.next()
			require.ErrorIs(t, err, io.EOF)
		})
	}
}

func TestLettersOfTables(t *testing.T) {
	for name, tc := range map[string]struct {
		cpg      string
		language byte
		raw      string
		want     string
	}{
		"UTF-8":                         {"UTF-8", 0, "Ca\xc3\xb1on", "Cañon"},
		"UTF-8 by number":               {"65001", 0, "Ca\xc3\xb1on", "Cañon"},
		"UTF-8, last letter cut":        {"UTF-8", 0, "Canyon C\xc3", "Canyon C"},
		"UTF-8 that is not":             {"UTF-8", 0, "Ca\xf1on", "Ca\uFFFDon"},
		"Latin-1":                       {"ISO-8859-1", 0, "Ca\xf1on", "Cañon"},
		"Latin-1 as one program writes": {"88591", 0, "Ca\xf1on", "Cañon"},
		"Windows":                       {"1252", 0, "O\x92Hara", "O’Hara"},
		"Windows in words":              {"ANSI 1252", 0, "O\x92Hara", "O’Hara"},
		"Windows as a code page":        {"CP1252", 0, "O\x92Hara", "O’Hara"},
		"Windows by its full name":      {"windows-1252", 0, "O\x92Hara", "O’Hara"},
		"DOS":                           {"437", 0, "Ca\xa4on", "Cañon"},
		"nothing said, Windows":         {"", 0, "Ca\xf1on", "Cañon"},
		"nothing said, UTF-8":           {"", 0, "Ca\xc3\xb1on", "Cañon"},
		"the header says Windows":       {"", 0x57, "Ca\xf1on", "Cañon"},
		"the header says DOS":           {"", 1, "Ca\xa4on", "Cañon"},
	} {
		t.Run(name, func(t *testing.T) {
			decode, err := decoder(tc.cpg, tc.language)
			require.NoError(t, err)
			require.Equal(t, tc.want, decode([]byte(tc.raw)))
		})
	}
	_, err := decoder("Klingon", 0)
	require.ErrorIs(t, err, ErrShapefile)
	require.Contains(t, err.Error(), "Klingon")
}

func TestValuesOfTables(t *testing.T) {
	data := dbfFile([]string{"a", "b", "c", "d", "e"}, []string{"19169", "20261125", "T", "**********", "?"})
	for i, kind := range []byte("NDLFL") {
		data[32+32*i+11] = kind
	}
	data[32+32*1+16] = 8 // a date is eight wide: the fields after it move up
	data = append(data[:33+160+1+10+8], data[33+160+1+10+10:]...)
	binary.LittleEndian.PutUint16(data[10:], 49)
	rows, err := newTable(bytes.NewReader(data), newBuilder(DefaultLimits(), Options{}), "")
	require.NoError(t, err)
	row, deleted, err := rows.next()
	require.NoError(t, err)
	require.False(t, deleted)
	require.Equal(t, map[string]string{"a": "19169", "b": "2026-11-25", "c": "true", "d": "", "e": ""}, row)
}

func TestDeletedRowsGoWithTheirShapes(t *testing.T) {
	dbf := dbfFile([]string{"C"}, []string{"1"}, []string{"2"})
	dbf[65] = '*'
	l, err := readBytes(zipFile(t, file{"a.shp", shpFile(shpRecord(5, outerRing), shpRecord(5, otherRing))}, file{"a.dbf", dbf}), Options{})
	require.NoError(t, err)
	require.Len(t, l.Features, 1)
	require.Equal(t, "2", l.Features[0].Properties["C"])
	require.Equal(t, 20.0, l.Features[0].Geometry.FlatCoords()[0])
}

func TestSeveralLayers(t *testing.T) {
	one := func(code string) []byte { return dbfFile([]string{"C"}, []string{code}) }
	shp := shpFile(shpRecord(5, outerRing))
	data := zipFile(t, file{"Counties.shp", shp}, file{"counties.dbf", one("c")}, file{"in/Townships.shp", shp}, file{"in/townships.dbf", one("t")})
	_, err := readBytes(data, Options{})
	var choose *ChooseError
	require.ErrorAs(t, err, &choose)
	require.Equal(t, []string{"Counties", "in/Townships"}, choose.Layers)
	require.EqualError(t, err, "test.zip: the file has these layers, say which one: Counties, in/Townships")
	for layer, code := range map[string]string{"counties": "c", "TOWNSHIPS": "t", "in/Townships": "t"} {
		l, err := readBytes(data, Options{Layer: layer})
		require.NoError(t, err)
		require.Equal(t, code, l.Features[0].Properties["C"])
	}
	names, err := Layers("test.zip", bytes.NewReader(data), int64(len(data)), DefaultLimits())
	require.NoError(t, err)
	require.Equal(t, choose.Layers, names)
}

// FuzzShapes: whatever a .shp part holds, reading ends, and keeps to the limits.
func FuzzShapes(f *testing.F) {
	f.Add(shpFile())
	f.Add(shpFile(shpRecord(5, outerRing, holeRing), shpRecord(15, otherRing), []byte{0, 0, 0, 0}))
	f.Add(shpFile(shpRecord(3, outerRing), shpRecord(25, otherRing), shpRecord(1, nil)))
	f.Add(shpFile([]byte("\x08\x00\x00\x00" + strings.Repeat("\x00", 32) + "\x01\x00\x00\x00" + strings.Repeat("\x01", 16))))
	f.Fuzz(func(t *testing.T, data []byte) {
		lim := Limits{Bytes: 1 << 16, Features: 50, Points: 500, Columns: 10, Cells: 100}
		b := newBuilder(lim, Options{Any: true})
		s, err := newShapes(bytes.NewReader(data), b)
		if err == nil {
			err = join(s, nil, b)
		}
		if err == nil && b.done() == nil {
			points := 0
			for _, f := range b.layer.Features {
				points += len(f.shape().FlatCoords()) / 2
				if shape, is := f.shape().(*geom.MultiPolygon); is {
					_ = area(shape)
				}
			}
			if points > lim.Points || len(b.layer.Features) > lim.Features {
				t.Fatalf("limits not kept: %d points", points)
			}
		}
	})
}

// FuzzTable: whatever a .dbf part holds, reading ends.
func FuzzTable(f *testing.F) {
	f.Add(dbfFile([]string{"CODE", "NAME"}, []string{"T1", "One"}), "UTF-8")
	f.Add(dbfFile(nil), "1252")
	f.Add(dbfFile([]string{"A"}, []string{"1"}, []string{"2"}), "")
	f.Fuzz(func(t *testing.T, data []byte, cpg string) {
		rows, err := newTable(bytes.NewReader(data), newBuilder(DefaultLimits(), Options{}), cpg)
		for n := 0; err == nil; n++ {
			var row map[string]string
			if row, _, err = rows.next(); len(row) > DefaultLimits().Columns || n > len(data) {
				t.Fatalf("more than there is: %d rows", n)
			}
		}
	})
}

// bigShapefile is n shapes of 1,000 points each.
func bigShapefile(t testing.TB, n int) []byte {
	ring := make([]float64, 0, 2000)
	for i := range 999 {
		a := -2 * math.Pi * float64(i) / 999
		ring = append(ring, -93+math.Cos(a)/10, 42+math.Sin(a)/10)
	}
	ring = append(ring, ring[0], ring[1])
	var records [][]byte
	var rows [][]string
	for i := range n {
		records = append(records, shpRecord(5, ring))
		rows = append(rows, []string{fmt.Sprint(i)})
	}
	return zipFile(t, file{"a.shp", shpFile(records...)}, file{"a.dbf", dbfFile([]string{"code"}, rows...)}, file{"a.prj", somePRJ})
}

func BenchmarkReadShapefileTwoMillionPoints(b *testing.B) {
	data := bigShapefile(b, 2000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		l, err := readBytes(data, Options{})
		require.NoError(b, err)
		require.Len(b, l.Features, 2000)
	}
}
