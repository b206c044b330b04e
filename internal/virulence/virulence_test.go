package virulence_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/virulence"
)

// means is a test in which each line has one pot with its mean in it; a
// negative number stands for a line that was not tested.
func means(check int, lines ...int) virulence.Test {
	t := virulence.Test{Check: []int{check}}
	for i, n := range lines {
		if n >= 0 {
			t.Pots[i] = []int{n}
		}
	}
	return t
}

func result(t *testing.T, test virulence.Test) virulence.Result {
	t.Helper()
	r, err := test.Result()
	require.NoError(t, err)
	return r
}

// Worked example 2 of soybeanresearchinfo.com: Lee 74 has 250 females, the
// lines 17, 73, 3, 19, 9, 16 and 28; HG Type 2.7. The indexes were divided by
// hand.
func TestPublishedExample(t *testing.T) {
	r := result(t, means(250, 17, 73, 3, 19, 9, 16, 28))
	require.Equal(t, "2.7", r.Type.Name())
	require.Equal(t, "2.7", r.Type.String())
	require.True(t, r.Type.Complete())
	for i, want := range []float64{6.8, 29.2, 1.2, 7.6, 3.6, 6.4, 11.2} {
		require.InDelta(t, want, r.Indexes[i].Value, 1e-9)
	}
	require.NotContains(t, reasons(r), virulence.OddSet, "2.7 is an everyday type")
}

// "10 or more" (Minnesota table, Michigan State): exactly ten is elevated, and
// no rounding may decide it.
func TestExactlyTen(t *testing.T) {
	r := result(t, means(250, 25, 24))
	require.True(t, r.Indexes[0].Elevated)
	require.Equal(t, 10.0, r.Indexes[0].Value)
	require.False(t, r.Indexes[1].Elevated)

	// Three pots of the check hold 100, nine of a line 30: the means have no
	// exact float, the rule is of whole numbers.
	test := virulence.Test{Check: []int{33, 33, 34}}
	test.Pots[0] = []int{3, 3, 4, 3, 3, 4, 3, 3, 4} // 30 in 9: exactly a tenth
	test.Pots[1] = []int{3, 3, 4, 3, 3, 4, 3, 3, 3} // 29 in 9
	r = result(t, test)
	require.Equal(t, "1", r.Type.Name())
}

// MSU and the Minnesota clinic test some of the lines only; numbers keep.
func TestSubsetsSayWhatTheyAreOf(t *testing.T) {
	r := result(t, means(250, 17, 73))
	require.Equal(t, "2", r.Type.Name())
	require.Equal(t, "2 (of 1.2)", r.Type.String())
	require.Equal(t, "-+?????", marks(r.Type))
	require.False(t, r.Type.Complete())
	none := result(t, means(250, 1, 1, -1, 2))
	require.Equal(t, "0 (of 1.2.4)", none.Type.String())
	require.Equal(t, "--?-???", marks(none.Type))
	require.False(t, none.Indexes[2].Tested)
	require.Zero(t, none.Indexes[2].Rating)
}

func marks(t virulence.Type) string {
	out := ""
	for _, l := range virulence.Lines() {
		out += t.Mark(l)
	}
	return out
}

// Races (Riggs and Schmitt 1988, J. Nematol. 20:392-395; the table from
// memory): signs on Pickett, Peking, PI 88788, PI 90763. Pickett is no indicator
// line, so that the HG type on lines 1 to 3 follows from the other three, and
// races 3 and 6 both come to 0, as the caption of a figure in Plant Management
// Network has it. The abstract asks for 16 distinct races.
func TestRaces(t *testing.T) {
	races := []struct{ signs, hg string }{
		{"--+-", "2"}, {"+++-", "1.2"}, {"----", "0"}, {"++++", "1.2.3"},
		{"+-+-", "2"}, {"+---", "0"}, {"--++", "2.3"}, {"---+", "3"},
		{"++--", "1"}, {"+--+", "3"}, {"-++-", "1.2"}, {"-+-+", "1.3"},
		{"-+--", "1"}, {"++-+", "1.3"}, {"+-++", "2.3"}, {"-+++", "1.2.3"},
	}
	distinct := map[string]bool{}
	for i, race := range races {
		distinct[race.signs] = true
		females := make([]int, 3)
		for l := range females {
			females[l] = 3
			if race.signs[l+1] == '+' {
				females[l] = 60
			}
		}
		r := result(t, means(200, females...))
		require.Equal(t, race.hg+" (of 1.2.3)", r.Type.String(), "race %d", i+1)
	}
	require.Len(t, distinct, 16)
}

// Schmitt and Shannon 1992, by way of Ohio State's Verification of SCN
// resistance (Lindsey and Niblack 2016).
func TestRate(t *testing.T) {
	for index, want := range map[float64]virulence.Rating{
		0: virulence.Resistant, 9.99: virulence.Resistant, 10: virulence.ModeratelyResistant, 30: virulence.ModeratelyResistant,
		30.5: virulence.ModeratelySusceptible, 31: virulence.ModeratelySusceptible, 60: virulence.ModeratelySusceptible,
		61: virulence.Susceptible, 140: virulence.Susceptible, -1: 0, math.NaN(): 0,
	} {
		require.Equal(t, want, virulence.Rate(index), "%v", index)
	}
	require.Equal(t, "moderately_resistant", virulence.ModeratelyResistant.String())
}

