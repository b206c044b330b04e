package edition_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// coverage runs a county of 36 townships for twelve falls and gives the shares
// of its sampled townships that have a tranche of their own, and that have one
// or are among joined townships.
func coverage(t testing.TB, runs, senders, k int) (alone, pooled float64) {
	sampled, own, either := 0, 0, 0
	for seed := range uint64(runs) {
		c := settings{seed: seed, counties: 1, towns: 36, falls: 12, senders: senders, rules: edition.DefaultRules(),
			blank: 0.05, calm: true, newcomers: 24} // one visit in four by a farm that came before
		c.rules.K = k
		s := newSimulation(t, c)
		been := make(map[place.ID]bool)
		s.each = func(s *simulation, _ edition.Cut, _ edition.Plan) {
			for _, p := range s.waiting {
				been[p.Place] = true
			}
		}
		s.run()
		for id := range been {
			sampled++
			_, hasOwn := s.history.Own[id]
			_, joined := s.history.Pooled[id]
			if hasOwn {
				own++
			}
			if hasOwn || joined {
				either++
			}
		}
	}
	return float64(own) / float64(sampled), float64(either) / float64(sampled)
}

// Proof 8: the price of the rules. The order is that of the design's own
// simulation (k = 3: 15 senders 59 % alone and 87 % with pooling, 5 senders
// 29 % and 72 %). Its farms are not known, and the share alone follows from how
// evenly they lie and how many come back, so those are a plausibility check and
// not values to hit.
func TestProofCoverage(t *testing.T) {
	runs := 10
	if os.Getenv("SIXMILE_LONG") != "" {
		runs = 40
	}
	t.Logf("sampled townships of 36 shown after twelve falls, %d runs", runs)
	t.Log("   k  senders  alone  with joined townships")
	type key struct{ k, senders int }
	alone, pooled := make(map[key]float64), make(map[key]float64)
	for _, k := range []int{3, 5} {
		for _, senders := range []int{5, 15, 40} {
			a, p := coverage(t, runs, senders, k)
			t.Logf("  %2d  %7d  %4.0f %%  %4.0f %%", k, senders, 100*a, 100*p)
			alone[key{k, senders}], pooled[key{k, senders}] = a, p
			require.GreaterOrEqual(t, p, a)
		}
		require.Less(t, alone[key{k, 5}], alone[key{k, 15}])
		require.Less(t, alone[key{k, 15}], alone[key{k, 40}])
		require.Less(t, alone[key{k, 15}]+0.1, pooled[key{k, 15}], "joining townships must be worth it")
	}
	for _, senders := range []int{5, 15, 40} {
		require.Less(t, alone[key{5, senders}], alone[key{3, senders}], "a higher k costs")
	}
}
