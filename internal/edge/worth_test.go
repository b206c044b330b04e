package edge_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/edge"
)

// Cannon and Roe 1982: their Table 1 at N = 1,600, 1 %, confidence 0.99 gives
// 399, as transcribed by Hawkins 2003; the rest of the values at 0.95 were
// computed from their formula and from the hypergeometric law outside this
// program and agree with each other.
func TestBagsOfCannonAndRoe(t *testing.T) {
	for _, c := range []struct {
		n          int
		share      float64
		confidence float64
		want       int
	}{
		{1600, 0.01, 0.99, 399},
		{30, 0.01, 0.95, 29}, {30, 0.02, 0.95, 29}, {30, 0.05, 0.95, 23}, {30, 0.1, 0.95, 19},
		{50, 0.01, 0.95, 48}, {50, 0.02, 0.95, 48}, {50, 0.05, 0.95, 31}, {50, 0.1, 0.95, 22},
		{100, 0.01, 0.95, 95}, {100, 0.02, 0.95, 78}, {100, 0.05, 0.95, 45}, {100, 0.1, 0.95, 25},
		{1000, 0.01, 0.95, 258}, {1000, 0.02, 0.95, 138}, {1000, 0.05, 0.95, 57}, {1000, 0.1, 0.95, 29},
	} {
		d := int(math.Ceil(float64(c.n)*c.share - 1e-9))
		require.Equal(t, c.want, edge.CannonRoeBags(c.n, d, c.confidence), "formula, N %d, %v", c.n, c.share)
		require.Equal(t, c.want, edge.ExactBags(c.n, d, c.confidence), "exact, N %d, %v", c.n, c.share)
	}
	// Where the two differ: computed outside this program.
	require.Equal(t, 14, edge.CannonRoeBags(200, 40, 0.95))
	require.Equal(t, 13, edge.ExactBags(200, 40, 0.95))
	// Without end, binomial: 299, 149, 59, 29 of the same table.
	for share, want := range map[float64]int{0.01: 299, 0.02: 149, 0.05: 59, 0.1: 29} {
		n := 10_000_000
		require.Equal(t, want, edge.CannonRoeBags(n, int(float64(n)*share), 0.95))
	}
}

// perfect bags: the law with nothing of ours in it.
func perfect() edge.Options {
	o := edge.DefaultOptions()
	o.Sensitivity, o.Keep, o.SameFarm = 1, 1, 0
	return o
}

func TestWorthIsHypergeometric(t *testing.T) {
	// C(90,25)/C(100,25), by hand with lgamma.
	lchoose := func(n, k float64) float64 {
		a, _ := math.Lgamma(n + 1)
		b, _ := math.Lgamma(k + 1)
		c, _ := math.Lgamma(n - k + 1)
		return a - b - c
	}
	w, err := edge.WorthOf([]edge.Clean{{Bags: 25, Senders: 25}}, 100, perfect())
	require.NoError(t, err)
	require.InDelta(t, math.Exp(lchoose(90, 25)-lchoose(100, 25)), w.Exact, 1e-12)
	require.True(t, w.WellLooked())
	require.Equal(t, 10, w.Infested)
	require.Zero(t, w.More)

	w, err = edge.WorthOf([]edge.Clean{{Bags: 5, Senders: 5}}, 100, perfect())
	require.NoError(t, err)
	require.Equal(t, 20, w.More, "25 in all, as the table says")
	require.InDelta(t, math.Pow(1-5/95.5, 10), w.CannonRoe, 1e-12)
}

func TestWorthOfEachBag(t *testing.T) {
	o := perfect()
	worth := func(o edge.Options, c ...edge.Clean) edge.Worth {
		w, err := edge.WorthOf(c, 100, o)
		require.NoError(t, err)
		return w
	}
	fresh := worth(o, edge.Clean{Bags: 10, Senders: 10})
	o.Sensitivity = 0.8
	require.Greater(t, worth(o, edge.Clean{Bags: 10, Senders: 10}).Exact, fresh.Exact, "bags that miss")
	o = perfect()
	o.Keep = 0.8
	require.Greater(t, worth(o, edge.Clean{Bags: 10, Senders: 10, Age: 4}).Exact, fresh.Exact, "old bags")
	o = perfect()
	o.SameFarm, o.BagsPerSender = 0.5, 5
	w := worth(o, edge.Clean{Bags: 10, Senders: 3})
	require.Greater(t, w.Exact, fresh.Exact, "bags of one farm")
	require.InDelta(t, 3+7*0.5, w.Equal, 1e-9)

	none := worth(perfect())
	require.EqualValues(t, 1, none.Exact)
	require.False(t, none.WellLooked(), "nothing was looked at")
	require.Equal(t, 25, none.More)

	o = perfect()
	o.Sensitivity = 0.1
	w, err := edge.WorthOf(nil, 10, o)
	require.NoError(t, err)
	require.False(t, w.Enough, "not even a bag from every field")

	_, err = edge.WorthOf([]edge.Clean{{Bags: -1}}, 100, o)
	require.ErrorIs(t, err, edge.ErrLook)
	_, err = edge.WorthOf(nil, 0, o)
	require.ErrorIs(t, err, edge.ErrLook)
	o.Keep = 2
	_, err = edge.WorthOf(nil, 100, o)
	require.ErrorIs(t, err, edge.ErrOptions)
}

func TestWorthProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := edge.DefaultOptions()
		fields := rapid.IntRange(1, 300).Draw(t, "fields")
		var bags []edge.Clean
		for range rapid.IntRange(0, 4).Draw(t, "looks") {
			bags = append(bags, edge.Clean{
				Bags: rapid.IntRange(0, 40).Draw(t, "bags"), Senders: 3, Age: float64(rapid.IntRange(0, 12).Draw(t, "age")),
			})
		}
		w, err := edge.WorthOf(bags, fields, o)
		require.NoError(t, err)
		require.GreaterOrEqual(t, w.Exact, 0.0)
		require.LessOrEqual(t, w.Exact, 1+1e-12)
		more, err := edge.WorthOf(append(bags, edge.Clean{Bags: 3, Senders: 3}), fields, o)
		require.NoError(t, err)
		require.LessOrEqual(t, more.Exact, w.Exact+1e-12, "another bag never makes it less sure")
		if w.Enough && w.More > 0 {
			require.False(t, w.WellLooked())
		}
	})
}

// The chance that the starting method misses LowDensity, from
// assay.Method.MissChance, which has checks of its own.
func TestSensitivity(t *testing.T) {
	s := edge.SensitivityOf(assay.PresetMethods()...)
	require.InDelta(t, 1-math.Exp(-2*(1-math.Exp(-3))), s, 1e-12)
	require.Equal(t, s, edge.SensitivityOf(), "no method known: the starting one")
}
