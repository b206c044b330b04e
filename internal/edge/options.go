package edge

import (
	"errors"
	"fmt"

	"sixmile/internal/assay"
)

// Options are what the program has to be told, because no bag tells it.
// DefaultOptions names where each number is from.
type Options struct {
	// HostShare is the share of a place's area that grows host crops in
	// rotation; FieldAcres is how large a field is.
	HostShare, FieldAcres float64
	// Prevalence is the share of fields that "worth of none found" asks about.
	Prevalence float64
	// Sensitivity is the chance that a bag from an infested field shows eggs,
	// from bag to slide.
	Sensitivity float64
	// Keep is what a clean bag is worth after a year, of what it was worth.
	Keep float64
	// SameFarm is how much less a further bag of a farm is worth than its first.
	SameFarm float64
	// BagsPerSender is how many bags a sender brings, where the figures say only
	// that there were so many senders or more.
	BagsPerSender float64
	// Alike is the least that the variance of a look is taken to be, over a
	// binomial's. Farms that send in fall after fall make the looks at a place
	// alike, which their differences cannot tell.
	Alike float64
	// Levels are the chances of finds that the edge may be drawn along: the first
	// that has a twentieth of the places on either side. See Surface.Level.
	Levels []float64
	// Reach is how many falls before its last a gathered tranche's bags may be of.
	Reach int
	// Seed fixes the draws that the intervals are taken from.
	Seed uint64
}

// DefaultOptions are ours but for what is said here.
//
//   - HostShare 0.4 and FieldAcres 80: no source; an office knows its own.
//   - Prevalence 0.1: one field in ten, in the issue of this program.
//   - Sensitivity: that of the starting method at LowDensity.
//   - Keep 0.87 halves a clean bag's worth in five years. Published advice is to
//     sample again every 2 to 3 years (University of Missouri), about every 3 or
//     about every 6 (Nebraska); it gives no half-life.
//   - SameFarm 0.5, BagsPerSender 2.5: no source.
//   - Alike 2: four bags of a farm over the years that go together by a third,
//     1 + (4-1)/3 (Kish's design effect); the numbers are ours.
//   - Levels 1 in 2, 1 in 4, 1 in 10: even odds, or what a state has where it is
//     seldom found; no source.
//   - Reach 2: the falls that a result waits before it goes with its district.
func DefaultOptions() Options {
	return Options{
		HostShare: 0.4, FieldAcres: 80, Prevalence: 0.1, Sensitivity: SensitivityOf(assay.DefaultMethod()),
		Keep: 0.87, SameFarm: 0.5, BagsPerSender: 2.5, Alike: 2, Levels: []float64{0.5, 0.25, 0.1}, Reach: 2, Seed: 1,
	}
}

// LowDensity is what an infested field is taken to hold when a bag's chance to
// miss it is asked: 300 eggs per 100 cm³, a low level in every published table.
const LowDensity assay.Density = 300

// SensitivityOf is the chance that a bag of LowDensity shows eggs, by the least
// sensitive of the methods; which one a tranche was counted by is not told.
// Without a method it is that of the starting one.
func SensitivityOf(methods ...assay.Method) float64 {
	least := 1.0
	for _, m := range methods {
		if miss := m.MissChance(LowDensity); miss > 1-least { // never of a method without one: NaN
			least = 1 - miss
		}
	}
	if least == 1 {
		return 1 - assay.DefaultMethod().MissChance(LowDensity)
	}
	return least
}

// ErrOptions is wrapped by every refusal of Options.
var ErrOptions = errors.New("option is out of range")

// Check refuses what cannot be meant.
func (o Options) Check() error {
	for _, c := range []struct {
		name          string
		got, low, top float64
	}{
		{"host share", o.HostShare, 0.001, 1},
		{"acres in a field", o.FieldAcres, 1, 10000},
		{"prevalence", o.Prevalence, 0.001, 1},
		{"sensitivity", o.Sensitivity, 0.01, 1},
		{"worth kept a year", o.Keep, 0.01, 1},
		{"loss of a further bag", o.SameFarm, 0, 1},
		{"bags of a sender", o.BagsPerSender, 1, 100},
		{"likeness of bags", o.Alike, 1, 20},
		{"reach in falls", float64(o.Reach), 0, 20},
	} {
		if !(c.got >= c.low && c.got <= c.top) {
			return fmt.Errorf("%w: %s is %v, and must be %v to %v", ErrOptions, c.name, c.got, c.low, c.top)
		}
	}
	for _, level := range o.Levels {
		if !(level >= 0.01 && level <= 0.99) {
			return fmt.Errorf("%w: level of the edge is %v", ErrOptions, level)
		}
	}
	return nil
}

// Fields is about how many fields in host crops so many acres hold, one at least.
func (o Options) Fields(acres float64) int {
	return max(1, int(acres*o.HostShare/o.FieldAcres+0.5))
}
