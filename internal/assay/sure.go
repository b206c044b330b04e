package assay

import (
	"math"

	"sixmile/internal/stat"
)

// ClassChance is a found class and the confidence that the soil's density is
// in it.
type ClassChance struct {
	Class  Class
	Chance float64 // 0 to 1
}

// Chances says how sure a level is: it spreads a confidence of one over the
// found classes of the scheme, lowest first. It is false where Range is: limits
// unknown, or not a find.
//
// The confidence in "at or under a cut point" is the mid-P confidence
// distribution of the count: the chance that a suspension of exactly that
// density would have shown more eggs than were seen, plus half the chance of
// just as many (Lancaster 1961; Xie and Singh 2013, from memory). It is a
// statement about the count and not about the field: no word of how densities
// are spread over fields goes into it, and like the limits it is of the slide
// alone, not of how the bag was filled. Where aliquots disagreed it goes by the
// negative binomial of the limits.
func (s Scheme) Chances(r Reading) ([]ClassChance, bool) {
	if _, _, known := s.Range(r); !known || r.Basis != Counted || r.perEgg() <= 0 {
		return nil, false
	}
	var out []ClassChance
	under := 0.0
	for _, c := range s.Found() {
		upTo := r.confidenceUpTo(c.Upper)
		out = append(out, ClassChance{Class: c, Chance: max(0, upTo-under)})
		under = max(under, upTo)
	}
	return out, true
}

// confidenceUpTo is the confidence that the density is at or under d.
func (r Reading) confidenceUpTo(d Density) float64 {
	if math.IsInf(float64(d), 1) {
		return 1
	}
	mean := float64(d / r.perEgg())
	below := stat.NegativeBinomialBelow(r.Eggs-1, mean, r.phi())
	return 1 - (below+stat.NegativeBinomialBelow(r.Eggs, mean, r.phi()))/2
}
