package assay

import "math"

// Density is a number of eggs per 100 cm³ of soil.
type Density float64

// MaxDensity is the largest density taken as meant: a million eggs per
// 100 cm³, some thirty times the 30,000 at the top of what heavily infested
// fields are said to hold (common practice, no source). Beyond it a slipped key
// or a wrong unit is far more likely. The limit is ours.
const MaxDensity Density = 1_000_000

// Unit is a unit that labs report egg densities in.
type Unit uint8

// The units, by the soil they are counted in. The zero Unit is none.
const (
	Per100CM3 Unit = iota + 1
	Per200CM3
	Per250CM3
	Per500CM3
	Per100G
	PerKG
)

// unitFact says how much soil a unit is counted in.
type unitFact struct {
	key    string  // empty for no unit
	amount float64 // cm³, or g when byMass
	byMass bool
}

func (u Unit) fact() unitFact {
	switch u {
	case Per100CM3:
		return unitFact{"per_100_cm3", 100, false}
	case Per200CM3:
		return unitFact{"per_200_cm3", 200, false}
	case Per250CM3:
		return unitFact{"per_250_cm3", 250, false}
	case Per500CM3:
		return unitFact{"per_500_cm3", 500, false}
	case Per100G:
		return unitFact{"per_100_g", 100, true}
	case PerKG:
		return unitFact{"per_kg", 1000, true}
	}
	return unitFact{}
}

// Units lists the units in the order a form offers them.
func Units() []Unit {
	return []Unit{Per100CM3, Per200CM3, Per250CM3, Per500CM3, Per100G, PerKG}
}

// String is the unit's key, such as "per_250_cm3"; empty for no unit.
func (u Unit) String() string { return u.fact().key }

// ParseUnit reads a unit's key exactly as String writes it. Its error is
// Missing or Unknown.
func ParseUnit(key string) (Unit, error) {
	if key == "" {
		return 0, Missing
	}
	for _, u := range Units() {
		if u.String() == key {
			return u, nil
		}
	}
	return 0, Unknown
}

// ByMass reports whether the unit is per mass of soil, so that a bulk density
// is needed to make it a density per volume.
func (u Unit) ByMass() bool { return u.fact().byMass }

// Bulk density limits, g/cm³. Soil is not denser than the quartz in it, 2.65;
// dry peat is about 0.1 (both from memory).
const (
	MinBulkDensity = 0.1
	MaxBulkDensity = 2.65
)

// Density turns a value in unit u into eggs per 100 cm³. bulk is the soil's
// dry bulk density in g/cm³; it is needed, and looked at, only by units per
// mass. The error is an *Invalid naming value, unit or bulk_density.
//
// Conversions are exact: from 250 cm³ to 100 cm³ is times 100 over 250, and a
// kilogram of soil at 1.2 g/cm³ fills 1000/1.2 cm³.
func (u Unit) Density(value, bulk float64) (Density, error) {
	found := findings{}
	found.add("value", belowZero(value))
	up, down := u.ratio(found, bulk)
	d := Density(value * up / down)
	if d > MaxDensity {
		found.add("value", TooLarge)
	}
	if err := found.err(); err != nil {
		return 0, err
	}
	return d, nil
}

// In turns a density into a value in unit u: the inverse of Unit.Density. The
// error is an *Invalid naming density, unit or bulk_density.
func (d Density) In(u Unit, bulk float64) (float64, error) {
	found := findings{}
	found.add("density", belowZero(float64(d)))
	up, down := u.ratio(found, bulk)
	if err := found.err(); err != nil {
		return 0, err
	}
	return float64(d) * down / up, nil
}

// ratio gives the factor to eggs per 100 cm³ as a fraction, because 100/250
// has no exact float but 100 and 250 have. Problems go to found, and the
// fraction is then 1/1.
func (u Unit) ratio(found findings, bulk float64) (up, down float64) {
	f := u.fact()
	if f.key == "" {
		found.add("unit", Unknown)
		return 1, 1
	}
	if !f.byMass {
		return 100, f.amount
	}
	switch {
	case math.IsNaN(bulk) || math.IsInf(bulk, 0):
		found.add("bulk_density", NotFinite)
	case bulk == 0:
		found.add("bulk_density", Missing)
	case bulk < 0:
		found.add("bulk_density", Negative)
	case bulk < MinBulkDensity:
		found.add("bulk_density", TooSmall)
	case bulk > MaxBulkDensity:
		found.add("bulk_density", TooLarge)
	default:
		return 100 * bulk, f.amount
	}
	return 1, 1
}

// belowZero is the problem of an amount that may be zero but not less; empty
// for none.
func belowZero(v float64) Problem {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return NotFinite
	case v < 0:
		return Negative
	}
	return ""
}

// amountProblem is the problem of an amount that must be more than zero and at most
// limit; empty for none.
func amountProblem(v, limit float64) Problem {
	switch {
	case belowZero(v) != "":
		return belowZero(v)
	case v == 0:
		return NotPositive
	case v > limit:
		return TooLarge
	}
	return ""
}
