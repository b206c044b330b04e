package postgres_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
	"pgregory.net/rapid"

	"sixmile/internal/atlas"
	"sixmile/internal/geofile"
	"sixmile/internal/outline"
	"sixmile/internal/postgres"
	"sixmile/internal/world"
)

// gapless fails unless the drawn outlines of a kind, as PostGIS sees them, are
// valid, in whole meters, and cover what their union covers and no more; and
// unless that is what their counties' outlines cover, where they fill them.
func gapless(t testing.TB, pool *pgxpool.Pool, set int, kind string) (union float64) {
	t.Helper()
	var n, invalid, broken int
	var sum float64
	err := pool.QueryRow(context.Background(), `
		SELECT count(*), count(*) FILTER (WHERE NOT ST_IsValid(s.outline)),
		       count(*) FILTER (WHERE NOT ST_Equals(s.outline, ST_SnapToGrid(s.outline, 1))),
		       sum(ST_Area(s.outline)), ST_Area(ST_Union(s.outline))
		  FROM open.place_shape s
		  JOIN open.place p ON p.id = s.place AND p.kind = $2
		 WHERE s.set = $1`, set, kind).Scan(&n, &invalid, &broken, &sum, &union)
	require.NoError(t, err)
	require.NotZero(t, n)
	require.Zero(t, invalid, kind)
	require.Zero(t, broken, kind)
	require.InDelta(t, union, sum, 1e-3, "%s: square meters of overlap", kind)
	return union
}

// The invented state: one coverage of counties, townships and districts.
func TestTheInventedStateIsGapless(t *testing.T) {
	store, pool := ground(t)
	w := world.New(1, 2020)
	read := func(data []byte) geofile.Layer {
		l, err := geofile.Read("demo", bytes.NewReader(data), int64(len(data)), geofile.DefaultLimits())
		require.NoError(t, err)
		return l
	}
	set := setIn(t, read(w.CountiesGeoJSON()), read(w.TownshipsGeoJSON()))
	ticket, found := stage(t, store, set)
	require.Empty(t, kinds(found))
	accepted, err := store.AcceptStaged(ctxOf(t), ticket, date(2026, 11, 25))
	require.NoError(t, err)
	townships := gapless(t, pool, accepted.Set, "township")
	require.InDelta(t, townships, gapless(t, pool, accepted.Set, "county"), 1e-3)
	require.InDelta(t, townships, gapless(t, pool, accepted.Set, "district"), 1e-3)
	var state float64
	require.NoError(t, pool.QueryRow(ctxOf(t), `SELECT ST_Area(outline) FROM open.boundary_set`).Scan(&state))
	require.InDelta(t, townships, state, 1e-3)

	// A county fills a letter sheet's longer side with 250 mm at most: a tenth of
	// a millimeter is a 2,500th of it. PostGIS measures between the full outline,
	// transformed with its corners alone, and the drawn one.
	var worst float64
	require.NoError(t, pool.QueryRow(ctxOf(t), `
		SELECT max(ST_HausdorffDistance(ST_Boundary(ST_Transform(ST_Segmentize(s.geom, 0.002), b.srid)), ST_Boundary(s.outline)) * 2500
		           / greatest(ST_XMax(c.outline) - ST_XMin(c.outline), ST_YMax(c.outline) - ST_YMin(c.outline)))
		  FROM open.place_shape s
		  JOIN open.boundary_set b ON b.id = s.set
		  JOIN open.place p ON p.id = s.place AND p.kind = 'township'
		  JOIN open.place_shape c ON c.set = s.set AND c.place = p.county`).Scan(&worst))
	require.LessOrEqual(t, worst, 1.0, "tenths of a millimeter")
}

