package assay

import "slices"

// Correction is why a result takes the place of an earlier one. The list is
// closed: a free text would be a place for a name.
type Correction string

// The reasons, in the order a form offers them.
const (
	LookedAgain   Correction = "looked_again"   // more of the same suspension, added up
	WashedAgain   Correction = "washed_again"   // another scoop of the same bag
	Mistyped      Correction = "mistyped"       // the figure keyed was not the figure counted
	WrongAmounts  Correction = "wrong_amounts"  // soil, suspension or aliquot were others
	WrongMethod   Correction = "wrong_method"   // counted by another recipe than named
	WrongBag      Correction = "wrong_bag"      // keyed to another bag, or two cups changed places
	CystOverlook  Correction = "cyst_overlook"  // a cyst or juveniles noted wrongly
	LabCorrected  Correction = "lab_corrected"  // the lab that reported it changed its report
	ControlFailed Correction = "control_failed" // a blank or check sample of its tray failed
)

// Corrections lists the reasons.
func Corrections() []Correction {
	return []Correction{LookedAgain, WashedAgain, Mistyped, WrongAmounts, WrongMethod, WrongBag, CystOverlook, LabCorrected, ControlFailed}
}

// ParseCorrection reads a reason's key. Its error is Missing or Unknown.
func ParseCorrection(key string) (Correction, error) {
	if key == "" {
		return "", Missing
	}
	if c := Correction(key); slices.Contains(Corrections(), c) {
		return c, nil
	}
	return "", Unknown
}
