package geofile

import (
	"compress/gzip"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
)

// published is the number of counties and county equivalents of each state.
// Read in a list of them by number (2012, total 3,143, which is also the
// Census Bureau's own total in its 2010 and 2020 tallies, read); the file's
// 2017 edition has one fewer in Virginia, 133, since the city of Bedford
// became part of its county in 2013 (from memory; a list of 2013 with the
// total of 3,142 was read). The state codes are those of FIPS 5-2 (read).
var published = map[string]int{
	"01": 67, "02": 29, "04": 15, "05": 75, "06": 58, "08": 64, "09": 8, "10": 3, "11": 1, "12": 67,
	"13": 159, "15": 5, "16": 44, "17": 102, "18": 92, "19": 99, "20": 105, "21": 120, "22": 64, "23": 16,
	"24": 24, "25": 14, "26": 83, "27": 87, "28": 82, "29": 115, "30": 56, "31": 93, "32": 17, "33": 10,
	"34": 21, "35": 33, "36": 62, "37": 100, "38": 53, "39": 88, "40": 77, "41": 36, "42": 67, "44": 5,
	"45": 46, "46": 66, "47": 95, "48": 254, "49": 29, "50": 14, "51": 133, "53": 39, "54": 55, "55": 72, "56": 23,
}

func usCounties(t testing.TB) Layer {
	f, err := os.Open("../../testdata/boundaries/us-counties.geojson.gz")
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	l, err := ReadGeoJSON(z, DefaultLimits())
	require.NoError(t, err)
	return l
}

func TestCountiesPerStateAsPublished(t *testing.T) {
	counties, err := usCounties(t).Counties(Fields{Code: "id", Name: "name"})
	require.NoError(t, err)
	got, states, islands := map[string]int{}, 0, map[string]int{}
	for _, c := range counties {
		require.Len(t, c.Code, 5)
		if state := c.Code[:2]; state < "57" {
			got[state]++
			states++
		} else {
			islands[state]++
		}
	}
	got["51"]++ // Falls Church, whose outline the file's makers simplified away: see the README beside it
	require.Equal(t, published, got)
	require.Len(t, got, 51, "50 states and the District of Columbia")
	require.Equal(t, 3142, states+1)
	require.Equal(t, 78, islands["72"], "municipios of Puerto Rico, Census tallies of 2020 (read)")
}

// sphereArea is the area in square miles on a sphere of the earth's surface
// area (radius 6371.0072 km), exact for edges along which longitude and the
// sine of latitude change together.
func sphereArea(g *geom.MultiPolygon) float64 {
	const radius, mile2 = 6371.0072, 2.589988110336
	sum, start := 0.0, 0
	flat := g.FlatCoords()
	for _, ends := range g.Endss() {
		for _, end := range ends {
			ring := flat[start:end]
			for i := 0; i+3 < len(ring); i += 2 {
				width := (ring[i+2] - ring[i]) * math.Pi / 180
				sum += width * (math.Sin(ring[i+1]*math.Pi/180) + math.Sin(ring[i+3]*math.Pi/180)) / 2
			}
			start = end
		}
	}
	return math.Abs(sum) * radius * radius / mile2
}

// Areas of the same outlines in square miles, measured with GDAL 3.6.2 and PROJ
// in the equal-area system EPSG:5070.
func TestCountyAreasAgreeWithGDAL(t *testing.T) {
	want := map[string]float64{"19169": 573.1, "27013": 764.3, "31109": 843.6, "31055": 335.0}
	for _, f := range usCounties(t).Features {
		if w, ok := want[f.Properties["id"]]; ok {
			require.InEpsilon(t, w, sphereArea(f.Geometry), 0.004, f.Properties["name"])
			delete(want, f.Properties["id"])
		}
	}
	require.Empty(t, want)
}

func BenchmarkReadUSCounties(b *testing.B) {
	for b.Loop() {
		usCounties(b)
	}
}
