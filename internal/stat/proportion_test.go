package stat_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sixmile/internal/stat"
)

// Newcombe 1998, Stat. Med. 17:857-872, Table I: methods 3 (Wilson) and 5
// (Clopper-Pearson). 81/263 was read in public test files; the rows 15/148,
// 0/20 and 1/29 are from memory. The same figures come from R 4.2.2,
// prop.test(correct = FALSE) and binom.test, run for this test.
func TestSharesOfNewcombeTableI(t *testing.T) {
	tests := []struct {
		name          string
		x, n          int
		wilson, exact stat.Interval
	}{
		{"81 of 263", 81, 263, stat.Interval{Low: 0.2553, High: 0.3662}, stat.Interval{Low: 0.2527, High: 0.3676}},
		{"15 of 148", 15, 148, stat.Interval{Low: 0.0624, High: 0.1605}, stat.Interval{Low: 0.0578, High: 0.1617}},
		{"0 of 20", 0, 20, stat.Interval{Low: 0, High: 0.1611}, stat.Interval{Low: 0, High: 0.1684}},
		{"1 of 29", 1, 29, stat.Interval{Low: 0.0061, High: 0.1718}, stat.Interval{Low: 0.0009, High: 0.1776}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w, err := stat.Wilson(tt.x, tt.n, stat.Confidence)
			require.NoError(t, err)
			requireNear(t, tt.wilson, w, 5e-5)
			e, err := stat.ClopperPearson(tt.x, tt.n, stat.Confidence)
			require.NoError(t, err)
			requireNear(t, tt.exact, e, 5e-5)
		})
	}
}

// Reference library: R 4.2.2, binom.test and prop.test(correct = FALSE), at
// twelve digits, run for this test.
func TestSharesAgainstR(t *testing.T) {
	tests := []struct {
		name          string
		x, n          int
		exact, wilson stat.Interval
	}{
		{"81 of 263", 81, 263, stat.Interval{Low: 0.252736745585, High: 0.367621922601}, stat.Interval{Low: 0.255288519878, High: 0.366209576983}},
		{"all of three", 3, 3, stat.Interval{Low: 0.292401773821, High: 1}, stat.Interval{Low: 0.438502968245, High: 1}},
		{"many samples, few finds", 500, 100000, stat.Interval{Low: 0.00457224415007, High: 0.00545684117701}, stat.Interval{Low: 0.00458144531225, High: 0.00545658366921}},
		{"many samples, one miss", 99999, 100000, stat.Interval{Low: 0.99994428484, High: 0.999999746822}, stat.Interval{Low: 0.999943352903, High: 0.999998234752}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			e, err := stat.ClopperPearson(tt.x, tt.n, stat.Confidence)
			require.NoError(t, err)
			requireNear(t, tt.exact, e, 1e-10)
			w, err := stat.Wilson(tt.x, tt.n, stat.Confidence)
			require.NoError(t, err)
			requireNear(t, tt.wilson, w, 1e-10)
		})
	}
	t.Run("another confidence", func(t *testing.T) {
		e, err := stat.ClopperPearson(7, 20, 0.90)
		require.NoError(t, err)
		requireNear(t, stat.Interval{Low: 0.177310917574, High: 0.558034511315}, e, 1e-10)
	})
}

// Newcombe 1998, Stat. Med. 17:873-890, Table II, method 10. Rows (a) to (f)
// and 10/10 - 0/20 were read in public test files that quote the table; the
// last row is from memory.
func TestNewcombeTableII(t *testing.T) {
	tests := []struct {
		name           string
		x1, n1, x2, n2 int
		want           stat.Interval
	}{
		{"a", 56, 70, 48, 80, stat.Interval{Low: 0.0524, High: 0.3339}},
		{"b", 9, 10, 3, 10, stat.Interval{Low: 0.1705, High: 0.8090}},
		{"c", 6, 7, 2, 7, stat.Interval{Low: 0.0582, High: 0.8062}},
		{"d", 5, 56, 0, 29, stat.Interval{Low: -0.0381, High: 0.1926}},
		{"e", 0, 10, 0, 20, stat.Interval{Low: -0.1611, High: 0.2775}},
		{"f", 0, 10, 0, 10, stat.Interval{Low: -0.2775, High: 0.2775}},
		{"g", 10, 10, 0, 20, stat.Interval{Low: 0.6791, High: 1}},
		{"h", 10, 10, 0, 10, stat.Interval{Low: 0.6075, High: 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := stat.Newcombe(tt.x1, tt.n1, tt.x2, tt.n2, stat.Confidence)
			require.NoError(t, err)
			requireNear(t, tt.want, got, 5e-5)
		})
	}
}

