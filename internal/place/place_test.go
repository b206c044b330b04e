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
