package geofile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"
)

// box is a closed square with its southwest corner given.
func box(x, y float64) *geom.MultiPolygon {
	return geom.NewMultiPolygonFlat(geom.XY, []float64{x, y, x + 1, y, x + 1, y + 1, x, y + 1, x, y}, [][]int{{10}})
}

func layer(rows ...map[string]string) Layer {
	l := Layer{SRID: 4326}
	for i, row := range rows {
		l.Features = append(l.Features, Feature{Properties: row, Geometry: box(float64(i), 40)})
	}
	return l
}

func TestCountiesAndTownships(t *testing.T) {
	counties, err := layer(
		map[string]string{"GEOID": " 99001 ", "NAME": "Fairmead"},
		map[string]string{"GEOID": "99003", "NAME": "Low Prairie"},
		map[string]string{"GEOID": "99510", "NAME": "fairmead"},
	).Counties(Fields{Code: "GEOID", Name: "NAME"})
	require.NoError(t, err)
	require.Equal(t, County{Code: "99001", Name: "Fairmead", Geometry: counties[0].Geometry}, counties[0])

	rows := layer(
		map[string]string{"TR": "T1N R1E", "CO": "99001"},
		map[string]string{"TR": "T1N R1E", "CO": "low prairie"}, // cut by the county line
		map[string]string{"TR": "T1N R2E", "CO": "99003"},
	)
	townships, err := rows.Townships(Fields{Code: "TR", County: "CO"}, counties)
	require.NoError(t, err)
	require.Equal(t, "T1N R1E", townships[0].Name, "without a name field the code serves")
	require.Equal(t, []string{"99001", "99003", "99003"}, []string{townships[0].County, townships[1].County, townships[2].County})

	_, err = rows.Townships(Fields{Code: "TR"}, counties)
	var r *Report
	require.ErrorAs(t, err, &r, "without counties the code alone must be unique")
	require.Equal(t, []Problem{{Feature: 2, Kind: Duplicate, Field: "TR", Detail: "T1N R1E"}}, r.Problems)

	_, err = layer(map[string]string{"TR": "a", "CO": "Fairmead"}).Townships(Fields{Code: "TR", County: "CO"}, counties)
	require.ErrorAs(t, err, &r)
	require.Equal(t, UnknownCounty, r.Problems[0].Kind, "a name that two counties share says neither")
}

func TestRecordProblems(t *testing.T) {
	l := layer(
		map[string]string{"code": "1", "name": "One"},
		map[string]string{"name": "Two"},
		map[string]string{"code": "  ", "name": "Three"},
		map[string]string{"code": "1", "name": "Four"},
		map[string]string{"code": "5", "name": "C\uFFFDte"},
		map[string]string{"code": "6", "name": strings.Repeat("n", 121)},
		map[string]string{"code": "7", "name": "a\x00b"},
	)
	_, err := l.Counties(Fields{Code: "code", Name: "name"})
	var r *Report
	require.ErrorAs(t, err, &r)
	require.Equal(t, []Problem{
		{2, MissingField, "code", ""},
		{3, EmptyValue, "code", ""},
		{4, Duplicate, "code", "1"},
		{5, BadText, "name", ""},
		{6, LongText, "name", "120"},
		{7, BadText, "name", ""},
	}, r.Problems)
	require.Equal(t, 6, r.Total)

	for _, f := range []Fields{{Code: "GEOID", Name: "name"}, {Code: "code", Name: "NAME"}, {}} {
		_, err = l.Counties(f)
		require.ErrorAs(t, err, &r)
		require.Len(t, r.Problems, 1, "a wrong field name is said once")
		require.Equal(t, NoField, r.Problems[0].Kind)
		require.Contains(t, err.Error(), "code, name")
	}
	_, err = l.Townships(Fields{Code: "code", County: "cty"}, nil)
	require.ErrorAs(t, err, &r)
	require.Equal(t, NoField, r.Problems[0].Kind)
}

func TestRingProblems(t *testing.T) {
	ring := func(coords ...float64) *geom.MultiPolygon {
		return geom.NewMultiPolygonFlat(geom.XY, coords, [][]int{{len(coords)}})
	}
	withHole := geom.NewMultiPolygonFlat(geom.XY, []float64{0, 0, 9, 0, 9, 9, 0, 9, 0, 0, 1, 1, 2, 2, 2, 1}, [][]int{{10, 16}})
	for name, tc := range map[string]struct {
		srid  int
		shape *geom.MultiPolygon
		want  Kind
	}{
		"good":                       {4326, ring(-93, 42, -92, 42, -92, 43, -93, 42), ""},
		"triangle of two points":     {4326, ring(-93, 42, -92, 42, -93, 42), ShortRing},
		"short hole":                 {4326, withHole, ShortRing},
		"not closed":                 {4326, ring(-93, 42, -92, 42, -92, 43, -93, 43), OpenRing},
		"all on a line":              {4326, ring(-93, 42, -92, 42, -91, 42, -93, 42), FlatRing},
		"all one point":              {4326, ring(-93, 42, -93, 42, -93, 42, -93, 42), FlatRing},
		"meters called degrees":      {4326, ring(500000, 4649776, 500100, 4649776, 500100, 4649876, 500000, 4649776), OutOfRange},
		"latitude first":             {4269, ring(42, -93, 42, -92, 43, -92, 42, -93), OutOfRange},
		"meters called meters":       {26915, ring(500000, 4649776, 500100, 4649776, 500100, 4649876, 500000, 4649776), ""},
		"beyond any projection":      {26915, ring(5e9, 4649776, 500100, 4649776, 500100, 4649876, 5e9, 4649776), OutOfRange},
		"small, far from the corner": {26915, ring(500000, 4649776, 500000.01, 4649776, 500000.01, 4649776.01, 500000, 4649776), ""},
		"antimeridian, cut in two":   {4326, ring(180, 51, 180, 52, 179, 52, 180, 51), ""},
	} {
		t.Run(name, func(t *testing.T) {
			l := Layer{SRID: tc.srid, Features: []Feature{{Properties: map[string]string{"c": "1"}, Geometry: tc.shape}}}
			_, err := l.Counties(Fields{Code: "c"})
			if tc.want == "" {
				require.NoError(t, err)
				return
			}
			var r *Report
			require.ErrorAs(t, err, &r)
			require.Equal(t, tc.want, r.Problems[0].Kind)
			require.Equal(t, 1, r.Total)
		})
	}
}

func TestEveryKindHasASentence(t *testing.T) {
	for _, k := range []Kind{NoField, MissingField, EmptyValue, BadText, LongText, Duplicate, UnknownCounty, NotPolygon,
		NoGeometry, BadFeature, BadPosition, OpenRing, ShortRing, FlatRing, OutOfRange, Antimeridian} {
		s := Problem{Feature: 3, Kind: k, Field: "f", Detail: "d"}.String()
		require.Regexp(t, `^Feature 3: [a-z].*[.?]$`, s)
		require.NotEqual(t, "Feature 3: "+string(k)+".", s)
	}
}
