package assay_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
)

// unit is a chart on which a density of (10+s)² lies s sigmas off.
var unit = assay.Chart{Center: 10, Sigma: 1}

func at(sigmas ...float64) []assay.Density {
	out := make([]assay.Density, len(sigmas))
	for i, s := range sigmas {
		out[i] = assay.Density((10 + s) * (10 + s))
	}
	return out
}

// The zone rules of the Western Electric handbook (1956, from memory), one
// series a rule, each with its near miss.
func TestChartRules(t *testing.T) {
	for _, tt := range []struct {
		name   string
		series []float64
		last   []assay.Rule
	}{
		{"calm", []float64{0.5, -0.5, 1.5, -1.5, 0.2}, nil},
		{"beyond three", []float64{0, 3.1}, []assay.Rule{assay.BeyondThree}},
		{"not quite three", []float64{0, 2.9}, nil},
		{"below three", []float64{0, -3.1}, []assay.Rule{assay.BeyondThree}},
		{"two of three", []float64{2.1, 0, 2.2}, []assay.Rule{assay.TwoOfThree}},
		{"two of three on both sides", []float64{2.1, 0, -2.2}, nil},
		{"two of four", []float64{2.1, 0, 0, 2.2}, nil},
		{"four of five", []float64{1.1, 1.2, 0, 1.1, 1.3}, []assay.Rule{assay.FourOfFive}},
		{"four of five, the last inside", []float64{1.1, 1.2, 1.1, 0.5, 0.4}, nil},
		{"four of five, below", []float64{-1.1, -1.2, -1.1, -1.3}, []assay.Rule{assay.FourOfFive}},
		{"eight on one side", []float64{.1, .2, .1, .3, .2, .1, .4, .1}, []assay.Rule{assay.EightOneSide}},
		{"seven on one side", []float64{.1, .2, .1, .3, .2, .1, .4}, nil},
		{"one of eight on the line", []float64{.1, .2, .1, 0, .2, .1, .4, .1}, nil},
		{"two rules at once", []float64{2.5, 3.5}, []assay.Rule{assay.BeyondThree, assay.TwoOfThree}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			points := unit.Points(at(tt.series...))
			require.Equal(t, tt.last, points[len(points)-1].Flags)
			for _, p := range points[:len(points)-1] {
				require.Empty(t, p.Flags)
			}
		})
	}
	require.Empty(t, unit.Points(nil))
	for _, r := range assay.Rules() {
		require.NotEmpty(t, r.String())
	}
}

// Champ and Woodall 1987 (Technometrics 29:393-399; figures from memory, found
// by a Markov chain): a lab in good order runs 91.75 points on average until
// one of the four rules flags, 370.4 with the first alone. 1,500 and 400 runs
// drawn here, PCG seeded 36, 9; four standard errors of a mean whose deviation
// is at most the mean itself.
func TestRunLengthsAgainstChampAndWoodall(t *testing.T) {
	source := rand.NewPCG(36, 9)
	normal := distuv.Normal{Sigma: 1, Src: source}
	for _, tt := range []struct {
		name  string
		runs  int
		want  float64
		stops func([]assay.Rule) bool
	}{
		{"all four", 1500, 91.75, func(flags []assay.Rule) bool { return len(flags) > 0 }},
		{"the first alone", 400, 370.4, func(flags []assay.Rule) bool { return len(flags) > 0 && flags[0] == assay.BeyondThree }},
	} {
		total := 0
		for range tt.runs {
			var series []assay.Density
			for {
				total++
				series = append(series, at(normal.Rand())...)
				series = series[max(0, len(series)-8):] // no rule looks back further
				points := unit.Points(series)
				if tt.stops(points[len(points)-1].Flags) {
					break
				}
			}
		}
		mean := float64(total) / float64(tt.runs)
		require.InDelta(t, tt.want, mean, 4*tt.want/math.Sqrt(float64(tt.runs)), tt.name)
	}
}

