package place

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseQuery(t *testing.T) {
	t21 := Survey{Township: Whole(21), Range: Whole(8), NorthSouth: North, EastWest: East}
	for text, want := range map[string]Query{
		"SE of the NE of 12, T21N R8E":     {Survey: &t21},
		"T21N R8E, Plover County":          {Survey: &t21, County: "plover"},
		"Fox River Co.: 21N-8E":            {Survey: &t21, County: "fox river"},
		"Elm Grove":                        {Fault: NotLegal, Name: "elm grove"},
		"Elm Grove Township, Plover Co":    {Fault: NotLegal, Name: "elm grove", County: "plover"},
		"Township of Elm Grove":            {Fault: NotLegal, Name: "elm grove"},
		"Plover County":                    {Fault: NotLegal, Name: "plover"},
		"Town 5":                           {Fault: NoRange, Name: "town 5"},
		"T21N R8E S37":                     {Fault: BadSection, Name: "t21n r8e s37"},
		"44.5, -93.5":                      {Fault: Coordinates},
		"":                                 {Fault: NotLegal},
		"日本":                               {Fault: NotLegal},
		strings.Repeat("elm ", 60) + "end": {Fault: TooLong},
	} {
		require.Equal(t, want, ParseQuery(text), text)
	}
	require.True(t, ParseQuery("").Empty())
	require.True(t, ParseQuery("44.5 -93.5").Empty())
	require.False(t, ParseQuery("elm").Empty())
}

func TestFold(t *testing.T) {
	for in, want := range map[string]string{
		"Elm Grove": "elm grove", "ELM  GROVE TOWNSHIP": "elm grove", "Town of Elm Grove": "elm grove", "Township": "township",
		"Saint Brendan's Co.": "saint brendans", "Town Creek": "town creek", "Côte-Désirée": "cote desiree",
		"County Line": "county line", "T21N R8E": "t21n r8e", "9904512345": "9904512345", "": "", "語": "",
	} {
		require.Equal(t, want, Fold(in), in)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := Fold(rapid.String().Draw(t, "name"))
		require.NotContains(t, s, "  ")
		require.Equal(t, strings.TrimSpace(s), s)
	})
}

func TestSure(t *testing.T) {
	sided, half := ParseQuery("T21N R8E"), ParseQuery("21-8")
	one := []Candidate{{How: BySurvey, Alike: 1}}
	require.True(t, Sure(one, sided))
	require.False(t, Sure(one, half), "directions that nobody said are asked for")
	require.False(t, Sure(append(one, one...), sided))
	require.False(t, Sure(nil, sided))
	name := ParseQuery("Elm Grove")
	require.True(t, Sure([]Candidate{{How: ByName, Alike: 1}}, name))
	require.True(t, Sure([]Candidate{{How: ByCode, Alike: 1}}, name))
	require.False(t, Sure([]Candidate{{How: ByName, Alike: 0.8}}, name), "a slip of the finger is asked about")
	require.False(t, Sure([]Candidate{{How: ByTown, Alike: 1}}, name), "a field near a town may lie in the township next to it")
}
