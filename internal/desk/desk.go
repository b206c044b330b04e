// Package desk holds what the office sees at its desk: lots of bags, codes that
// need a person, a bag under the microscope, and the program's own notices.
// Stores fill these in and pages show them; nothing here is a rule.
package desk

import (
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// About names the program.
type About struct {
	Name, State string
	Invented    bool // the demo: every page says so
}

// Office is where a county hands out bags and takes them back.
type Office struct {
	County                  place.ID
	Address, Hours, DropOff string
	LastDay                 *time.Time
}

// ID is the random number of a lot, a result or a queue item; zero for none.
type ID [16]byte

// Lot is a number of bags issued to a county for a season.
type Lot struct {
	ID      ID
	County  place.ID
	Season  int
	Issued  time.Time
	Bags    int
	Bundles int
	FormsIn int
	SoilIn  int
	Counted int
	Voided  int
}

// QueueItem is a code on a form that needs a person: no bag has it, or two forms
// claim it.
type QueueItem struct {
	ID     ID
	Code   bag.Code
	Reason string // unknown, used, doubled, void
	Day    time.Time
	County place.ID
}

// LabBag is what the lab sees of a bag: never where it is from.
type LabBag struct {
	Code     bag.Code
	State    bag.State
	HasForm  bool
	Received *time.Time
	Assumed  bool // neither form nor slip came: the county of its lot stands for the place
	Head     ID   // the result that stands now
	Signed   bool // and is signed
	Method   assay.Method
	Count    assay.Count
	Reading  assay.Reading
}

// Progress is how far a season's bags have come. Ready have soil and form and
// no count yet; NoForm have soil and no form; Unsigned are counted, and nobody has
// signed the count.
type Progress struct {
	Issued, FormIn, SoilIn, Counted, Ready, NoForm, Unsigned int
}

// Preview is what an edition would show if it were released now, and what waits
// on. It is for the office only.
type Preview struct {
	Number  int    // the edition it would be
	Levels  string // title of the level table that it would be by
	Season  int    // the latest fall in it
	Cutoff  time.Time
	Day     time.Time
	NextDay time.Time // the first day on which it may be released
	Drafts  []edition.Draft
	Waiting []edition.Lack
	// FirstShown are townships that get figures of their own for the first time,
	// Changed those that have some already.
	FirstShown, Changed []place.ID
	// Stamp is a digest of what was shown: a release that would differ is refused.
	Stamp string
	// Audit is what an outsider could work out from the edition and those before
	// it, each finding after the name of its attack. Empty: nothing. With
	// findings it cannot be released.
	Audit []string
}
