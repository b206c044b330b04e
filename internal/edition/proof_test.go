package edition_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/place"
)

// The proofs of the promise, each with a mistake put in that it must catch.
// A longer fight: go test -run Proof -rapid.checks=5000 ./internal/edition

// drawn draws a program's settings.
func drawn(t *rapid.T) settings {
	c := usual(rapid.Uint64().Draw(t, "seed"))
	c.counties = rapid.IntRange(1, 2).Draw(t, "counties")
	c.towns = rapid.SampledFrom([]int{5, 7, 12, 18, 30}).Draw(t, "townships")
	c.falls = rapid.IntRange(1, 9).Draw(t, "falls")
	c.senders = rapid.IntRange(1, 15).Draw(t, "senders")
	c.rules.K = rapid.IntRange(3, 5).Draw(t, "k")
	c.rules.Patience = rapid.IntRange(1, 3).Draw(t, "patience")
	c.rules.FullClassesFrom = rapid.SampledFrom([]int{0, 4, 6}).Draw(t, "full from")
	c.blank = rapid.SampledFrom([]float64{0, 0.15, 0.5}).Draw(t, "blank")
	return c
}

// someSeed says whether a check finds something in one of the first programs.
func someSeed(check func(seed uint64) []string) []string {
	for seed := range uint64(40) {
		if found := check(seed); len(found) > 0 {
			return found
		}
	}
	return nil
}

type gatherFunc func(edition.Rules, edition.Ground, edition.History, edition.Cut, []edition.Pending) (edition.Plan, error)

// altered changes what waits in every way that leaves it waiting, gathers and
// counts again, and reports every difference in what is public.
func altered(gather gatherFunc, c settings, t testing.TB) (found []string) {
	s := newSimulation(t, c)
	s.each = func(s *simulation, cut edition.Cut, plan edition.Plan) {
		out := make(map[edition.SampleID]bool)
		for _, d := range plan.Tranches {
			for _, m := range d.Members {
				out[m] = true
			}
		}
		var gone, other []edition.Pending
		busy := make(map[place.ID]bool)
		for _, p := range s.waiting {
			if out[p.Sample] {
				gone = append(gone, p)
				busy[p.Place] = true
			}
		}
		level := func(id edition.SampleID) int { return s.truth[id].level }
		plan, err := gather(s.rules, s.ground, s.history, cut, s.waiting)
		require.NoError(t, err)
		want := canonicalOf(s, cut, plan, level)
		same := func(what string, pending []edition.Pending, level func(edition.SampleID) int) {
			plan, err := gather(s.rules, s.ground, s.history, cut, pending)
			require.NoError(t, err)
			if got := canonicalOf(s, cut, plan, level); got != want {
				found = append(found, what)
			}
		}
		same("other results", s.waiting, func(id edition.SampleID) int {
			if out[id] {
				return level(id)
			}
			return (level(id) + 2) % len(ranks)
		})
		same("nothing waits", gone, level)
		other = append(slices.Clone(gone), strangers(s, cut, busy)...)
		same("other bags wait", other, level)
	}
	s.run()
	return found
}

// strangers are other waiting bags: of two senders in each county, in places
// that this edition leaves alone, counted or not.
func strangers(s *simulation, cut edition.Cut, busy map[place.ID]bool) (out []edition.Pending) {
	rng := rand.New(rand.NewPCG(s.seed, 99))
	for c := 1; c <= s.counties; c++ {
		for n := range s.towns {
			if busy[township(c, n+1)] || rng.IntN(2) == 0 {
				continue
			}
			for range 1 + rng.IntN(9) {
				out = append(out, edition.Pending{
					Sample: sampleID(1_000_000 + len(out)), Sender: senderID(1_000_000 + rng.IntN(2)),
					Standing: edition.Standing(rng.IntN(3)), Place: township(c, n+1), County: place.ID(c), Season: cut.Season,
					Received: rng.IntN(2) == 0, Counted: rng.IntN(2) == 0,
				})
			}
		}
	}
	return out
}

func canonicalOf(s *simulation, cut edition.Cut, plan edition.Plan, level func(edition.SampleID) int) string {
	made, err := plan.Count(s.rules, 1, ranks, level)
	require.NoError(s.t, err)
	return string(edition.Canonical(edition.Meta{Number: 1, Kind: edition.Release, Season: cut.Season, Cutoff: cut.Day,
		Released: cut.Day, K: s.rules.K, Ranks: ranks}, made, nil))
}

