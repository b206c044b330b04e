package gazette

import (
	"math"

	"sixmile/internal/assay"
)

// Missed is the density at which a bag shows no egg one time in twenty, from bag
// to slide, by the least sensitive of the lab's methods
// (assay.Method.MissedOneInTwenty): what "none found" is worth. False where no
// method is known. Which method a tranche was counted by is not told, so it is
// the most that may have been missed.
func (x *Index) Missed() (assay.Density, bool) {
	var most assay.Density
	for _, m := range x.Issue.Methods {
		if d := m.MissedOneInTwenty(); d > most { // never of a method without one: NaN
			most = d
		}
	}
	return most, most > 0
}

// Rounded is a positive density to two significant figures, for "about 470": it
// rests on eggs per cyst, which are known no better. Under ten it is whole.
func Rounded(d assay.Density) int {
	step := math.Pow(10, math.Max(0, math.Floor(math.Log10(float64(d)))-1))
	return int(math.Round(float64(d)/step) * step)
}
