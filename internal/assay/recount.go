package assay

import (
	"slices"

	"sixmile/internal/stat"
)

// RecountReason says why another look at a suspension is worth it.
type RecountReason string

// The reasons.
const (
	EdgeInLimits     RecountReason = "edge_in_limits"    // the limits reach over a class edge
	FewSeen          RecountReason = "few_seen"          // one to four eggs and no cyst: not yet a find
	PortionsDisagree RecountReason = "portions_disagree" // aliquots differ by far more than counting
)

// Numbers of a recount, ours: a chance of another level under one in ten is
// not worth a slide; aliquots that would differ so much less than one time in a
// hundred are looked at again in any case, for a slip is likelier.
const (
	RecountFrom   = 0.10
	DisagreeLevel = 0.01
)

// Recount is whether a count is worth another look while its suspension stands.
type Recount struct {
	Worth   bool
	Reasons []RecountReason
	// Chance is the chance that looking at as much again, and adding it up,
	// gives another level than the one named now. The most valuable recount is
	// the one likeliest to change what a grower is told: neither a level that is
	// sure already nor many eggs as such. A count exactly on an edge has about
	// an even chance and comes first.
	Chance float64
}

// Recount weighs another look at a reading. Counts of none are never asked for
// again: a level none means the slide showed nothing, and how much that is
// worth is Method.MissChance's to say. Reported densities cannot be counted
// again here.
func (s Scheme) Recount(r Reading) Recount {
	class := s.Class(r)
	if r.Basis != Counted || r.Eggs == 0 || r.perEgg() <= 0 || class.Kind == 0 || class.Kind == None {
		return Recount{}
	}
	out := Recount{Chance: s.changeChance(r, class)}
	if low, high, known := s.Range(r); known && low.Rank != high.Rank {
		out.Reasons = append(out.Reasons, EdgeInLimits)
	}
	if class.Kind == Unconfirmed && r.few() {
		out.Reasons = append(out.Reasons, FewSeen)
	}
	out.Worth = len(out.Reasons) > 0 && out.Chance >= RecountFrom
	if r.Dispersion.Tested() && r.Dispersion.P < DisagreeLevel {
		out.Reasons, out.Worth = append(out.Reasons, PortionsDisagree), true
	}
	return out
}

// changeChance is the chance that as many milliliters again change the class.
// With x eggs seen the mean is taken to be gamma with shape x + 1/2 (Jeffreys
// 1946), so that the eggs of a second look are negative binomial with mean
// x + 1/2 and twice the variance over mean of the first.
func (s Scheme) changeChance(r Reading, class Class) float64 {
	rank := func(more int) int {
		both := r
		both.Eggs = r.Eggs + more
		both.Density = Density(both.Eggs) * r.perEgg() / 2
		return s.Class(both).Rank
	}
	mean, phi := float64(r.Eggs)+0.5, 2*r.phi()
	most := int(20 * phi * (mean + 10))
	same := firstWhere(most, func(y int) bool { return rank(y) >= class.Rank })
	over := firstWhere(most, func(y int) bool { return rank(y) > class.Rank })
	return stat.NegativeBinomialBelow(same-1, mean, phi) + 1 - stat.NegativeBinomialBelow(over-1, mean, phi)
}

// firstWhere finds the smallest number from 0 at which a condition holds that,
// once true, stays true; most+1 when it does not hold by then.
func firstWhere(most int, holds func(int) bool) int {
	low, high := 0, most+1
	for low < high {
		middle := low + (high-low)/2
		if holds(middle) {
			high = middle
		} else {
			low = middle + 1
		}
	}
	return low
}

// Compare orders recounts, the most valuable first: those worth it before the
// rest, then by Chance. Equal ones stand as they came, which should be by days
// waiting.
func (a Recount) Compare(b Recount) int {
	switch {
	case a.Worth != b.Worth && a.Worth, a.Worth == b.Worth && a.Chance > b.Chance:
		return -1
	case a.Worth != b.Worth, a.Chance < b.Chance:
		return 1
	}
	return 0
}

// MostWorth picks what to count again today out of counts whose suspensions
// still stand: those worth it, most valuable first, at most limit of them.
// Items should come in the order of days waiting, longest first, which settles
// equals. The items are left as they are.
func MostWorth[T any](items []T, recount func(T) Recount, limit int) []T {
	type weighed struct {
		item T
		r    Recount
	}
	var worth []weighed
	for _, item := range items {
		if r := recount(item); r.Worth {
			worth = append(worth, weighed{item, r})
		}
	}
	slices.SortStableFunc(worth, func(a, b weighed) int { return a.r.Compare(b.r) })
	worth = worth[:max(0, min(limit, len(worth)))]
	out := make([]T, 0, len(worth))
	for _, w := range worth {
		out = append(out, w.item)
	}
	return out
}