// A point on a border belongs to one township, and PostgreSQL counts as Go does.
func TestTheRuleOfEdgesInSQL(t *testing.T) {
	store, pool := ground(t)
	_, err := store.Accept(ctxOf(t), setOf(t, twoCounties(), fourTownships()), date(2026, 8, 1))
	require.NoError(t, err)
	rows, err := pool.Query(ctxOf(t), `SELECT s.outline FROM open.place_shape s JOIN open.place p ON p.id = s.place AND p.kind = 'township' ORDER BY p.id`)
	require.NoError(t, err)
	var shapes []outline.Shape
	var corners []outline.Point
	for rows.Next() {
		var g geom.T
		require.NoError(t, rows.Scan(&g))
		var s outline.Shape
		m := g.(*geom.MultiPolygon)
		for i := range m.NumPolygons() {
			var polygon [][]outline.Point
			for j := range m.Polygon(i).NumLinearRings() {
				var ring []outline.Point
				for _, c := range m.Polygon(i).LinearRing(j).Coords() {
					ring = append(ring, outline.Point{X: int32(c[0]), Y: int32(c[1])})
				}
				polygon = append(polygon, ring)
				corners = append(corners, ring...)
			}
			s = append(s, polygon)
		}
		shapes = append(shapes, s)
	}
	require.Len(t, shapes, 4)
	check := func(t require.TestingT, p outline.Point) {
		var inSQL []int
		err := pool.QueryRow(context.Background(), `
			SELECT coalesce(array_agg(n), '{}')
			  FROM (SELECT row_number() OVER (ORDER BY p.id) - 1 AS n, s.outline
			          FROM open.place_shape s JOIN open.place p ON p.id = s.place AND p.kind = 'township') t
			 WHERE open.holds(outline, $1, $2)`, p.X, p.Y).Scan(&inSQL)
		require.NoError(t, err)
		inGo := []int{}
		for i, s := range shapes {
			if s.Holds(p) {
				inGo = append(inGo, i)
			}
		}
		require.Equal(t, inGo, inSQL, "%v", p)
		require.LessOrEqual(t, len(inGo), 1)
	}
	for _, p := range corners {
		check(t, p)
	}
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(corners).Draw(t, "corner")
		d := rapid.SampledFrom(corners).Draw(t, "other")
		check(t, outline.Point{X: c.X + rapid.Int32Range(-3, 3).Draw(t, "dx"), Y: d.Y + rapid.Int32Range(-3, 3).Draw(t, "dy")})
	})
	one, err := store.PlaceAt(ctxOf(t), -92.97, 42.05)
	require.NoError(t, err)
	two, err := store.PlaceAt(ctxOf(t), -92.83, 42.05)
	require.NoError(t, err)
	require.NotEqual(t, one, two)
}

// Counties of North Carolina in the datum of 1927 (Debian package r-cran-sf),
// over a lattice of townships that knows nothing of them.
func TestNorthCarolinaIn1927(t *testing.T) {
	counties, err := geofile.ReadFile("/usr/lib/R/site-library/sf/shape/nc.shp", geofile.DefaultLimits(), geofile.Options{})
	require.NoError(t, err)
	require.Zero(t, counties.SRID, "a definition and no code")
	var townships []geofile.Feature
	for x := range 85 {
		for y := range 29 {
			lon, lat := -84.4+float64(x)*0.108, 33.8+float64(y)*0.0975
			townships = append(townships, rect(fmt.Sprintf("T%dN R%dE", y+1, x+1), "", lon, lat, lon+0.108, lat+0.0975))
		}
	}
	set, err := geofile.NewSet(counties, geofile.Layer{SRID: 4269, Features: townships},
		geofile.Fields{Code: "FIPS", Name: "NAME"}, geofile.Fields{Code: "code"})
	require.NoError(t, err)
	store, pool := ground(t)
	ticket, found := stage(t, store, set)
	require.False(t, found.Stopped())
	require.Equal(t, 100, found.Counties.Features)
	for _, kind := range []geofile.FindingKind{geofile.OldDatum, geofile.CutByLine, geofile.SmallPart, geofile.OutsideAll, geofile.CutOff} {
		require.Positive(t, found.Find(kind).Total, kind)
	}
	// The package's own documentation gives no areas; the state's area with its
	// inland water is 53,819 square miles (Census Bureau, 2010, from memory). The
	// file's outlines are simplified and leave the sounds out.
	require.InEpsilon(t, 53_819*2.589988e6, found.Counties.Area, 0.1)
	accepted, err := store.AcceptStaged(ctxOf(t), ticket, date(2026, 11, 25))
	require.NoError(t, err)
	require.Greater(t, accepted.Townships, 1500)
	gapless(t, pool, accepted.Set, "township")
	gapless(t, pool, accepted.Set, "county")
	gapless(t, pool, accepted.Set, "district")
}

