package place

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSlug(t *testing.T) {
	for in, want := range map[string]string{
		"Elm Grove":           "elm-grove",
		"St. Brendan's":       "st-brendans",
		"  Upper   Fork  ":    "upper-fork",
		"Côte-Désirée":        "cote-desiree",
		"Ørsted & Ægir":       "orsted-and-aegir",
		"T58½N R8E":           "t58-1-2n-r8e",
		"T21N R8E":            "t21n-r8e",
		"Øst/Vest (North)":    "ost-vest-north",
		"ﬁne":                 "fine",
		"日本":                  "",
		"---":                 "",
		"\xff\xfe broken":     "broken",
		"No. 7":               "no-7",
		"İzmir":               "izmir",
		"Kupaʻa":              "kupaa",
		"O’Fallow":            "ofallow",
		"Straße":              "strasse",
		"Lac qui Parle Creek": "lac-qui-parle-creek",
	} {
		require.Equal(t, want, Slug(in), in)
	}
}

var slugForm = regexp.MustCompile(`^([a-z0-9]+(-[a-z0-9]+)*)?$`)

func TestSlugForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Slug(rapid.String().Draw(t, "name"))
		require.Regexp(t, slugForm, s)
		require.LessOrEqual(t, len(s), maxSlug+8)
		require.Equal(t, s, Slug(s), "a slug is its own slug")
	})
}

func TestWithSlugs(t *testing.T) {
	got := WithSlugs([]Place{
		{ID: 1, Kind: County, Code: "001", Name: "Fairmead"},
		{ID: 2, Kind: County, Code: "510", Name: "Fairmead"},
		{ID: 3, Kind: Township, Code: "T1N R1E", Name: "Fairmead", County: 1},
		{ID: 4, Kind: Township, Code: "T1N R2E", Name: "Fairmead", County: 2},
		{ID: 5, Kind: Township, Code: "語", Name: "言", County: 2},
		{ID: 6, Kind: Township, Code: "語2", Name: "言", County: 2},
		{ID: 7, Kind: Township, Code: "", Name: "言", County: 2},
	})
	var slugs []string
	for _, p := range got {
		slugs = append(slugs, p.Slug)
	}
	require.Equal(t, []string{"fairmead-001", "fairmead-510", "fairmead", "fairmead", "township", "2", "township-2"}, slugs)
}

func TestWithSlugsUnique(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.SampledFrom([]string{"", "a", "A", "a-2", "a 2", "2", "b", "ä"})
		places := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Place {
			return Place{Kind: Township, Name: word.Draw(t, "name"), Code: word.Draw(t, "code"), County: ID(rapid.IntRange(1, 2).Draw(t, "county"))}
		}), 0, 12).Draw(t, "places")
		seen := map[[2]string]bool{}
		for _, p := range WithSlugs(places) {
			k := [2]string{string(rune('0' + p.County)), p.Slug}
			require.NotEmpty(t, p.Slug)
			require.False(t, seen[k], "%v twice", k)
			seen[k] = true
		}
	})
}

func TestLabel(t *testing.T) {
	for _, tc := range []struct {
		place Place
		want  string
	}{
		{Place{Kind: Township, Code: "T21N R8E", Name: "T21N R8E"}, "T21N R8E"},
		{Place{Kind: Township, Code: "T21N R8E"}, "T21N R8E"},
		{Place{Kind: Township, Code: "T21N R8E", Name: "Elm Grove"}, "Elm Grove (T21N R8E)"},
		{Place{Kind: Township, Code: "9904512345", Name: "Elm Grove"}, "Elm Grove"},
		{Place{Kind: County, Code: "FM", Name: "Fairmead"}, "Fairmead"},
	} {
		require.Equal(t, tc.want, tc.place.Label())
	}
}

func TestParseKind(t *testing.T) {
	for _, k := range []Kind{County, Township, District} {
		got, err := ParseKind(string(k))
		require.NoError(t, err)
		require.Equal(t, k, got)
	}
	_, err := ParseKind("parish")
	require.Error(t, err)
}
