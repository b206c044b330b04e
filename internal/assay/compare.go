package assay

import (
	"errors"
	"fmt"
	"math"
)

// Twin says what two results of one bag share, and so what may part them.
type Twin uint8

// The twins.
const (
	// SameSuspension: two looks at one suspension. Counting alone parts them.
	SameSuspension Twin = iota + 1
	// SameBag: two scoops out of one bag, each washed and counted. Cysts come
	// whole into a scoop or not at all, which parts them further.
	SameBag
)

// String is the twin's key: same_suspension or same_bag.
func (w Twin) String() string {
	switch w {
	case SameSuspension:
		return "same_suspension"
	case SameBag:
		return "same_bag"
	}
	return ""
}

// Difference is how far two results of one bag lie apart.
type Difference struct {
	Mean     Density // of the two
	Relative float64 // difference over mean, 0 to 2; 0 when both are zero
	Expected float64 // 19 of 20 good pairs lie within; never over 2
	Outside  bool    // further apart than Expected
	// Rough: fewer than FewForPair eggs in both together. Such pairs lie apart
	// anyhow; Expected is a guide only.
	Rough bool
}

// FewForPair is the number of eggs in two counts together under which their
// expected difference is a guide only: twenty, ours. From there on good pairs
// lie within 93 to 97 times in a hundred (the package's tests).
const FewForPair = 20

// Compare sets two counts of one bag by one method side by side. The relative
// difference of densities a and b is |a-b| over their mean, common practice of
// labs. What is expected of it follows from counting: a density d made of eggs
// that stand for p each has variance d p φ, with φ 1 for looks at one
// suspension. For scoops of one bag a cyst of E eggs puts E q of them on the
// slide, q the method's share and recovery, and φ is 1 + E q (compound Poisson,
// as in Method.MissChance). Hence
//
//	Expected = 1.96 √(mean (p₁φ₁ + p₂φ₂)) / mean
//
// The error is an *Invalid: of a count with its fields under "first." or
// "second.", or twin Unknown.
func Compare(first, second Count, m Method, twin Twin) (Difference, error) {
	if twin.String() == "" {
		return Difference{}, fmt.Errorf("Compare: %w", findings{"twin": Unknown}.err())
	}
	a, err := first.Density(m)
	if err != nil {
		return Difference{}, fmt.Errorf("Compare: %w", under("first.", err))
	}
	b, err := second.Density(m)
	if err != nil {
		return Difference{}, fmt.Errorf("Compare: %w", under("second.", err))
	}
	mean := (a.Density + b.Density) / 2
	d := Difference{Mean: mean, Expected: 2, Rough: a.Eggs+b.Eggs < FewForPair}
	if mean == 0 {
		return d, nil
	}
	variance := float64(mean * (a.PerEgg*first.spread(m, twin) + b.PerEgg*second.spread(m, twin)))
	d.Relative = math.Abs(float64(a.Density-b.Density)) / float64(mean)
	d.Expected = min(2, normal975*math.Sqrt(variance)/float64(mean))
	d.Outside = d.Relative > d.Expected
	return d, nil
}

// normal975 is the standard normal deviate with one in forty above it.
const normal975 = 1.959963984540054

// spread is the variance over the mean of the eggs of a count.
func (c Count) spread(m Method, twin Twin) Density {
	if twin == SameSuspension {
		return 1
	}
	return Density(1 + m.EggsPerCyst*m.Recovery*c.lookedAt()/c.SuspensionML)
}

// under puts a word before the fields of an *Invalid; other errors stay.
func under(prefix string, err error) error {
	var invalid *Invalid
	if errors.As(err, &invalid) {
		return findings(invalid.Fields).under(prefix).err()
	}
	return err
}

// DensitySpread is the standard deviation that counting and the strewing of
// cysts leave on the density of a bag of density d by the method: what check
// samples scatter by at the least.
func (m Method) DensitySpread(d Density) Density {
	phi := 1 + m.EggsPerCyst*m.Recovery*m.Share()
	return Density(math.Sqrt(float64(d*m.PerEgg()) * phi))
}
