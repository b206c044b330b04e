package plan

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Wilks, Statistical Methods in the Atmospheric Sciences, the table of 12- to
// 24-hour precipitation forecasts, as the documentation of R's verification
// package (attribute) gives it: forecast chance, share of rain, share of all
// forecasts. It prints the overall share of rain as 0.162. (Two of its shares of
// forecasts have a slipped decimal point there, 0.245 and 0.203: with them they
// would come to 1.4, without to 1.) The three parts are those of Murphy's sum,
// worked out from the table apart from the code, in double precision by a
// script.
func TestScoreOfAPublishedTable(t *testing.T) {
	chance := []float64{0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1}
	rain := []float64{0.006, 0.019, 0.059, 0.150, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933}
	often := []float64{0.4112, 0.0671, 0.1833, 0.0986, 0.0616, 0.0366, 0.0303, 0.0275, 0.0245, 0.0220, 0.0170, 0.0203}
	var calls []Call
	for i := range chance {
		n := int(math.Round(often[i] * 100000))
		came := int(math.Round(rain[i] * float64(n)))
		for k := range n {
			calls = append(calls, Call{chance[i], k < came})
		}
	}
	s, err := Look(calls, 20)
	require.NoError(t, err)
	require.Len(t, s.Bins, 12)
	require.InDelta(t, 0.162, s.Base, 1e-3, "its shares are rounded")
	require.InDelta(t, 0.00083, s.Reliability, 2e-5)
	require.InDelta(t, 0.06279, s.Resolution, 2e-5)
	require.InDelta(t, 0.13542, s.Uncertainty, 2e-5)
	require.InDelta(t, 0.07346, s.Brier, 2e-5)
	require.InDelta(t, 0, s.Within, 1e-9, "chances in a bin are all alike")
}

// From the definition: sure and right 0, sure and wrong 1, one half throughout
// 0.25, and 70 in 100 with rain 0.09.
func TestScoreOfSimpleCalls(t *testing.T) {
	for _, c := range []struct {
		calls []Call
		want  float64
	}{
		{[]Call{{1, true}, {0, false}}, 0},
		{[]Call{{1, false}, {0, true}}, 1},
		{[]Call{{0.5, true}, {0.5, false}, {0.5, false}}, 0.25},
		{[]Call{{0.7, true}}, 0.09},
		{[]Call{{0.7, false}}, 0.49},
	} {
		s, err := Look(c.calls, 10)
		require.NoError(t, err)
		require.InDelta(t, c.want, s.Brier, 1e-12)
	}
	_, err := Look(nil, 10)
	require.ErrorIs(t, err, ErrNoCalls)
}

func genCalls(t *rapid.T) []Call {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Call {
		return Call{rapid.Float64Range(0, 1).Draw(t, "chance"), rapid.Bool().Draw(t, "came")}
	}), 1, 60).Draw(t, "calls")
}

func TestScorePartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		calls := genCalls(t)
		s, err := Look(calls, rapid.IntRange(1, 12).Draw(t, "bins"))
		require.NoError(t, err)
		require.InDelta(t, s.Brier, s.Reliability-s.Resolution+s.Uncertainty+s.Within, 1e-12)
		n, came := 0, 0
		for _, b := range s.Bins {
			n, came = n+b.N, came+b.Came
			require.True(t, b.Low <= b.Mean+1e-12 && b.Mean <= b.High+1e-12)
			require.True(t, b.Range.Contains(b.Share))
		}
		require.Equal(t, len(calls), n)
		c := Tally(calls)
		require.Equal(t, came, c.Came)
		require.LessOrEqual(t, c.Low, c.High)
		require.True(t, float64(c.Low) <= c.Expected+1 && c.Expected-1 <= float64(c.High))
	})
}

// Calls that are all alike are binomial: of 20 trials of 0.3, between 2 and 10
// come about 95 times in 100 (the 0.025 and 0.975 quantiles of R's qbinom).
func TestTallyOfLikeCalls(t *testing.T) {
	calls := make([]Call, 20)
	for i := range calls {
		calls[i] = Call{0.3, i < 6}
	}
	require.Equal(t, Count{Low: 2, High: 10, Came: 6, Expected: Tally(calls).Expected}, Tally(calls))
	require.True(t, Tally(calls).Agrees())
	require.InDelta(t, 6, Tally(calls).Expected, 1e-9)
	require.Equal(t, Count{}, Tally(nil))
	require.InDelta(t, 0.2, Spread([]Call{{0.3, true}, {0.5, false}}), 1e-12)
	require.Zero(t, Spread(nil))
}