// Census tracts of New York in UTM (Debian package r-cran-spdata) as townships
// of one county that is their union's box.
func TestTractsInUTM(t *testing.T) {
	tracts, err := geofile.ReadFile("/usr/lib/R/site-library/spData/shapes/NY8_utm18.shp", geofile.DefaultLimits(), geofile.Options{})
	require.NoError(t, err)
	set, err := geofile.NewSet(geofile.Layer{SRID: 4326, Features: []geofile.Feature{rect("1", "", -78, 41.5, -74, 44.5)}}, tracts,
		geofile.Fields{Code: "code"}, geofile.Fields{Code: "AREAKEY"})
	require.NoError(t, err)
	store, pool := ground(t)
	ticket, found := stage(t, store, set)
	require.False(t, found.Stopped(), "%v", kinds(found))
	require.Equal(t, 281, found.Townships.Features)
	require.Equal(t, 281, found.Places)
	// sum(st_area(geometry)) by ogrinfo of the file itself, in its own square
	// meters, which the ellipsoid's are within a thousandth of.
	out, err := exec.Command("ogrinfo", "-q", "-dialect", "SQLite", "-sql", "SELECT sum(st_area(geometry)) AS a FROM NY8_utm18",
		"/usr/lib/R/site-library/spData/shapes/NY8_utm18.shp").CombinedOutput()
	require.NoError(t, err, "%s", out)
	var theirs float64
	_, err = fmt.Sscanf(string(out[bytes.Index(out, []byte("= "))+2:]), "%g", &theirs)
	require.NoError(t, err)
	require.InEpsilon(t, theirs, found.Townships.Area, 1e-3)
	_, err = store.AcceptStaged(ctxOf(t), ticket, date(2026, 11, 25))
	require.NoError(t, err)
	var invalid int
	require.NoError(t, pool.QueryRow(ctxOf(t), `SELECT count(*) FROM open.place_shape WHERE NOT ST_IsValid(outline)`).Scan(&invalid))
	require.Zero(t, invalid)
}

// What goes out comes back in, and GDAL reads it: counts, extent, area to 1e-9,
// outer rings counter-clockwise.
func TestExportIsReadByGDAL(t *testing.T) {
	store, pool := ground(t)
	ctx := ctxOf(t)
	_, err := store.Accept(ctx, gridSet(t, 4), date(2026, 8, 1))
	require.NoError(t, err)
	river := geofile.Layer{SRID: 4326, Features: []geofile.Feature{{Properties: map[string]string{"name": "Long"},
		Sketch: geom.NewMultiLineStringFlat(geom.XY, []float64{-40, 40, -39.8, 40.2, 10, 50, 11, 50}, []int{4, 8})}}}
	reference, err := geofile.NewReferenceLayer(river, "river", "name", "")
	require.NoError(t, err)
	done, err := store.PutLayer(ctx, reference)
	require.NoError(t, err)
	require.Equal(t, postgres.LayerAdded{Shown: 1}, done)
	layers, err := store.Export(ctx, 0)
	require.NoError(t, err)
	require.Len(t, layers, 4)
	require.Equal(t, []int{2, 32, 6, 1}, []int{len(layers[0].Features), len(layers[1].Features), len(layers[2].Features), len(layers[3].Features)})
	var want float64
	require.NoError(t, pool.QueryRow(ctx, `SELECT sum(ST_Area(s.geom)) FROM open.place_shape s JOIN open.place p ON p.id = s.place AND p.kind = 'township'`).Scan(&want))
	dir := t.TempDir()
	var b bytes.Buffer
	require.NoError(t, geofile.WriteGeoPackage(&b, layers))
	gpkg := filepath.Join(dir, "set.gpkg")
	require.NoError(t, os.WriteFile(gpkg, b.Bytes(), 0o600))
	b.Reset()
	require.NoError(t, geofile.WriteGeoJSON(&b, layers[1]))
	geojson := filepath.Join(dir, "townships.geojson")
	require.NoError(t, os.WriteFile(geojson, b.Bytes(), 0o600))
	for file, sql := range map[string]string{
		gpkg:    "SELECT count(*) AS n, sum(st_area(geom)) AS a, min(st_minx(geom)) AS x, max(st_maxy(geom)) AS y FROM townships",
		geojson: "SELECT count(*) AS n, sum(st_area(geometry)) AS a, min(st_minx(geometry)) AS x, max(st_maxy(geometry)) AS y FROM townships",
	} {
		out := filepath.Join(dir, "out.json")
		_ = os.Remove(out)
		said, err := exec.Command("ogr2ogr", "-f", "GeoJSON", "-dialect", "SQLite", "-sql", sql, out, file).CombinedOutput()
		require.NoError(t, err, "%s", said)
		raw, err := os.ReadFile(out)
		require.NoError(t, err)
		var c struct {
			Features []struct{ Properties struct{ N, A, X, Y float64 } }
		}
		require.NoError(t, json.Unmarshal(raw, &c))
		got := c.Features[0].Properties
		require.Equal(t, 32.0, got.N)
		require.InEpsilon(t, want, got.A, 1e-9)
		require.InDelta(t, -40, got.X, 1e-9)
		require.InDelta(t, 40.24, got.Y, 1e-9)
	}
	for _, l := range layers[:3] {
		for _, f := range l.Features {
			require.Positive(t, f.Geometry.Polygon(0).LinearRing(0).Area(), "RFC 7946, 3.1.6: outer rings run counter-clockwise")
		}
	}
	back, err := geofile.ReadFile(geojson, geofile.DefaultLimits(), geofile.Options{})
	require.NoError(t, err)
	require.Len(t, back.Features, 32)

	// The next set takes the reference layers over.
	_, err = store.Accept(ctx, gridSet(t, 3), date(2027, 8, 1))
	require.NoError(t, err)
	carried, err := store.Layers(ctx, 2)
	require.NoError(t, err)
	require.Equal(t, []postgres.LayerInfo{{Title: "Rivers", Kind: "river", Position: 1, Features: 1}}, carried)
	require.NoError(t, store.DropLayer(ctx, "Rivers"))
	require.Error(t, store.DropLayer(ctx, "Rivers"))
}

