package desk

import (
	"time"

	"sixmile/internal/edition"
)

// RecallReason is why figures are taken back: a list, so that it can name nobody.
type RecallReason string

// The reasons.
const (
	WrongCount      RecallReason = "counting"   // a result was wrong
	WrongPlace      RecallReason = "places"     // bags came from elsewhere
	WrongGrouping   RecallReason = "grouping"   // senders turned out to be one farm
	WrongBoundaries RecallReason = "boundaries" // the places themselves were wrong
	OtherWrong      RecallReason = "other"
)

// RecallReasons lists them in the order of the form.
var RecallReasons = []RecallReason{WrongCount, WrongPlace, WrongGrouping, WrongBoundaries, OtherWrong}

// Group is a tranche as the office looks at it to take it back, or to see why it
// has not come out again. All of it is public but the last two fields.
type Group struct {
	edition.Tranche // as it was last published
	Released        time.Time
	Scheme          int // the level table of that
	Recalled        bool
	Reason          RecallReason
	Day             time.Time // of the recall
	// Ready: an erratum may bring it out again at once. Else Why it stays away.
	Ready bool
	Why   edition.Reason
}

// Again is what an erratum or a restatement would publish.
type Again struct {
	Number int // the edition it would be
	Kind   edition.MetaKind
	Groups []Group // that would be counted again
	Coarse int     // groups that would show none, unconfirmed and found only
	Stamp  string
	Audit  []string // what an outsider could work out; then it cannot be released
	Day    time.Time
	Level  string // title of the level table
}

// Unlinked is what unlinking took, or would take.
type Unlinked struct {
	Seasons []int // closed long enough ago
	Samples int   // released samples whose bag, sender and answer are forgotten
	Keys    int   // answer links and stubs
	Bundles int   // bundles that no longer know their sender
	Codes   int   // bag codes that have expired
	Visits  int   // form visits forgotten
}
