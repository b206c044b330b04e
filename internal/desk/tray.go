package desk

import (
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/place"
	"sixmile/internal/tray"
)

// TrayPlan is how a fall's trays are filled and watched.
type TrayPlan struct {
	Season int
	tray.Plan
	Target   assay.Density // of the check samples' soil; zero: not said
	KeepDays int           // how long a suspension is kept after its count
	Recounts int           // asked for in one day at the most
	Seated   int           // bags that have a cup
}

// Trays is how many trays have something in them.
func (p TrayPlan) Trays() int {
	if p.Seated == 0 || p.PerTray() < 1 {
		return 0
	}
	return (p.Seated-1)/p.PerTray() + 1
}

// Cup is one cup of a tray.
type Cup struct {
	No      int
	Kind    tray.Kind
	Code    bag.Code  // of a sample; empty: still free
	State   bag.State // of a sample
	Control *Control  // of a blank or a check sample that was counted
}

// Control is a blank or a check sample that was counted.
type Control struct {
	Season, Tray, Cup int
	Kind              tray.Kind
	Method            assay.Method
	Eggs              int
	CystSeen          bool
	Density           assay.Density
	Day               time.Time
}

// Failed reports whether the control says that something went wrong in its tray
// by itself; check samples are judged on their chart.
func (c Control) Failed() bool { return c.Kind == tray.Blank && tray.BlankFails(c.Eggs, c.CystSeen) }

// Stray is soil that came and is no bag of the program's as it stands.
type Stray struct {
	ID   ID
	Day  time.Time
	Code bag.Code // empty: none to be read
	Kind StrayKind
}

// StrayKind is what is odd about soil that came.
type StrayKind string

// The kinds.
const (
	StrayUnknown    StrayKind = "unknown"    // a code nobody issued
	StrayVoid       StrayKind = "void"       // a bag that was set aside for good
	StrayUnreadable StrayKind = "unreadable" // no code to be read on bag or slip
	StrayNotOurs    StrayKind = "not_ours"   // from another state, or no bag of the program's
)

// Fate is what became of stray soil.
type Fate string

// The fates.
const (
	LaidAside Fate = "laid_aside"
	SentBack  Fate = "sent_back"
)

// Idle is a bag whose soil waits in the lab.
type Idle struct {
	Code      bag.Code
	Received  time.Time
	Seat      tray.Seat // zero: in no tray
	Condition tray.Condition
	HasForm   bool // a form, a slip or an assumption: it can be counted
}

// IdleOrder is the order in which waiting bags are listed.
type IdleOrder string

// The orders; what is none of them is IdleLongest.
const (
	IdleLongest IdleOrder = "" // without a form first, then longest
	IdleByCode  IdleOrder = "code"
	IdleBySeat  IdleOrder = "seat" // by tray and cup; those in no tray last
)

// LotLedger accounts for one lot's bags.
type LotLedger struct {
	Lot    ID
	County place.ID
	Season int
	tray.Ledger
}

// TrayLine is a tray in the list of trays.
type TrayLine struct {
	No, Bags, Counted int
	Blanks, Checks    []Control // that were counted
}

// Fresh is a count whose suspension still stands.
type Fresh struct {
	Code    bag.Code
	Day     time.Time // of the count
	Seat    tray.Seat
	Reading assay.Reading
}
