package place

import (
	"bufio"
	"errors"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// ways reads the table of ways to write places.
func ways(t testing.TB) [][2]string {
	t.Helper()
	f, err := os.Open("testdata/ways.txt")
	require.NoError(t, err)
	defer f.Close()
	var out [][2]string
	for in := bufio.NewScanner(f); in.Scan(); {
		text, want, ok := strings.Cut(in.Text(), "\t")
		if strings.HasPrefix(text, "#") || !ok {
			continue
		}
		out = append(out, [2]string{text, want})
	}
	return out
}

func TestWaysToWritePlaces(t *testing.T) {
	list := ways(t)
	require.GreaterOrEqual(t, len(list), 200)
	for _, w := range list {
		t.Run(w[0], func(t *testing.T) {
			s, err := ParseSurvey(w[0])
			if fault, wrong := strings.CutPrefix(w[1], "!"); wrong {
				var bad *LegalError
				require.ErrorAs(t, err, &bad, "%v", s)
				require.Equal(t, Fault(fault), bad.Fault)
				require.Zero(t, s)
				return
			}
			require.NoError(t, err)
			require.Equal(t, w[1], s.String())
		})
	}
}

// Upper and lower case, more space and a period behind change nothing.
func TestWaysDoNotDependOnCaseAndSpace(t *testing.T) {
	for _, w := range ways(t) {
		want, wantErr := ParseSurvey(w[0])
		for _, other := range []string{strings.ToUpper(w[0]), strings.ToLower(w[0]), "  " + w[0] + "  ", strings.ReplaceAll(w[0], " ", "  ")} {
			got, err := ParseSurvey(other)
			require.Equal(t, wantErr, err, "%q", other)
			require.Equal(t, want, got, "%q", other)
		}
	}
}

func anySurvey(t *rapid.T) Survey {
	return Survey{
		Township:   Tier(rapid.IntRange(4, 4*maxTier).Draw(t, "township")),
		Range:      Tier(rapid.IntRange(4, 4*maxTier).Draw(t, "range")),
		NorthSouth: rapid.SampledFrom([]Side{NotSaid, North, South}).Draw(t, "north or south"),
		EastWest:   rapid.SampledFrom([]Side{NotSaid, East, West}).Draw(t, "east or west"),
		Meridian:   Meridian(rapid.IntRange(0, 34).Draw(t, "meridian")),
	}
}

func TestPrintedSurveysParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySurvey(t)
		got, err := ParseSurvey(s.String())
		require.NoError(t, err, s.String())
		require.Equal(t, s, got)
		got, err = ParseSurvey(strings.Replace(s.String(), " R", "R", 1))
		require.NoError(t, err)
		require.Equal(t, s, got)
		require.True(t, s.Fits(got))
	})
}

// Whatever section and quarters stand around it, the township is the same.
func TestSectionAndQuartersAreDropped(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySurvey(t)
		part := strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"NE", "SW¼", "NW 1/4 ", "SE4", "N½", "E 1/2 ", "W2", "southeast quarter of the "}), 0, 5).Draw(t, "quarters"), "")
		section := rapid.StringMatching(`(S|Sec\. |Section )([1-9]|[12][0-9]|3[0-6])`).Draw(t, "section")
		text := rapid.SampledFrom([]string{part + " " + section + ", " + s.String(), s.String() + ", " + section + " " + part}).Draw(t, "text")
		got, err := ParseSurvey(text)
		require.NoError(t, err, text)
		require.Equal(t, s, got, text)
	})
}

// The type that leaves the parser can hold a township and nothing finer: two
// tiers, two sides, a meridian. Whoever adds a field has to argue here.
func TestSurveyHoldsNothingFiner(t *testing.T) {
	var fields []string
	for i := range reflect.TypeFor[Survey]().NumField() {
		fields = append(fields, reflect.TypeFor[Survey]().Field(i).Name)
	}
	require.Equal(t, []string{"Township", "Range", "NorthSouth", "EastWest", "Meridian"}, fields)
	require.Equal(t, 1, reflect.TypeFor[LegalError]().NumField(), "an error tells the fault, not what was typed")
}

