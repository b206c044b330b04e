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

func reading(t require.TestingT, c assay.Count) assay.Reading {
	r, err := c.Density(assay.DefaultMethod())
	require.NoError(t, err)
	return r
}

// At a limit of the reading the confidence lies between one tail of Garwood's
// (2.5 %) and what it would be without the count itself: mid-P is the mean of
// the two gamma tails, worked out here with the reference library (gonum).
func TestChances(t *testing.T) {
	s, m := assay.DefaultScheme(), assay.DefaultMethod()
	got, known := s.Chances(reading(t, m.Count(35))) // 1,750, edge at 2,000 = 40 eggs
	require.True(t, known)
	require.Len(t, got, 3)
	low := (distuv.Gamma{Alpha: 35, Beta: 1}.CDF(40) + distuv.Gamma{Alpha: 36, Beta: 1}.CDF(40)) / 2
	require.InDelta(t, low, got[0].Chance, 1e-9)
	require.Equal(t, "low", got[0].Class.Name)
	require.InDelta(t, 0.78, got[0].Chance, 0.02)

	_, known = s.Chances(assay.Reading{Basis: assay.Reported, Density: 5000})
	require.False(t, known)
	_, known = s.Chances(reading(t, m.Count(3)))
	require.False(t, known, "unconfirmed")
}

func TestChancesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(assay.Presets()).Draw(t, "scheme")
		r := reading(t, drawCount(t, 400))
		chances, known := s.Chances(r)
		low, high, ranged := s.Range(r)
		require.Equal(t, ranged, known)
		if !known {
			return
		}
		sum, outside := 0.0, 0.0
		for _, c := range chances {
			require.True(t, c.Chance >= 0 && c.Chance <= 1)
			sum += c.Chance
			if c.Class.Rank < low.Rank || c.Class.Rank > high.Rank {
				outside += c.Chance
			}
		}
		require.InDelta(t, 1, sum, 1e-9)
		require.LessOrEqual(t, outside, 0.05+1e-6, "what the limits leave out is at most what they say")
	})
}

// A stored reading without its step and its method's name is the same.
func TestChancesOfAStoredReading(t *testing.T) {
	s, full := assay.DefaultScheme(), reading(t, assay.DefaultMethod().Count(35))
	stored := full
	stored.PerEgg, stored.LimitsBy = 0, 0
	a, _ := s.Chances(full)
	b, known := s.Chances(stored)
	require.True(t, known)
	for i := range a {
		require.InDelta(t, a[i].Chance, b[i].Chance, 1e-9)
	}
}

func TestRecountReasons(t *testing.T) {
	s, m := assay.DefaultScheme(), assay.DefaultMethod()
	cyst := m.Count(3)
	cyst.CystSeen = true
	torn := count(100, 100, assay.Aliquot{ML: 2, Eggs: 5}, assay.Aliquot{ML: 2, Eggs: 45})
	for _, tt := range []struct {
		name    string
		r       assay.Reading
		worth   bool
		reasons []assay.RecountReason
	}{
		{"none", reading(t, m.Count(0)), false, nil},
		{"three eggs", reading(t, m.Count(3)), true, []assay.RecountReason{assay.FewSeen}},
		{"three eggs and a cyst", reading(t, cyst), false, nil},
		{"next to an edge", reading(t, m.Count(40)), true, []assay.RecountReason{assay.EdgeInLimits}},
		{"well inside low", reading(t, m.Count(20)), false, nil},
		{"well inside moderate", reading(t, m.Count(110)), false, nil},
		{"portions disagree", reading(t, torn), true, []assay.RecountReason{assay.EdgeInLimits, assay.PortionsDisagree}},
		{"reported", assay.Reading{Basis: assay.Reported, Density: 2000}, false, nil},
		{"nothing", assay.Reading{}, false, nil},
	} {
		got := s.Recount(tt.r)
		require.Equal(t, tt.worth, got.Worth, tt.name)
		require.Equal(t, tt.reasons, got.Reasons, tt.name)
	}
}

// The chance of another level against what happens: 3,000 second looks a case,
// PCG seeded 36, 7, the mean drawn from the gamma the formula integrates over,
// the second look drawn from it and the two added up by Count.Again. Four
// standard errors.
func TestRecountChanceByDrawing(t *testing.T) {
	const looks = 3000
	source := rand.NewPCG(36, 7)
	s, m := assay.DefaultScheme(), assay.DefaultMethod()
	for _, eggs := range []int{1, 3, 4, 6, 33, 40, 48, 230, 260} {
		first := m.Count(eggs)
		before := reading(t, first)
		changed := 0
		for range looks {
			mean := distuv.Gamma{Alpha: float64(eggs) + 0.5, Beta: 1, Src: source}.Rand()
			second := int(distuv.Poisson{Lambda: mean, Src: source}.Rand())
			both := first
			both.Aliquots = []assay.Aliquot{{ML: 4, Eggs: eggs + second}} // as one portion: no dispersion test
			changed += one(s.Class(reading(t, both)).Rank != s.Class(before).Rank)
		}
		want := s.Recount(before).Chance
		slack := 4*math.Sqrt(want*(1-want)/looks) + 1e-9
		require.InDelta(t, want, share(changed, looks), slack, "%d eggs", eggs)
	}
}

func TestRecountOrder(t *testing.T) {
	s, m := assay.DefaultScheme(), assay.DefaultMethod()
	eggs := []int{0, 20, 37, 40, 60, 110, 3}
	picked := assay.MostWorth(eggs, func(n int) assay.Recount { return s.Recount(reading(t, m.Count(n))) }, 3)
	require.Len(t, picked, 3)
	require.Equal(t, []int{40, 37, 3}, picked, "the likeliest to change first")
	require.Equal(t, []int{0, 20, 37, 40, 60, 110, 3}, eggs)
	require.Empty(t, assay.MostWorth(eggs, func(int) assay.Recount { return assay.Recount{Worth: true} }, 0))
	same := assay.MostWorth(eggs, func(int) assay.Recount { return assay.Recount{Worth: true, Chance: 0.2} }, 9)
	require.Equal(t, eggs, same, "equals stay in order of waiting")
}

func TestRecountProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(assay.Presets()).Draw(t, "scheme")
		a, b := s.Recount(reading(t, drawCount(t, 500))), s.Recount(reading(t, drawCount(t, 500)))
		for _, r := range []assay.Recount{a, b} {
			require.True(t, r.Chance >= 0 && r.Chance <= 1, "%v", r.Chance)
			require.True(t, !r.Worth || len(r.Reasons) > 0)
		}
		require.Equal(t, -a.Compare(b), b.Compare(a))
	})
}
