package assay

import (
	"math"

	"sixmile/internal/stat"
)

// Method is a lab's recipe: how much soil, washed into how much water, of which
// how much goes under the microscope. Methods are named and versioned because
// counts of two methods are not one series: one clinic's change of extraction
// multiplied its counts by 2.67 (Tylka and Flynn, ICM, 11 October 1999).
type Method struct {
	Name         string  // a key; schemes name the methods they fit by it
	Version      int     // from 1
	SoilCM3      float64 // cm³ of soil in a scoop
	SuspensionML float64 // mL the eggs are brought up to
	AliquotML    float64 // mL looked at, over all slides of one sample
	Recovery     float64 // share of the soil's eggs that reach the suspension; 1: not corrected
	EggsPerCyst  float64 // mean eggs in a cyst, for MissChance only
}

// DefaultEggsPerCyst is the number of eggs a cyst is taken to hold: 150. New
// cysts hold more (200 and up, ISU; 200-400, Purdue), field mixtures less
// (50-100 as a field conversion, ISU; 50-500, Niblack and Donald). 150 to 200
// in a full cyst is also common practice, with no source.
const DefaultEggsPerCyst = 150

// Limits on what a method or a count may say, ours. A gallon of soil (3,785
// cm³), the most any published protocol asks for, is inside.
const (
	MaxSoilCM3      = 5000
	MaxSuspensionML = 5000
	MaxEggsPerCyst  = 1000
)

// NewMethod is a first version that corrects nothing: recovery 1 and
// DefaultEggsPerCyst.
func NewMethod(name string, soilCM3, suspensionML, aliquotML float64) Method {
	return Method{
		Name: name, Version: 1,
		SoilCM3: soilCM3, SuspensionML: suspensionML, AliquotML: aliquotML,
		Recovery: 1, EggsPerCyst: DefaultEggsPerCyst,
	}
}

// Check returns an *Invalid for a method nothing can be counted by. Its fields
// are name, version, soil, suspension, aliquot, recovery and eggs_per_cyst.
func (m Method) Check() error { return m.problems().err() }

func (m Method) problems() findings {
	found := findings{}
	found.add("name", keyProblem(m.Name))
	if m.Version < 1 {
		found.add("version", NotPositive)
	}
	found.add("soil", amountProblem(m.SoilCM3, MaxSoilCM3))
	found.add("suspension", amountProblem(m.SuspensionML, MaxSuspensionML))
	found.add("aliquot", amountProblem(m.AliquotML, MaxSuspensionML))
	found.add("recovery", amountProblem(m.Recovery, 1))
	found.add("eggs_per_cyst", amountProblem(m.EggsPerCyst, MaxEggsPerCyst))
	if m.AliquotML > m.SuspensionML {
		found.add("aliquot", MoreThanSuspension)
	}
	return found
}

// Count is a count by this method: its soil and water, and one aliquot of the
// method's size with these eggs in it. A lab that took other amounts fills in
// Count itself.
func (m Method) Count(eggs int) Count {
	return Count{
		SoilCM3: m.SoilCM3, SuspensionML: m.SuspensionML,
		Aliquots: []Aliquot{{ML: m.AliquotML, Eggs: eggs}},
	}
}

// Share is the part of the suspension looked at, above 0 and up to 1.
func (m Method) Share() float64 { return m.AliquotML / m.SuspensionML }

// PerEgg is the density one egg on the slide stands for, the step in which
// densities come out: 50 with 2 of 100 mL from 100 cm³.
func (m Method) PerEgg() Density {
	return Density(m.SuspensionML * 100 / (m.AliquotML * m.SoilCM3 * m.Recovery))
}

// MissChance is the chance that no egg is seen although the bag holds d, from
// bag to slide, cysts included. It is 1 at zero and falls as d rises; NaN when
// d is negative or the method does not pass Check.
//
// Derivation. The bag is well mixed but its eggs lie in cysts of E eggs, so a
// scoop of V cm³ gets N cysts, N ~ Poisson(λ) with λ = (d V / 100) / E. The
// cysts are crushed, and each egg then ends up under the microscope with
// probability p = recovery x share of the suspension looked at, independently.
// Let the eggs of a cyst be Poisson with mean E: the eggs seen of one cyst are
// then Poisson with mean E p, none are seen of it with chance e^(-E p), and
// over the Poisson number of cysts
//
//	P(none seen) = Σ P(N = n) e^(-E p n) = exp(-λ (1 - e^(-E p)))
//
// With exactly E eggs in each cyst (1-p)^E takes the place of e^(-E p), next to
// no difference at the p of a slide. Two ends of it: as E goes to 0 eggs lie
// singly and only the slide matters, exp(-d V p / 100); with all of the
// suspension looked at only the scoop matters, e^(-λ).
//
// It takes cysts to be spread through the bag at random. Clumps of cysts, and
// the patchiness between the cores that went into the bag, make a miss more
// likely still.
func (m Method) MissChance(d Density) float64 {
	if m.Check() != nil || belowZero(float64(d)) != "" {
		return math.NaN()
	}
	return math.Exp(-m.cysts(d) * m.cystSeen())
}

// MissedOneInTwenty is the density at which no egg is seen one time in twenty,
// from bag to slide: MissChance of it is 0.05. NaN when the method does not
// pass Check.
func (m Method) MissedOneInTwenty() Density {
	if m.Check() != nil {
		return Density(math.NaN())
	}
	return Density(-math.Log(0.05) / (m.cysts(1) * m.cystSeen()))
}

// cysts is λ, the mean number of cysts in a scoop at density d.
func (m Method) cysts(d Density) float64 {
	return float64(d) * m.SoilCM3 / 100 / m.EggsPerCyst
}

// cystSeen is the chance that a cyst in the scoop puts an egg on the slide.
func (m Method) cystSeen() float64 {
	return -math.Expm1(-m.EggsPerCyst * m.Recovery * m.Share())
}

// SmallestWithinHalf is the smallest number of eggs on the slide whose exact
// 95 % Poisson limits lie within half of it either way: 24. It is the same for
// every method; what differs is the density it stands for, PerEgg times it.
func (m Method) SmallestWithinHalf() int {
	for eggs := 1; ; eggs++ {
		n := float64(eggs)
		limits, err := stat.Poisson(eggs, stat.Confidence)
		if err != nil {
			return 0 // not reached: the count is positive and the confidence fixed
		}
		if limits.Low >= n/2 && limits.High <= n*3/2 {
			return eggs
		}
	}
}
