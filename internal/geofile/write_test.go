package geofile

import (
	"errors"
	"maps"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
	"pgregory.net/rapid"
)

func drawLayer(t *rapid.T) Layer {
	number := rapid.Float64Range(-1e7, 1e7)
	l := Layer{SRID: rapid.SampledFrom([]int{4326, 4269, 26915, 5070}).Draw(t, "srid")}
	for range rapid.IntRange(0, 4).Draw(t, "features") {
		var flat []float64
		var endss [][]int
		for range rapid.IntRange(1, 3).Draw(t, "polygons") {
			var ends []int
			for range rapid.IntRange(1, 3).Draw(t, "rings") {
				for range rapid.IntRange(1, 6).Draw(t, "points") {
					flat = append(flat, number.Draw(t, "x"), number.Draw(t, "y"))
				}
				ends = append(ends, len(flat))
			}
			endss = append(endss, ends)
		}
		l.Features = append(l.Features, Feature{
			Properties: rapid.MapOfN(rapid.String(), rapid.String(), 0, 4).Draw(t, "properties"),
			Geometry:   geom.NewMultiPolygonFlat(geom.XY, flat, endss).SetSRID(l.SRID),
		})
	}
	return l
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLayer(t)
		var b strings.Builder
		require.NoError(t, WriteGeoJSON(&b, l))
		back, err := read(b.String())
		require.NoError(t, err)
		require.Equal(t, l.SRID, back.SRID)
		require.Len(t, back.Features, len(l.Features))
		for i, f := range l.Features {
			require.True(t, maps.Equal(f.Properties, back.Features[i].Properties))
			require.Equal(t, f.Geometry.Endss(), back.Features[i].Geometry.Endss())
			got := back.Features[i].Geometry.FlatCoords()
			require.Len(t, got, len(f.Geometry.FlatCoords()))
			for j, v := range f.Geometry.FlatCoords() {
				require.Equal(t, math.Float64bits(v), math.Float64bits(got[j]), "every digit")
			}
		}
	})
}

func TestWriteDropsHeights(t *testing.T) {
	shape := geom.NewMultiPolygonFlat(geom.XYZ, []float64{0, 0, 5, 1, 0, 5, 1, 1, 5, 0, 0, 5}, [][]int{{12}})
	var b strings.Builder
	require.NoError(t, WriteGeoJSON(&b, Layer{Features: []Feature{{Geometry: shape}}}))
	require.Contains(t, b.String(), `[[[[0,0],[1,0],[1,1],[0,0]]]]`)
}

func TestWriteRefuses(t *testing.T) {
	shape := geom.NewMultiPolygonFlat(geom.XY, []float64{0, 0, math.NaN(), 0}, [][]int{{4}})
	err := WriteGeoJSON(&strings.Builder{}, Layer{Features: []Feature{{Geometry: shape}}})
	require.ErrorIs(t, err, errNumber)
	require.ErrorIs(t, WriteGeoJSON(fullDisk{}, layer(map[string]string{"a": "b"})), errFull)
}

var errFull = errors.New("disk full")

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }
