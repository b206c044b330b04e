package attack

import (
	"maps"
	"slices"
)

// PPercent is the rule by which agencies call a cell too dominated to publish:
// it is sensitive when the total, less the two largest, is under p percent of
// the largest. It reports whether the cell may be published.
func PPercent(contributions []int, p int) bool {
	c := slices.Sorted(slices.Values(contributions))
	slices.Reverse(c)
	rest := 0
	for _, n := range c[min(2, len(c)):] {
		rest += n
	}
	return len(c) > 0 && 100*rest >= p*c[0]
}

// Without says how many farms a tranche keeps when n of them pool what they
// know of themselves and take it out, whichever n they are.
func Without(farms map[int]int, n int) int { return max(0, len(farms)-n) }

// Secret is one thing that could be true, and what the public would then see.
type Secret struct {
	Waiting []int // by township: what the attacker wants to know
	Public  string
}

// Pin is something the attacker knows for sure.
type Pin struct {
	Public   string
	Township int
	Count    int  // the number, where Exact
	Exact    bool // only this number is possible
	Sampled  bool // zero is not possible
}

// Pins compares every secret with all others that look the same from outside.
// What is the same in all of them is known.
func Pins(secrets []Secret) []Pin {
	seen := make(map[string][]map[int]bool)
	for _, s := range secrets {
		values := seen[s.Public]
		if values == nil {
			values = make([]map[int]bool, len(s.Waiting))
			for i := range values {
				values[i] = make(map[int]bool)
			}
			seen[s.Public] = values
		}
		for i, n := range s.Waiting {
			values[i][n] = true
		}
	}
	var out []Pin
	for _, public := range slices.Sorted(maps.Keys(seen)) {
		for i, values := range seen[public] {
			pin := Pin{Public: public, Township: i, Exact: len(values) == 1, Sampled: !values[0]}
			for n := range values {
				pin.Count = n
			}
			if pin.Exact || pin.Sampled {
				out = append(out, pin)
			}
		}
	}
	return out
}
