package assay

import (
	"fmt"

	"sixmile/internal/stat"
)

// LimitMethod is how a reading's limits came about. The zero LimitMethod
// belongs to a reading that has none, or was stored without a word of it.
type LimitMethod uint8

// The methods.
const (
	// ExactPoisson: eggs lie in the suspension independently of each other
	// (Garwood 1936). One aliquot, or aliquots that agree.
	ExactPoisson LimitMethod = iota + 1
	// NegBinomial: the aliquots differ more than that, so eggs hang together;
	// the variance is what the index of dispersion says times the mean.
	NegBinomial
)

// String is the method's key: exact_poisson or negative_binomial.
func (l LimitMethod) String() string {
	switch l {
	case ExactPoisson:
		return "exact_poisson"
	case NegBinomial:
		return "negative_binomial"
	}
	return ""
}

// DispersionLevel is the chance, of aliquots of a well-stirred suspension, of
// being taken for clumped: one in twenty, common practice. They get limits that
// are too wide then, never too narrow.
const DispersionLevel = 0.05

// eggLimits are the limits of the mean number of eggs in what was looked at.
type eggLimits struct {
	eggs       stat.Interval
	by         LimitMethod
	dispersion stat.Dispersion
}

// limits works out the limits of a count that passed Check. Two aliquots of a
// clumped suspension look alike more often than not: the tests of stat show how
// often limits hold then. The cure is to look at more aliquots.
func (c Count) limits() (eggLimits, error) {
	var seen []int
	var ml []float64
	for _, a := range c.Aliquots {
		seen, ml = append(seen, a.Eggs), append(ml, a.ML)
	}
	d, err := stat.IndexOfDispersion(seen, ml)
	if err != nil {
		return eggLimits{}, err
	}
	out := eggLimits{by: ExactPoisson, dispersion: d}
	if d.Tested() && d.P < DispersionLevel {
		out.by = NegBinomial
		out.eggs, err = stat.NegativeBinomial(c.eggs(), d.Phi, stat.Confidence)
		return out, err
	}
	out.eggs, err = stat.Poisson(c.eggs(), stat.Confidence)
	return out, err
}

// phi is the variance of the eggs seen over their mean, by which limits and
// chances of a reading go: 1 with exact Poisson limits.
func (r Reading) phi() float64 {
	if r.LimitsBy != NegBinomial {
		return 1
	}
	return max(1, min(r.Dispersion.Phi, float64(r.Eggs)))
}

// perEgg is what one egg stands for, also of a reading stored without it; zero
// when that cannot be known.
func (r Reading) perEgg() Density {
	if r.PerEgg > 0 || r.Eggs <= 0 {
		return r.PerEgg
	}
	return r.Density / Density(r.Eggs)
}

// BagLimits are 95 % limits of the density of the bag, not of the suspension
// alone: cysts come whole into a scoop or not at all, and a low density is
// known to far less than its slide. The eggs seen are a Poisson number of cysts
// times the eggs that each puts on the slide, as in Method.MissChance (stat's
// Clusters); where the aliquots disagreed, negative binomial with the variances
// of both added up. They are never narrower than the limits of the reading,
// and rest on the method's EggsPerCyst, which is not known for the bag at hand. They
// always hold the density itself: one egg where each cyst puts dozens on the slide
// is so unlikely that the lower limit alone would lie above it.
// A full slide takes them up to a tenth of a second.
//
// The error is that of Density.
func (c Count) BagLimits(m Method) (stat.Interval, error) {
	r, err := c.Density(m)
	if err != nil {
		return stat.Interval{}, fmt.Errorf("BagLimits: %w", err)
	}
	perCyst := float64(c.spread(m, SameBag)) - 1
	var eggs stat.Interval
	if r.LimitsBy == NegBinomial {
		eggs, err = stat.NegativeBinomial(r.Eggs, r.phi()+perCyst, stat.Confidence)
	} else {
		eggs, err = stat.Clusters(r.Eggs, perCyst, stat.Confidence)
	}
	if err != nil {
		return stat.Interval{}, fmt.Errorf("BagLimits: %w", err)
	}
	bag := eggs.Scale(float64(r.PerEgg))
	bag.Low = min(bag.Low, float64(r.Density))
	return bag, nil
}