// Proof 1: alter all waiting data at will, and every public byte stays the
// same, fall figures aside.
func TestProofWaitingIsInvisible(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := drawn(rt)
		require.Empty(rt, altered(edition.Gather, c, t))
	})
	crowd := func(r edition.Rules, g edition.Ground, h edition.History, c edition.Cut, p []edition.Pending) (edition.Plan, error) {
		plan, err := edition.Gather(r, g, h, c, p)
		for i := range plan.Waiting {
			if plan.Waiting[i].Waiting == 2 && len(plan.Tranches) > 0 { // two bags wait somewhere: hold one tranche back
				plan.Tranches = plan.Tranches[1:]
				break
			}
		}
		return plan, err
	}
	require.NotEmpty(t, someSeed(func(seed uint64) []string { return altered(crowd, usual(seed), t) }),
		"a release that looks at what waits went unnoticed")
}

// Proof 2: permute what was counted, and the same bags go into the same
// tranches. Pending has no field to look at; this proves the whole chain.
func TestProofClassBlind(t *testing.T) {
	permuted := func(c settings) (found []string) {
		before := newSimulation(t, c).run()
		c.relevel = func(id edition.SampleID, level int) int { return (level + 1 + int(id[7])%4) % len(ranks) }
		after := newSimulation(t, c).run()
		for i := range before.drafts {
			if !slices.EqualFunc(before.drafts[i], after.drafts[i], func(a, b edition.Draft) bool {
				return fmt.Sprint(a) == fmt.Sprint(b)
			}) {
				found = append(found, fmt.Sprintf("edition %d differs", i+1))
			}
		}
		return found
	}
	rapid.Check(t, func(rt *rapid.T) { require.Empty(rt, permuted(drawn(rt))) })
	require.NotEmpty(t, someSeed(func(seed uint64) []string {
		c := usual(seed)
		c.findsFirst = true
		return permuted(c)
	}), "finds released ahead of the rest went unnoticed")
}

// farmsIn counts the true farms of a draft and their bags; samples without
// grouping are nobody's.
func farmsIn(s *simulation, d edition.Draft) map[int]int {
	out := make(map[int]int)
	for _, m := range d.Members {
		if f := s.truth[m].farm; f >= 0 {
			out[f]++
		}
	}
	return out
}

// fewFarms lists the tranches of fewer than k true farms.
func fewFarms(s *simulation) (found []string, tranches int) {
	for i, drafts := range s.drafts {
		for _, d := range drafts {
			tranches++
			if n := len(farmsIn(s, d)); n < s.rules.K {
				found = append(found, fmt.Sprintf("edition %d %s %v: %d farms", i+1, d.Kind, d.Places, n))
			}
		}
	}
	return found, tranches
}

// Proof 3: returning farms, bundles used over years and by neighbors, two of a
// household, land in several townships, an agronomist's box, blank taps: every
// tranche holds k true farms as long as no tap lies.
func TestProofTrueFarms(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		found, _ := fewFarms(newSimulation(t, drawn(rt)).run())
		require.Empty(rt, found)
	})
	require.NotEmpty(t, someSeed(func(seed uint64) []string {
		c := usual(seed)
		c.weak = edition.NumbersAreFarms
		found, _ := fewFarms(newSimulation(t, c).run())
		return found
	}), "sender numbers taken for farms went unnoticed")

	for _, lies := range []float64{0, 0.05, 0.1, 0.2, 0.4} {
		bad, all := 0, 0
		for seed := range uint64(20) {
			c := usual(seed)
			c.lies = lies
			found, n := fewFarms(newSimulation(t, c).run())
			bad, all = bad+len(found), all+n
		}
		t.Logf("%3.0f %% of taps wrong: %d of %d tranches under k true farms (%.1f %%)",
			100*lies, bad, all, 100*float64(bad)/float64(all))
		require.LessOrEqual(t, float64(bad), lies*float64(all)/2, "wrong taps cost more than half their share")
	}
}

// insiders lists what one or two farms that take their own bags out of a
// tranche would find: under k-1, or k-2, others; or others that weigh under the
// percent of the larger.
func insiders(s *simulation) (found []string) {
	for i, drafts := range s.drafts {
		for _, d := range drafts {
			farms := farmsIn(s, d)
			sizes := slices.Collect(maps.Values(farms))
			if attack.Without(farms, 1) < s.rules.K-1 || attack.Without(farms, 2) < s.rules.K-2 ||
				!attack.PPercent(sizes, s.rules.DominancePercent) {
				found = append(found, fmt.Sprintf("edition %d %s %v: farms of %v bags", i+1, d.Kind, d.Places, sizes))
			}
		}
	}
	return found
}

// Proof 5: take any one or two farms out of a tranche.
func TestProofInsiders(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) { require.Empty(rt, insiders(newSimulation(t, drawn(rt)).run())) })
	for name, weak := range map[string]edition.Weakness{"no dominance rule": edition.NoBalance, "dominance by sender numbers": edition.ByNumbers} {
		require.NotEmpty(t, someSeed(func(seed uint64) []string {
			c := usual(seed)
			c.weak = weak
			return insiders(newSimulation(t, c).run())
		}), "%s went unnoticed", name)
	}
}