func TestFits(t *testing.T) {
	parse := func(text string) Survey {
		s, err := ParseSurvey(text)
		require.NoError(t, err)
		return s
	}
	here := []Survey{parse("T21N R8E 4th PM"), parse("T21N R8W 4th PM"), parse("T21N R8W 5th PM"), parse("T21N R9W 5th PM")}
	// Handbook section 12: in Minnesota ranges are numbered from two meridians,
	// and to both sides of one, so township and range alone are not unique.
	for text, want := range map[string]int{
		"21-8": 3, "T21N R8W": 2, "T21N R8W of the 5th": 1, "21-9": 1, "T21S R8W": 0, "T21N R8E of the 5th": 0, "21 8 4th PM": 2,
	} {
		n := 0
		for _, h := range here {
			if parse(text).Fits(h) {
				n++
			}
		}
		require.Equal(t, want, n, text)
	}
	require.True(t, parse("T21N R8E").Sided())
	require.False(t, parse("T21 R8E").Sided())
	require.False(t, parse("T21N R8").Sided())
}

func TestSplitCounty(t *testing.T) {
	for text, want := range map[string][2]string{
		"T21N R8E, Plover County":              {"T21N R8E", "Plover"},
		"T21N R8E Plover Co.":                  {"T21N R8E", "Plover"},
		"21-8, Fox River County":               {"21-8", "Fox River"},
		"21-8 in St. Brendan's County":         {"21-8", "St. Brendan's"},
		"Plover County: T21N R8E":              {"T21N R8E", "Plover"},
		"Plover Co. 21-8":                      {"21-8", "Plover"},
		"sec 12 T21N R8E, Plover County.":      {"sec 12 T21N R8E", "Plover"},
		"T21N R8 East Plover County":           {"T21N R8 East", "Plover"},
		"Elm Grove (Plover County)":            {"Elm Grove", "Plover"},
		"Elm Grove, Plover county":             {"Elm Grove", "Plover"},
		"T21N R8E":                             {"T21N R8E", ""},
		"Plover County":                        {"Plover County", ""},
		"":                                     {"", ""},
		strings.Repeat("a ", 200) + "b County": {strings.Repeat("a ", 200) + "b County", ""},
	} {
		rest, county := SplitCounty(text)
		require.Equal(t, want, [2]string{rest, county}, text)
	}
}

func TestMeridians(t *testing.T) {
	require.Empty(t, Meridian(0).String())
	require.Equal(t, "3rd principal meridian", Meridian(3).String())
	require.Equal(t, "Willamette meridian", Meridian(33).String())
	require.False(t, Meridian(0).Known())
	require.False(t, Meridian(99).Known())
	for _, s := range []Side{NotSaid, North, South, East, West} {
		got, err := ParseSide(s.String())
		require.NoError(t, err)
		require.Equal(t, s, got)
	}
	_, err := ParseSide("up")
	require.Error(t, err)
}

func FuzzParseSurvey(f *testing.F) {
	for _, w := range ways(f) {
		f.Add(w[0])
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseSurvey(text)
		var bad *LegalError
		if err != nil {
			require.True(t, errors.As(err, &bad))
			require.Contains(t, Faults, bad.Fault)
			require.Zero(t, s)
			return
		}
		require.True(t, s.Township.possible() && s.Range.possible())
		again, err := ParseSurvey(s.String())
		require.NoError(t, err, s.String())
		require.Equal(t, s, again)
	})
}

func FuzzSplitCounty(f *testing.F) {
	f.Add("T21N R8E, Plover County")
	f.Fuzz(func(t *testing.T, text string) {
		rest, county := SplitCounty(text)
		require.LessOrEqual(t, len(rest)+len(county), len(text))
	})
}
