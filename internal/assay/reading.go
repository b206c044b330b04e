package assay

import (
	"fmt"

	"sixmile/internal/stat"
)

// Basis says what a reading rests on, and so which rules can be put to it. The
// zero Basis is none: a Reading nobody made has no class. A result given only
// as a class would be one more basis, with a class in the place of a density;
// the program does not take those in yet.
type Basis uint8

// The bases.
const (
	Counted   Basis = iota + 1 // eggs on a slide: everything is known
	Reported                   // a density from a lab, with nothing about the slide
	CystsOnly                  // cysts looked for, no eggs counted, no density
)

// Reading is what is known about the soil in one bag.
type Reading struct {
	Basis         Basis
	Eggs          int           // eggs seen, over all aliquots; Counted only
	Density       Density       // estimate; zero when nothing was seen
	PerEgg        Density       // what one egg seen stands for; Counted only
	Limits        stat.Interval // 95 %, on what the slide shows, eggs per 100 cm³
	LimitsKnown   bool          // false: Limits says nothing, and is not to be shown
	LimitsBy      LimitMethod   // how Limits came about; Counted only
	Dispersion    stat.Dispersion
	CystSeen      bool
	JuvenilesSeen bool
}

// Report is a density as a lab gave it, with no word of what the slide showed.
type Report struct {
	Value         float64
	Unit          Unit
	BulkDensity   float64 // g/cm³, needed by units per mass only
	CystSeen      bool
	JuvenilesSeen bool
}

// Reading turns a report into a reading. Its limits are unknown, and the rule
// about one to four eggs seen cannot be put to it; the trace limit can. The
// error is an *Invalid naming value, unit or bulk_density.
func (r Report) Reading() (Reading, error) {
	d, err := r.Unit.Density(r.Value, r.BulkDensity)
	if err != nil {
		return Reading{}, fmt.Errorf("Reading: %w", err)
	}
	return Reading{
		Basis: Reported, Density: d,
		CystSeen: r.CystSeen, JuvenilesSeen: r.JuvenilesSeen,
	}, nil
}

// CystLook is the reading of a lab that looks for cysts and counts no eggs. It
// is taken as it is: no number of eggs is made up from a number of cysts,
// because a cyst holds anything from 50 to 500 (Niblack and Donald).
func CystLook(seen bool) Reading {
	return Reading{Basis: CystsOnly, CystSeen: seen}
}

// Seen reports whether anything at all was seen: eggs, a cyst or juveniles.
func (r Reading) Seen() bool {
	return r.Eggs > 0 || r.Density > 0 || r.CystSeen || r.JuvenilesSeen
}