func TestSharesRefuseTheImpossible(t *testing.T) {
	tests := []struct {
		name       string
		x, n       int
		confidence float64
	}{
		{"no samples", 0, 0, 0.95},
		{"negative samples", 0, -3, 0.95},
		{"negative finds", -1, 5, 0.95},
		{"more finds than samples", 6, 5, 0.95},
		{"confidence zero", 1, 5, 0},
		{"confidence one", 1, 5, 1},
		{"confidence not a number", 1, 5, math.NaN()},
		{"confidence as a percentage", 1, 5, 95},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := stat.Wilson(tt.x, tt.n, tt.confidence)
			require.ErrorIs(t, err, stat.ErrImpossible)
			_, err = stat.ClopperPearson(tt.x, tt.n, tt.confidence)
			require.ErrorIs(t, err, stat.ErrImpossible)
			_, err = stat.Newcombe(tt.x, tt.n, 1, 2, tt.confidence)
			require.ErrorIs(t, err, stat.ErrImpossible)
			_, err = stat.Newcombe(1, 2, tt.x, tt.n, tt.confidence)
			require.ErrorIs(t, err, stat.ErrImpossible)
		})
	}
}

func TestSharesHoldTheirEstimate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3000).Draw(t, "n")
		x := rapid.IntRange(0, n).Draw(t, "x")
		confidence := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		p := float64(x) / float64(n)
		w, err := stat.Wilson(x, n, confidence)
		require.NoError(t, err)
		e, err := stat.ClopperPearson(x, n, confidence)
		require.NoError(t, err)
		for _, i := range []stat.Interval{w, e} {
			require.True(t, i.Contains(p), "%v in %v", p, i)
			require.GreaterOrEqual(t, i.Low, 0.0)
			require.LessOrEqual(t, i.High, 1.0)
		}

		wider, err := stat.Wilson(x, n, (1+confidence)/2)
		require.NoError(t, err)
		require.LessOrEqual(t, wider.Low, w.Low)
		require.GreaterOrEqual(t, wider.High, w.High)

		mirror, err := stat.ClopperPearson(n-x, n, confidence)
		require.NoError(t, err)
		requireNear(t, stat.Interval{Low: 1 - e.High, High: 1 - e.Low}, mirror, 1e-9)
	})
}

func TestSharesRiseWithTheFinds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 2000).Draw(t, "n")
		x := rapid.IntRange(0, n-1).Draw(t, "x")
		for _, f := range []func(int, int, float64) (stat.Interval, error){stat.Wilson, stat.ClopperPearson} {
			fewer, err := f(x, n, stat.Confidence)
			require.NoError(t, err)
			more, err := f(x+1, n, stat.Confidence)
			require.NoError(t, err)
			require.Less(t, fewer.Low, more.Low)
			require.Less(t, fewer.High, more.High)
		}
	})
}

func TestNewcombeIsAntisymmetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n1, n2 := rapid.IntRange(1, 500).Draw(t, "n1"), rapid.IntRange(1, 500).Draw(t, "n2")
		x1, x2 := rapid.IntRange(0, n1).Draw(t, "x1"), rapid.IntRange(0, n2).Draw(t, "x2")
		there, err := stat.Newcombe(x1, n1, x2, n2, stat.Confidence)
		require.NoError(t, err)
		back, err := stat.Newcombe(x2, n2, x1, n1, stat.Confidence)
		require.NoError(t, err)
		requireNear(t, stat.Interval{Low: -there.High, High: -there.Low}, back, 1e-12)
		require.True(t, there.Contains(float64(x1)/float64(n1)-float64(x2)/float64(n2)))
		require.GreaterOrEqual(t, there.Low, -1.0-1e-12)
		require.LessOrEqual(t, there.High, 1.0+1e-12)
	})
}

// Coverage added up over every possible outcome, no drawing: the exact
// interval must hold the true share at least 95 times in a hundred whatever
// the share is (its defining property, Clopper and Pearson 1934).
func TestClopperPearsonCoverage(t *testing.T) {
	for _, n := range []int{1, 5, 12, 40} {
		for p := 0.01; p < 1; p += 0.01 {
			outcome := distuv.Binomial{N: float64(n), P: p}
			covered := 0.0
			for x := 0; x <= n; x++ {
				i, err := stat.ClopperPearson(x, n, stat.Confidence)
				require.NoError(t, err)
				if i.Contains(p) {
					covered += outcome.Prob(float64(x))
				}
			}
			require.GreaterOrEqual(t, covered, stat.Confidence-1e-9, "n %d, share %v", n, p)
		}
	}
}

func requireNear(t require.TestingT, want, got stat.Interval, tolerance float64) {
	if h, ok := t.(interface{ Helper() }); ok {
		h.Helper()
	}
	require.InDelta(t, want.Low, got.Low, tolerance, "low")
	require.InDelta(t, want.High, got.High, tolerance, "high")
}