// allCounties are the counties of testdata/boundaries.
func allCounties(t testing.TB) geofile.Layer {
	f, err := os.Open("../../testdata/boundaries/us-counties.geojson.gz")
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	l, err := geofile.ReadGeoJSON(z, geofile.DefaultLimits())
	require.NoError(t, err)
	return l
}

// Areas on the ellipsoid against published ones. The Census Bureau's state areas
// of 2010, land and water, in square miles, are from memory; the file's outlines
// are strongly simplified, and measured differences are under a thousandth. Two
// counties are those of geofile's counties_test.go, by GDAL in EPSG:5070.
func TestAreasAgreeWithPublishedOnes(t *testing.T) {
	for state, published := range map[string]float64{"19": 56_273, "20": 82_278, "31": 77_348} {
		l := allCounties(t)
		l.Features = slices.DeleteFunc(l.Features, func(f geofile.Feature) bool { return f.Properties["id"][:2] != state })
		townships := make([]geofile.Feature, len(l.Features))
		for i, f := range l.Features {
			townships[i] = geofile.Feature{Geometry: f.Geometry, Properties: map[string]string{"code": f.Properties["id"]}}
		}
		set, err := geofile.NewSet(l, geofile.Layer{SRID: 4326, Features: townships}, geofile.Fields{Code: "id", Name: "name"}, geofile.Fields{Code: "code"})
		require.NoError(t, err)
		store, pool := ground(t)
		ticket, found := stage(t, store, set)
		require.InEpsilon(t, published, found.Counties.Area/2.589988110336e6, 0.001, state)
		require.Equal(t, len(l.Features), found.Places, "each township is its county: nothing is cut")
		accepted, err := store.AcceptStaged(ctxOf(t), ticket, date(2026, 11, 25))
		require.NoError(t, err)
		gapless(t, pool, accepted.Set, "county")
		gapless(t, pool, accepted.Set, "township")
		for code, miles := range map[string]float64{"19169": 573.1, "31109": 843.6} {
			var area float64
			require.NoError(t, pool.QueryRow(ctxOf(t), `
				SELECT coalesce(sum(ST_Area(s.geom::geography)), 0) / 2.589988110336e6
				  FROM open.place_shape s JOIN open.place p ON p.id = s.place AND p.kind = 'county'
				 WHERE s.code = $1`, code).Scan(&area))
			if code[:2] == state {
				require.InEpsilon(t, miles, area, 0.0005, code)
			}
		}
	}
}

