package world

import (
	"math"
	"math/rand/v2"
)

// Fall-to-fall multipliers. The means of a non-host year, a resistant and a
// susceptible soybean are those of Chen, Porter, Reese and Stienstra 2001 (Crop
// Science, "Crop sequence effects on soybean cyst nematode and soybean and corn
// yields", southern Minnesota 1996-99): 0.59, 0.49 and 3.3. The others are our
// own choice.
const (
	nonHost          = 0.59
	resistant        = 0.49
	susceptible      = 3.3
	dryBean          = 1.8
	otherResistance  = 0.7
	pekingResistance = 0.45
)

const (
	// ceiling is what an ordinary field levels off at under susceptible
	// soybeans, eggs per 100 cm³; light soils carry more, heavy ones less.
	ceiling = 20000
	// usual is the density that the published multipliers are taken at.
	usual = 5000
	// erosion is by how much a year of use raises what grows on PI 88788.
	// Iowa trials of 2000-2015 saw it rise, and not on Peking (McCarville et
	// al. 2016); the rate is our own choice.
	erosion = 0.06
	// resistanceSold is how many years before the first season resistant
	// seed came on the market.
	resistanceSold = 14
)

// grow takes a field through one year: its crop, and what the nematode makes
// of it. season counts from the first season of the program.
func (f *field) grow(h habit, year, season int, weather float64, rng *rand.Rand) {
	f.before, f.crop, f.next = f.crop, f.next, f.plannedCrop(year+1)
	if chance(rng, 0.04) { // plans change
		f.next = pick(rng, []weighted[Crop]{{Corn, 50}, {Soybean, 30}, {Wheat, 15}, {OtherCrop, 5}})
	}
	if f.crop == Soybean {
		f.source = chooseSource(h, season, rng)
		f.known = chance(rng, 0.8)
	}
	if f.eggs == 0 {
		return
	}
	rate, hosts := f.multiplier(season)
	factor := noise(rng, 0.18)
	if hosts {
		factor = noise(rng, 0.35) * weather
	}
	// Never quite gone: eggs in cysts last for years.
	rest := 4 + rng.IntN(12)
	f.eggs = max(rest, int(math.Round(float64(f.eggs)*rate*factor)))
}

// multiplier is what the crop does to the density, and whether it is a host.
// Hosts saturate: the fewer there are, the more each leaves.
func (f *field) multiplier(season int) (float64, bool) {
	limit := float64(ceiling)
	soil := 1.0
	switch {
	case f.light:
		limit, soil = limit*1.6, 1.15
	case f.heavy:
		limit, soil = limit*0.6, 0.9
	}
	var a float64
	switch {
	case f.crop == DryBean:
		a = dryBean
	case f.crop != Soybean:
		return nonHost, false
	case f.source == PI88788:
		return f.onPI88788(season, soil), true
	case f.source == Peking:
		a = pekingResistance
	case f.source == OtherSource:
		a = otherResistance
	default:
		a = susceptible * 1.6 // at low densities; 3.3 on a usual one
	}
	a *= soil
	if a <= 1 {
		return a, true
	}
	return a / (1 + (a-1)*float64(f.eggs)/limit), true
}

// onPI88788 is the multiplier on the common resistance: 0.49 on a usual density
// in the first season, more on few eggs (low densities grow faster: Alston and
// Schmitt 1987), and creeping up as the nematode adapts.
func (f *field) onPI88788(season int, soil float64) float64 {
	worn := 1 + erosion*float64(max(season, 0))
	few := math.Pow(usual/float64(f.eggs), 0.3)
	return min(resistant*worn*few*soil, susceptible)
}

// chooseSource is the seed a farm plants. Nearly all resistant seed carries
// PI 88788 (published: 95-98 in 100); careful farms look for Peking.
func chooseSource(h habit, season int, rng *rand.Rand) Source {
	offer := min(1, float64(season+resistanceSold)/12)
	if offer <= 0 || !chance(rng, offer) {
		return Susceptible
	}
	switch h {
	case careless:
		return pick(rng, []weighted[Source]{{Susceptible, 75}, {PI88788, 25}})
	case careful:
		return pick(rng, []weighted[Source]{{PI88788, 55}, {Peking, 35}, {OtherSource, 7}, {Susceptible, 3}})
	default:
		return pick(rng, []weighted[Source]{{PI88788, 70}, {Susceptible, 26}, {Peking, 2}, {OtherSource, 2}})
	}
}