// The ratio and its limits are stat's, checked there against R; here that they
// are per cent, and that an index is sure only off ten.
func TestIndexCarriesItsError(t *testing.T) {
	test := virulence.Test{Check: []int{250, 210, 275, 305, 240}}
	test.Pots[1] = []int{17, 22, 31, 25, 19}
	test.Pots[0] = []int{0, 1, 0, 2, 1}
	r := result(t, test)
	i := r.Indexes[1]
	require.InDelta(t, 8.90625, i.Value, 1e-9)
	require.InDelta(t, 1.111083036, i.SE, 1e-8)
	require.InDelta(t, 6.400716221, i.Limits.Low, 1e-7) // R 4.2.2
	require.InDelta(t, 11.828488456, i.Limits.High, 1e-7)
	require.False(t, i.Sure)
	require.False(t, i.Elevated)
	require.True(t, r.Indexes[0].Sure)
	require.Equal(t, []virulence.Doubt{{virulence.NearTen, virulence.PI88788}}, r.Doubts)
}

func reasons(r virulence.Result) []virulence.DoubtReason {
	var out []virulence.DoubtReason
	for _, d := range r.Doubts {
		out = append(out, d.Reason)
	}
	return out
}

// Lines 2, 5, 7 and lines 1, 3, 6 go together (PMC2586527); PI 437654 had 0 to
// 8.8 (Minnesota 2007-08).
func TestDoubts(t *testing.T) {
	pots := func(per ...int) virulence.Test {
		test := virulence.Test{Check: []int{200, 201, 199, 200, 202}}
		for i, n := range per {
			if n >= 0 {
				test.Pots[i] = []int{n, n + 1, n, n - 1, n}
			}
		}
		return test
	}
	for _, tt := range []struct {
		name string
		test virulence.Test
		want []virulence.Doubt
	}{
		{"0", pots(3, 3, 3, 3, 3, 3, 3), nil},
		{"2.5.7", pots(3, 90, 3, 3, 60, 3, 70), nil},
		{"1.3.6", pots(90, 3, 60, 3, 3, 70, 3), nil},
		{"1.2", pots(90, 90, 3, 3, 3, 3, 3), nil},
		{"3.5", pots(3, 3, 60, 3, 60, 3, 3), []virulence.Doubt{{virulence.OddSet, virulence.PI90763}, {virulence.OddSet, virulence.PI209332}}},
		{"3, Peking not tested", pots(-1, 3, 60), nil},
		{"4", pots(3, 3, 3, 60), []virulence.Doubt{{virulence.RareLine, virulence.PI437654}}},
		{"more than the check", pots(3, 340), []virulence.Doubt{{virulence.OverCheck, virulence.PI88788}}},
	} {
		require.Equal(t, tt.want, result(t, tt.test).Doubts, tt.name)
	}
	require.Equal(t, []virulence.DoubtReason{virulence.FewPots, virulence.WeakCheck, virulence.FewPots}, reasons(result(t, means(60, 3))))
	wild := pots(3)
	wild.Pots[0] = []int{0, 1, 40, 2, 0}
	require.Contains(t, reasons(result(t, wild)), virulence.WildSpread)
}

func TestValid(t *testing.T) {
	many := make([]int, virulence.MaxPots+1)
	many[0] = 5
	for name, tt := range map[string]struct {
		test virulence.Test
		want map[string]assay.Problem
	}{
		"nothing":      {virulence.Test{}, map[string]assay.Problem{"check": assay.Missing, "lines": assay.Missing}},
		"dead check":   {means(0, 5), map[string]assay.Problem{"check": assay.NotPositive}},
		"negative":     {means(-1, 5), map[string]assay.Problem{"check.0": assay.Negative}},
		"slipped key":  {means(100, 5, 200000), map[string]assay.Problem{"line.2.0": assay.TooLarge}},
		"far too many": {virulence.Test{Check: many, Pots: means(1, 1).Pots}, map[string]assay.Problem{"check": assay.TooMany}},
	} {
		_, err := tt.test.Result()
		var invalid *assay.Invalid
		require.ErrorAs(t, err, &invalid, name)
		for field, p := range tt.want {
			require.Equal(t, p, invalid.Fields[field], "%s: %v", name, invalid)
		}
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		group := rapid.SliceOfN(rapid.IntRange(0, 400), 1, 6)
		test := virulence.Test{Check: rapid.SliceOfN(rapid.IntRange(1, 400), 1, 6).Draw(t, "check")}
		doubled := virulence.Test{Check: twice(test.Check)}
		for i := range test.Pots {
			if rapid.Bool().Draw(t, "tested") || i == 0 {
				test.Pots[i] = group.Draw(t, "pots")
				doubled.Pots[i] = twice(test.Pots[i])
			}
		}
		r, err := test.Result()
		require.NoError(t, err)
		d, err := doubled.Result()
		require.NoError(t, err)
		require.Equal(t, r.Type, d.Type, "twice the females on everything is the same type")
		for i, index := range r.Indexes {
			require.Equal(t, len(test.Pots[i]) > 0, index.Tested)
			require.Equal(t, index.Tested && index.Value >= 10-1e-9, index.Elevated)
			require.Equal(t, !index.Tested, r.Type.Mark(index.Line) == "?", "not tested is unknown")
			require.True(t, !index.Known || index.Limits.Contains(index.Value))
		}
	})
}

func twice(pots []int) []int {
	out := make([]int, len(pots))
	for i, n := range pots {
		out[i] = 2 * n
	}
	return out
}

func TestLines(t *testing.T) {
	require.Len(t, virulence.Lines(), virulence.NumLines)
	seen := map[string]bool{}
	for _, l := range virulence.Lines() {
		require.NotEmpty(t, l.Name())
		seen[l.Accession()] = true
	}
	require.Len(t, seen, virulence.NumLines)
	require.Empty(t, virulence.Line(0).Name())
}
