package edition_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
)

// mishaps is a program in which much goes wrong and is put right.
func mishaps(t testing.TB, c settings, rate float64, b bug) (*simulation, []string) {
	s := newSimulation(t, c)
	s.years = newYears(rate, b)
	var found []string
	s.years.check = func(s *simulation) { found = append(found, attack.Try(s.years.public(s))...) }
	s.run()
	return s, append(found, s.years.proofs...)
}

// Proof 7: corrections, void and moved bags, recalls, errata, groups that come
// out again, many level tables, withdrawals: after each of them no attack
// learns anything, and every difference that shows is of k true farms.
func TestProofYears(t *testing.T) {
	joined, amended, restated, recalled := 0, 0, 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		c := drawn(rt)
		c.falls = min(c.falls, 6)
		s, found := mishaps(t, c, rapid.SampledFrom([]float64{0.1, 0.4}).Draw(rt, "rate"), noBug)
		require.Empty(rt, found)
		joined, amended, restated, recalled = joined+s.years.joined, amended+s.years.amended, restated+s.years.restated, recalled+s.years.recalled
	})
	t.Logf("%d recalled, %d out again with new results, %d by erratum; %d restated", recalled, joined, amended, restated)
	require.Positive(t, min(joined, amended, restated), "the proof must see them all")
}

// Each of these mistakes is found.
func TestProofYearsBite(t *testing.T) {
	for _, c := range []struct {
		bug bug
		by  string
	}{
		{amendsAny, "one of them"}, {amendsSwaps, "one of them"}, {takesUnrecalled, "back again"}, {takesFew, "back again"},
		{restatesHeads, "other results"}, {restatesAll, "fenced in"}, {tellsFalls, "fall of a recalled group"}, {drawsRecalled, "recompute"},
	} {
		found := someSeed(func(seed uint64) (of []string) {
			s := usual(seed)
			s.falls = 5
			if c.bug == takesFew {
				s.senders, s.towns = 25, 5
			}
			_, all := mishaps(t, s, 0.5, c.bug)
			for _, f := range all {
				if strings.HasPrefix(f, c.by+": ") {
					of = append(of, f)
				}
			}
			return of
		})
		require.NotEmpty(t, found, "mistake %d was not found by %q", c.bug, c.by)
	}
}

// A backup is restored and the edition released again. From the same data it is
// the same edition, and nobody learns anything; from other data the copy that a
// reader kept gives it away.
func TestProofBackup(t *testing.T) {
	c := usual(3)
	c.falls = 4
	first, _ := mishaps(t, c, 0.3, noBug)
	copies := first.years.public(first).Editions
	again, _ := mishaps(t, c, 0.3, noBug)
	p := again.years.public(again)
	p.Copies = copies
	require.Empty(t, attack.Try(p))
	c.relevel = func(id edition.SampleID, level int) int { return (level + 1) % len(ranks) }
	other, _ := mishaps(t, c, 0.3, noBug)
	p = other.years.public(other)
	p.Copies = copies
	require.Contains(t, strings.Join(attack.Try(p), "\n"), "two of one: ")
}