// The nation at once: 3,230 counties, one township each. Some fifteen seconds on
// two cores: a benchmark.
func BenchmarkNationOfCounties(b *testing.B) {
	l := allCounties(b)
	townships := make([]geofile.Feature, len(l.Features))
	for i, f := range l.Features {
		townships[i] = geofile.Feature{Geometry: f.Geometry, Properties: map[string]string{"code": "1", "name": "Whole", "county": f.Properties["id"]}}
	}
	set, err := geofile.NewSet(l, geofile.Layer{SRID: 4326, Features: townships}, geofile.Fields{Code: "id", Name: "name"},
		geofile.Fields{Code: "code", Name: "name", County: "county"})
	require.NoError(b, err)
	load(b, set, func(pool *pgxpool.Pool) {
		var invalid int
		require.NoError(b, pool.QueryRow(context.Background(), `SELECT count(*) FROM open.place_shape WHERE NOT ST_IsValid(outline)`).Scan(&invalid))
		require.Zero(b, invalid)
	})
}

// 90,000 townships of six miles in 900 counties of ten by ten. Most of the time
// goes into cutting districts of counties that are larger than real ones.
func BenchmarkLatticeOf90000(b *testing.B) {
	const step = 0.1
	var counties, townships []geofile.Feature
	for x := range 30 {
		for y := range 30 {
			lon, lat := -110+float64(x*10)*step, 20+float64(y*10)*step
			counties = append(counties, rect(fmt.Sprint(x*30+y), "", lon, lat, lon+10*step, lat+10*step))
		}
	}
	for x := range 300 {
		for y := range 300 {
			lon, lat := -110+float64(x)*step, 20+float64(y)*step
			townships = append(townships, rect(fmt.Sprintf("T%dN R%dE", y+1, x+1), fmt.Sprint(x/10*30+y/10), lon, lat, -110+float64(x+1)*step, 20+float64(y+1)*step))
		}
	}
	load(b, setOf(b, counties, townships), func(*pgxpool.Pool) {})
}

// load stages and accepts a set, and reports how much memory the program had in
// use at its height.
func load(b *testing.B, set geofile.Set, check func(*pgxpool.Pool)) {
	for b.Loop() {
		store, pool := ground(b)
		stop, done := make(chan struct{}), make(chan uint64)
		go func() {
			most := uint64(0)
			for {
				select {
				case <-stop:
					done <- most
					return
				case <-time.After(20 * time.Millisecond):
					var m runtime.MemStats
					runtime.ReadMemStats(&m)
					most = max(most, m.HeapInuse)
				}
			}
		}()
		ticket, found := stage(b, store, set)
		require.False(b, found.Stopped(), "%v", kinds(found))
		_, err := store.AcceptStaged(context.Background(), ticket, date(2026, 11, 25))
		require.NoError(b, err)
		close(stop)
		b.ReportMetric(math.Round(float64(<-done)/(1<<20)), "MB-heap")
		check(pool)
	}
}

// The map of a staged set has the same marks as one in force will have.
func TestStagedMapIsWhatWillBeDrawn(t *testing.T) {
	store, pool := ground(t)
	ticket, _ := stage(t, store, gridSet(t, 4))
	staged, err := store.StagedMap(ctxOf(t), ticket)
	require.NoError(t, err)
	_, err = store.AcceptStaged(ctxOf(t), ticket, date(2026, 8, 1))
	require.NoError(t, err)
	issue, err := postgres.NewPublished(pool).Issue(ctxOf(t), 0)
	require.NoError(t, err)
	var drawn []atlas.Shape
	for _, c := range issue.Counties {
		for _, tw := range c.Townships {
			drawn = append(drawn, tw.Outline)
		}
	}
	for _, p := range staged {
		if p.Kind == "township" {
			require.True(t, slices.ContainsFunc(drawn, func(s atlas.Shape) bool { return fmt.Sprint(s) == fmt.Sprint(p.Outline) }))
		}
	}
}
