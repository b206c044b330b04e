package assay

import (
	"fmt"

	"sixmile/internal/stat"
)

// Aliquot is one portion of the suspension put under the microscope.
type Aliquot struct {
	ML   float64 // mL looked at
	Eggs int     // eggs counted in it
}

// Count is what a technician writes down for one sample.
type Count struct {
	SoilCM3       float64 // cm³ of soil washed
	SuspensionML  float64 // mL the eggs were brought up to
	Aliquots      []Aliquot
	CystSeen      bool // a cyst or a white female was seen, on the sieve or on a root
	JuvenilesSeen bool
}

// MaxAliquots is the most portions one count may have.
const MaxAliquots = 8

// MaxEggsPerML is the most eggs in a milliliter taken as counted: 10,000. An
// egg is about 47 by 100 µm (ISU, MU labs), so ten thousand lie on one
// twentieth of a slide that holds a milliliter under 1 mm of glass; past that
// they overlap, nobody tells them apart, and a lab thins the suspension
// instead. At 100 mL from 100 cm³ it is MaxDensity. The limit is ours.
const MaxEggsPerML = 10_000

// rounding is the slack, relative, that sums of typed decimals get before they
// count as over a limit: ten portions of 0.1 mL are one milliliter.
const rounding = 1e-9

// Check returns an *Invalid for a count that cannot have been made. Its fields
// are soil, suspension, aliquots and, numbered from zero, aliquots.0.ml and
// aliquots.0.eggs.
func (c Count) Check() error {
	found := findings{}
	found.add("soil", amountProblem(c.SoilCM3, MaxSoilCM3))
	found.add("suspension", amountProblem(c.SuspensionML, MaxSuspensionML))
	if len(c.Aliquots) == 0 {
		found.add("aliquots", Missing)
	}
	if len(c.Aliquots) > MaxAliquots {
		found.add("aliquots", TooMany)
	}
	for i, a := range c.Aliquots {
		found.add(fmt.Sprintf("aliquots.%d.ml", i), amountProblem(a.ML, MaxSuspensionML))
		found.add(fmt.Sprintf("aliquots.%d.eggs", i), a.eggsProblem())
	}
	if len(found) == 0 && c.lookedAt() > c.SuspensionML*(1+rounding) {
		found.add("aliquots", MoreThanSuspension)
	}
	return found.err()
}

func (a Aliquot) eggsProblem() Problem {
	switch {
	case a.Eggs < 0:
		return Negative
	case amountProblem(a.ML, MaxSuspensionML) != "":
		return "" // the milliliters are named already, and give no limit
	case float64(a.Eggs) > a.ML*MaxEggsPerML*(1+rounding):
		return MoreThanSlide
	}
	return ""
}

// lookedAt is the mL under the microscope over all aliquots.
func (c Count) lookedAt() float64 {
	ml := 0.0
	for _, a := range c.Aliquots {
		ml += a.ML
	}
	return ml
}

func (c Count) eggs() int {
	eggs := 0
	for _, a := range c.Aliquots {
		eggs += a.Eggs
	}
	return eggs
}

// Density works out the reading of a count. Soil, water and portions are the
// count's own, since a short bag gives less soil than the method asks for; the
// recovery is the method's. Eggs and milliliters are added up over the
// aliquots first, never averaged aliquot by aliquot. Its limits are exact
// Poisson, or negative binomial where two or more aliquots differ more than
// counting makes them; the reading says which.
//
// The error is an *Invalid: of the count, or of the method with its fields
// under "method.", or TooLarge at aliquots when the density is over MaxDensity.
func (c Count) Density(m Method) (Reading, error) {
	if err := c.Check(); err != nil {
		return Reading{}, fmt.Errorf("Density: %w", err)
	}
	if found := m.problems(); len(found) > 0 {
		return Reading{}, fmt.Errorf("Density: %w", found.under("method.").err())
	}
	// One multiplication and one division per figure, so that whole numbers
	// stay whole: 40 eggs in 2 of 100 mL are 2000, not a hair above.
	up, down := c.SuspensionML*100, c.lookedAt()*c.SoilCM3*m.Recovery
	density := func(eggs float64) Density { return Density(eggs * up / down) }

	eggs := c.eggs()
	if density(float64(eggs)) > MaxDensity*(1+rounding) {
		return Reading{}, fmt.Errorf("Density: %w", &Invalid{Fields: findings{"aliquots": TooLarge}})
	}
	limits, err := c.limits()
	if err != nil {
		return Reading{}, fmt.Errorf("Density: %w", err)
	}
	return Reading{
		Basis:         Counted,
		Eggs:          eggs,
		Density:       density(float64(eggs)),
		PerEgg:        density(1),
		Limits:        stat.Interval{Low: float64(density(limits.eggs.Low)), High: float64(density(limits.eggs.High))},
		LimitsKnown:   true,
		LimitsBy:      limits.by,
		Dispersion:    limits.dispersion,
		CystSeen:      c.CystSeen,
		JuvenilesSeen: c.JuvenilesSeen,
	}, nil
}

// Again is the count with a further look at what is left of the same
// suspension: the portions of both, and a cyst or juveniles seen in either. A
// recount adds to a count, it does not take its place, unless the first was
// wrong. The error is an *Invalid of Check: the two together may be more
// portions than MaxAliquots or more than the suspension holds.
func (c Count) Again(more ...Aliquot) (Count, error) {
	c.Aliquots = append(append([]Aliquot(nil), c.Aliquots...), more...)
	if err := c.Check(); err != nil {
		return Count{}, fmt.Errorf("Again: %w", err)
	}
	return c, nil
}
