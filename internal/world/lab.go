package world

import "math/rand/v2"

// How eggs come in soil and onto a slide.
const (
	eggsPerCyst = 150 // mean; published: 50-500 (Niblack and Donald), 200-250 when new; a full cyst in practice 150-200
	// coreShape: fifteen to twenty cores of a patchy field, mixed, scatter
	// about the field's mean with a coefficient of variation of 1/√8, 35 %.
	// Published: most composites come within half of the mean (Schmitt et al.
	// 1990, J. Nematol.).
	coreShape = 8
	// cystShape scatters the eggs of one cyst about their mean.
	cystShape = 2

	soilCM3      = 100
	suspensionML = 100
	aliquotML    = 2
	secondSlide  = 0.15  // share of samples of which two slides are counted
	lookAlike    = 0.025 // share of samples with an egg or two of another nematode
	cystNoticed  = 0.25  // chance that any one cyst on the sieve is noticed
)

// washAndCount is one trip through the lab: a mixed bag, a scoop of it, its
// cysts crushed, and one or two slides. Cores make the bag gamma, the scoop
// makes cysts Poisson, cysts hold gamma eggs, the slide makes eggs Poisson.
func washAndCount(rng *rand.Rand, density int) Count {
	bag := float64(density) * gamma(rng, coreShape)
	cysts := poisson(rng, bag*soilCM3/100/eggsPerCyst)
	eggs := 0.0
	for range cysts {
		eggs += eggsPerCyst * gamma(rng, cystShape)
	}
	c := Count{SoilCM3: soilCM3, SuspensionML: suspensionML, Aliquots: 1}
	if chance(rng, secondSlide) {
		c.Aliquots = 2
	}
	c.AliquotML = aliquotML * c.Aliquots
	c.Eggs = poisson(rng, eggs*float64(c.AliquotML)/suspensionML)
	for range min(cysts, 20) {
		c.Cyst = chance(rng, cystNoticed) || c.Cyst
	}
	if cysts == 0 && chance(rng, lookAlike) {
		c.Eggs += between(rng, 1, 2)
	}
	return c
}