func TestChartOf(t *testing.T) {
	// Roots 10, 12, 10, 12 ...: mean 11, moving range 2 throughout.
	var baseline []assay.Density
	for range assay.MinBaseline / 2 {
		baseline = append(baseline, 100, 144)
	}
	c, err := assay.ChartOf(baseline)
	require.NoError(t, err)
	require.InDelta(t, 11, c.Center, 1e-12)
	require.InDelta(t, 2/1.128, c.Sigma, 1e-12)
	require.InDelta(t, 121, float64(c.Line(0)), 1e-9)
	require.Zero(t, c.Line(-8))

	_, err = assay.ChartOf(baseline[1:])
	requireFields(t, map[string]assay.Problem{"baseline": assay.TooSmall}, err)
	_, err = assay.ChartOf(make([]assay.Density, 25))
	requireFields(t, map[string]assay.Problem{"baseline": assay.NotPositive}, err)
	baseline[3] = -1
	_, err = assay.ChartOf(baseline)
	requireFields(t, map[string]assay.Problem{"baseline": assay.Negative}, err)
}

// A check soil of 4,000 eggs by the default method scatters by √(4000 x 50 x 4)
// = 894 (by hand), which is 7.07 in roots. Scoops drawn with their cysts, PCG
// seeded 36, 10: the provisional sigma is what they scatter by.
func TestChartBefore(t *testing.T) {
	m := assay.DefaultMethod()
	require.InDelta(t, 894.4, float64(m.DensitySpread(4000)), 0.1)
	c, err := assay.ChartBefore(4000, m)
	require.NoError(t, err)
	require.InDelta(t, 7.07, c.Sigma, 0.01)

	source, sum, squares := rand.NewPCG(36, 10), 0.0, 0.0
	const scoops = 8000
	for range scoops {
		cysts := distuv.Poisson{Lambda: 4000 / m.EggsPerCyst, Src: source}.Rand()
		seen := distuv.Poisson{Lambda: cysts * m.EggsPerCyst * m.Share(), Src: source}.Rand()
		s := c.Sigmas(assay.Density(seen * 50))
		sum, squares = sum+s, squares+s*s
	}
	require.InDelta(t, 1, math.Sqrt(squares/scoops-sum*sum/scoops/scoops), 0.05)
	require.InDelta(t, 0, sum/scoops, 0.1)

	_, err = assay.ChartBefore(0, m)
	requireFields(t, map[string]assay.Problem{"target": assay.NotPositive}, err)
	_, err = assay.ChartBefore(100, assay.Method{})
	require.ErrorIs(t, err, assay.Missing)
}

func TestChartProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Half hundredths, so that no point lies on a line by a rounding.
		drawn := rapid.SliceOfN(rapid.IntRange(-400, 399), 1, 30).Draw(t, "hundredths")
		sigmas, mirrored := make([]float64, len(drawn)), make([]float64, len(drawn))
		for i, n := range drawn {
			sigmas[i] = (float64(n) + 0.5) / 100
			mirrored[i] = -sigmas[i]
		}
		up, down := unit.Points(at(sigmas...)), unit.Points(at(mirrored...))
		for i := range up {
			require.InDelta(t, sigmas[i], up[i].Sigmas, 1e-9)
			require.InDelta(t, float64(up[i].Density), float64(unit.Line(up[i].Sigmas)), 1e-6)
			require.Equal(t, up[i].Flags, down[i].Flags, "both sides go by the same rules")
		}
	})
}

func TestCorrections(t *testing.T) {
	for _, c := range assay.Corrections() {
		got, err := assay.ParseCorrection(string(c))
		require.NoError(t, err)
		require.Equal(t, c, got)
	}
	_, err := assay.ParseCorrection("")
	require.ErrorIs(t, err, assay.Missing)
	_, err = assay.ParseCorrection("because")
	require.ErrorIs(t, err, assay.Unknown)
}
