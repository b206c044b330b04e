package geofile

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
)

// Real files: what Debian's packages r-cran-sf and r-cran-spdata bring, which
// .ci/run installs. GDAL (Debian package gdal-bin) says what is in them.
const (
	sfFolder = "/usr/lib/R/site-library/sf"
	spFolder = "/usr/lib/R/site-library/spData/shapes"
)

// ogr runs one of GDAL's programs.
func ogr(t testing.TB, program string, args ...string) string {
	t.Helper()
	out, err := exec.Command(program, args...).CombinedOutput()
	require.NoError(t, err, "%s %v (Debian package gdal-bin): %s", program, args, out)
	return string(out)
}

// asGDAL reads a layer's features through GDAL, as GeoJSON in its own numbers.
func asGDAL(t testing.TB, file string) []gdalFeature {
	t.Helper()
	out := filepath.Join(t.TempDir(), "out.json")
	ogr(t, "ogr2ogr", "-f", "GeoJSON", "-a_srs", "EPSG:4326", "-lco", "RFC7946=NO", "-lco", "COORDINATE_PRECISION=15", "-lco", "WRITE_NAME=NO", "-dim", "XY",
		"--config", "SHAPE_RESTORE_SHX", "YES", out, file)
	raw, err := os.ReadFile(out)
	require.NoError(t, err)
	var c struct{ Features []gdalFeature }
	require.NoError(t, json.Unmarshal(raw, &c))
	return c.Features
}

type gdalFeature struct {
	Properties map[string]any
	Geometry   rawGeometry
}

func area(g *geom.MultiPolygon) float64 {
	sum, start := 0.0, 0
	for _, ends := range g.Endss() {
		for i, end := range ends {
			a := turned(g.FlatCoords()[start:end]) / 2
			if a < 0 {
				a = -a
			}
			if i > 0 {
				a = -a
			}
			sum += a
			start = end
		}
	}
	return sum
}

func TestRealFilesAgreeWithGDAL(t *testing.T) {
	for name, features := range map[string]int{
		sfFolder + "/shape/nc.shp":                  100, // counties of North Carolina, in NAD27
		sfFolder + "/shape/olinda1.shp":             470,
		sfFolder + "/gpkg/nc.gpkg":                  100,
		sfFolder + "/gpkg/buildings.gpkg":           158,
		spFolder + "/NY8_utm18.shp":                 281, // census tracts, in UTM
		spFolder + "/NY8_bna_utm18.gpkg":            281,
		spFolder + "/auckland.shp":                  167,
		spFolder + "/baltim.shp":                    211, // points
		spFolder + "/boston_tracts.shp":             506,
		spFolder + "/columbus.shp":                  49,
		spFolder + "/eire.shp":                      26,
		spFolder + "/sids.shp":                      100,
		spFolder + "/wheat.shp":                     500,
		spFolder + "/world.shp":                     177,
		spFolder + "/world.gpkg":                    177,
		spFolder + "/cycle_hire.geojson":            742, // points
		sfFolder + "/shape/storms_xyz_feature.shp":  71,  // lines with height
		sfFolder + "/shape/storms_xyzm_feature.shp": 71,  // and with measure
	} {
		t.Run(filepath.Base(name), func(t *testing.T) {
			l, err := ReadFile(name, DefaultLimits(), Options{Any: true})
			require.NoError(t, err)
			require.Len(t, l.Features, features)
			want := asGDAL(t, name)
			require.Len(t, want, features)
			for i, f := range l.Features {
				left := 1 << 30
				shape, err := readGeometry(&want[i].Geometry, &left)
				require.NoError(t, err)
				// The same corners, in whatever order the rings are.
				theirs, ours := slices.Sorted(slices.Values(shape.FlatCoords())), slices.Sorted(slices.Values(f.shape().FlatCoords()))
				require.InDeltaSlice(t, theirs, ours, 1e-8)
				if f.Geometry != nil {
					require.InEpsilon(t, area(shape.(*geom.MultiPolygon)), area(f.Geometry), 1e-11)
					require.Equal(t, shape.(*geom.MultiPolygon).NumPolygons(), f.Geometry.NumPolygons())
				}
				for field, value := range want[i].Properties {
					got, has := f.Properties[field]
					require.True(t, has, field)
					switch value := value.(type) {
					case string:
						require.Equal(t, strings.TrimRight(value, " "), strings.ReplaceAll(got, "-", func() string {
							if strings.Contains(value, "/") {
								return "/" // GDAL's way of writing a date
							}
							return "-"
						}()))
					case nil:
						require.Empty(t, got)
					case float64:
						require.InDelta(t, value, number(t, got), 1e-9*math.Abs(value), field)
					}
				}
			}
		})
	}
}

func number(t testing.TB, s string) (v float64) {
	t.Helper()
	require.NoError(t, json.Unmarshal([]byte(strings.TrimPrefix(s, "+")), &v), s)
	return v
}

func TestRealCoordinateSystems(t *testing.T) {
	for name, want := range map[string]CRS{
		sfFolder + "/gpkg/nc.gpkg": {EPSG: 4267},
		spFolder + "/wheat.shp":    {},
	} {
		l, err := ReadFile(name, DefaultLimits(), Options{})
		require.NoError(t, err)
		require.Equal(t, want, l.CRS(), name)
	}
	l, err := ReadFile(sfFolder+"/shape/nc.shp", DefaultLimits(), Options{})
	require.NoError(t, err)
	require.Equal(t, "GCS_North_American_1927", l.CRS().String())
	require.True(t, l.CRS().IsDegrees())
	l, err = ReadFile(spFolder+"/NY8_utm18.shp", DefaultLimits(), Options{})
	require.NoError(t, err)
	require.Contains(t, l.CRS().String(), "UTM")
	require.False(t, l.CRS().IsDegrees())
	l, err = ReadFile(spFolder+"/wheat.shp", DefaultLimits(), Options{CRS: CRS{EPSG: 26915}})
	require.NoError(t, err)
	require.Equal(t, 26915, l.SRID)
}
