package desk

import (
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/place"
)

// Keyed is a result on its way to the store.
type Keyed struct {
	Code   bag.Code
	Method assay.Method
	Count  assay.Count  // a count, where Report has no unit
	Report assay.Report // a density as a lab gave it
	// Replaces is the result that its keyer saw, zero for none; Why is given with
	// it and never without.
	Replaces ID
	Why      assay.Correction
	Day      time.Time
}

// Reading is what the keyed figures come to. The error is assay's.
func (k Keyed) Reading() (assay.Reading, error) {
	if k.Report.Unit != 0 {
		return k.Report.Reading()
	}
	return k.Count.Density(k.Method)
}

// Unsigned is a result that waits for a coordinator's signature.
type Unsigned struct {
	Result  ID
	Code    bag.Code
	Place   place.ID // a township, or the county alone
	County  place.ID
	Day     time.Time // of the count
	Reading assay.Reading
	Method  assay.Method
	Why     assay.Correction // empty: the first result of its bag
	Before  bool             // an earlier result of the bag was signed: its sender has read it
	Held    []Hold           // reasons for a look before it is signed
}

// Hold is why a result is looked at by itself before it is signed.
type Hold string

// The holds.
const (
	FirstInTownship Hold = "first_in_township" // nothing signed was ever found there
	FirstInCounty   Hold = "first_in_county"
	ControlFailed   Hold = "control_failed" // the blank of its tray held eggs
)

// Batch is what a coordinator signed at one go.
type Batch struct {
	ID          ID
	Day         time.Time
	By          string // the login; empty for the command line
	Bags        int
	Unconfirmed int // without a follow-up bag yet
}

// Signed is a signed result as its slip says it: never where it is from but for
// the county.
type Signed struct {
	Code    bag.Code
	County  place.ID
	Season  int
	Reading assay.Reading
	Method  assay.Method
	Changed bool // an earlier figure was signed before
	Follow  bag.Code
	Sample  ID
}
