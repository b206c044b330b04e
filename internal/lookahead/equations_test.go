package lookahead

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Worked by hand from Seinhorst 1967 with a = 20, a ceiling of 20,000 and
// nothing left unhatched; the last digits follow from the formula alone.
func TestMultiply(t *testing.T) {
	for _, tt := range []struct{ pi, want float64 }{
		{1, 20000 * (1 - math.Exp(-0.001))}, {100, 1903.2516392808}, {1000, 12642.4111765712}, {10000, 19999.0920014047},
	} {
		require.InDelta(t, tt.want, Multiply(tt.pi, 20, 20000, 0), 1e-6)
	}
	require.InDelta(t, 19.9900033, Multiply(1, 20, 20000, 0), 1e-6)
	require.InDelta(t, 1903.2516393+59, Multiply(100, 20, 20000, 0.59), 1e-6)
	require.InDelta(t, 59, Multiply(100, 0, 0, 0.59), 1e-12)
	// Where a = 2 and the ceiling is 20,000 a field stays at 15,936.24.
	p := 1000.0
	for range 500 {
		p = Multiply(p, 2, 20000, 0)
	}
	require.InDelta(t, 15936.24, p, 0.005)
	require.InDelta(t, p, Multiply(p, 2, 20000, 0), 1e-6)
}

// Seinhorst 1965 with z^T = 0.95, worked by hand: at T = 50 and m = 0.5, and at
// T = 61 (Francl and Dropkin 1986: 470 eggs a kilogram at 1.3 g/cm³).
func TestRelativeYield(t *testing.T) {
	for _, tt := range []struct{ p, tolerance, want float64 }{
		{50, 50, 1}, {0, 50, 1}, {100, 50, 0.975}, {250, 50, 0.5 + 0.5*0.81450625}, {1250, 50, 0.5 + 0.5*math.Pow(0.95, 24)},
		{500, 61, 0.8457}, {1000, 61, 0.7270}, {2000, 61, 0.5979}, {5000, 61, 0.5079},
	} {
		within := 1e-6
		if tt.tolerance == 61 {
			within = 5e-5 // four digits in the table
		}
		require.InDelta(t, tt.want, RelativeYield(tt.p, tt.tolerance, 0.5), within, "%v of %v", tt.p, tt.tolerance)
	}
	require.InDelta(t, 0.9073, RelativeYield(250, 50, 0.5), 5e-5)
	require.InDelta(t, 0.6460, RelativeYield(1250, 50, 0.5), 5e-5)
}

// Chen and others 2001 print a mean and a range; draws must have both.
func TestSpreadHasThePublishedMeanAndRange(t *testing.T) {
	set := Standard()
	for _, key := range []Key{AfterNonHost, After88788, AfterSoybean} {
		f := set.Figures[key]
		s := spreadOf(f, Factor)
		const n = 200000
		sum, inside := 0.0, 0
		for i := range n {
			// The middle of each of n slices of equal chance.
			x := s.at(math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/n-1))
			sum += x
			if x >= f.Low && x <= f.High {
				inside++
			}
		}
		require.InEpsilon(t, f.Mean, sum/n, 2e-3, key)
		require.InDelta(t, 0.95, float64(inside)/n, 1e-3, key)
	}
}

func TestSpreadNeverFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.SampledFrom(Rules).Draw(t, "rule")
		s := spreadOf(Standard().Figures[r.Key], r.Shape)
		z, more := rapid.Float64Range(-6, 6).Draw(t, "z"), rapid.Float64Range(0, 3).Draw(t, "more")
		require.GreaterOrEqual(t, s.at(z+more), s.at(z))
		if r.Shape == Share {
			require.LessOrEqual(t, s.at(z), 1.0)
		}
	})
}
