package desk

import (
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/tray"
)

// History is everything that happened to one bag, as the office may know it:
// never where it is from or who sent it.
type History struct {
	Code      bag.Code
	State     bag.State
	Season    int
	Issued    time.Time
	Received  *time.Time
	Condition tray.Condition // empty: not said
	Seat      tray.Seat      // zero: in no tray
	Source    Source
	Results   []Standing // first to last
	Twins     []Twin
	Claims    []Claim
	FollowUp  bag.Code // issued because of this bag's result; empty for none
	Follows   bag.Code // the bag whose result this one follows; empty for none
}

// Source is how the place of a bag is known.
type Source string

// The sources. NoSource: nothing has come for it.
const (
	NoSource Source = ""
	ByForm   Source = "form"
	BySlip   Source = "slip"
	Assumed  Source = "assumed" // of its lot's county
)

// Standing is one result of a bag.
type Standing struct {
	ID      ID
	Day     time.Time
	By      string // login; empty for the command line
	Reading assay.Reading
	Count   assay.Count
	Method  assay.Method
	Why     assay.Correction // empty: the first
	Signed  *time.Time
	Stands  bool
}

// Twin is a second count of a bag that watches the lab, with the result it was
// made beside.
type Twin struct {
	Day    time.Time
	Kind   assay.Twin
	Code   bag.Code
	First  assay.Count
	Second assay.Count
	Method assay.Method
}

// Claim is a form that claimed the bag beside the one that holds it.
type Claim struct {
	Day     time.Time
	Reason  string
	Settled *time.Time
}
