package account

import (
	"time"

	"sixmile/internal/place"
)

// Deed is what a line of the trail says was done. The catalog has a sentence
// for each under "trail.deed.".
type Deed string

// The deeds. Those under "noted by the database" are written by triggers
// beside the change itself, whoever makes it.
const (
	DidAdd          Deed = "add" // added somebody with a password
	DidInvite       Deed = "invite"
	DidLink         Deed = "link"           // gave a new link
	DidJoin         Deed = "join"           // set a password by a link
	DidPassword     Deed = "password"       // changed the own password
	DidAddress      Deed = "address"        // set or removed a mail address; never which
	DidAskReset     Deed = "ask-reset"      // was sent a link to a new password by mail
	DidReset        Deed = "reset"          // set a password by it
	DidSecondOn     Deed = "second-on"      // set up a second step
	DidSecondOff    Deed = "second-off"     // removed it
	DidRecover      Deed = "recover"        // used a recovery code
	DidAssign       Deed = "assign"         // changed role or counties
	DidClose        Deed = "close"          // closed an account
	DidReopen       Deed = "reopen"         // and opened it again
	DidEndSessions  Deed = "end-sessions"   // ended somebody's sessions
	DidRequire      Deed = "require-second" // asked everybody for a second step
	DidRelax        Deed = "relax-second"   // or no longer
	DidHandOut      Deed = "hand-out"
	DidTakeBack     Deed = "take-back"
	DidTie          Deed = "tie"
	DidPrint        Deed = "print"      // printed an answer
	DidPrintNothing Deed = "print-none" // asked for one and got none
	DidSign         Deed = "sign"       // signed results off
	DidUpload       Deed = "upload"     // took in a file of counts
	DidFollow       Deed = "follow-up"  // issued follow-up bags
	DidLayer        Deed = "layer"      // laid a reference layer on the maps, changed or removed one
	DidHistory      Deed = "history"    // took in a file of past results

	// Noted by the database.
	DidLot        Deed = "lot"
	DidSoilIn     Deed = "soil-in"
	DidCount      Deed = "count"
	DidRecount    Deed = "recount"
	DidSettle     Deed = "settle"
	DidRelease    Deed = "release"
	DidWithdraw   Deed = "withdraw"
	DidRecall     Deed = "recall"  // took back a group of results
	DidErratum    Deed = "erratum" // released one
	DidRestate    Deed = "restate" // put another level table in force
	DidUnlink     Deed = "unlink"  // a season was unlinked
	DidProgram    Deed = "program"
	DidSeason     Deed = "season"
	DidOffice     Deed = "office"
	DidBoundaries Deed = "boundaries"
	DidScheme     Deed = "scheme"
	DidMethod     Deed = "method"
	DidRules      Deed = "rules"
	DidPlan       Deed = "plan"    // saved a plan of the next season's bags
	DidAnnual     Deed = "annual"  // made a copy of the annual summary
	DidPrice      Deed = "price"   // set what bags cost
	DidBudget     Deed = "budget"  // set what a sponsor gives
	DidOutlook    Deed = "outlook" // added a look-ahead's figures
)

// Deeds lists them all in the order of the page's filter.
var Deeds = []Deed{
	DidHandOut, DidTakeBack, DidTie, DidPrint, DidPrintNothing, DidSoilIn, DidCount, DidRecount, DidUpload, DidHistory, DidSign, DidFollow, DidSettle, DidLot, DidRelease, DidWithdraw, DidRecall, DidErratum, DidRestate, DidUnlink,
	DidAdd, DidInvite, DidLink, DidJoin, DidPassword, DidAddress, DidAskReset, DidReset, DidSecondOn, DidSecondOff, DidRecover, DidAssign, DidClose, DidReopen,
	DidEndSessions, DidRequire, DidRelax, DidProgram, DidSeason, DidOffice, DidBoundaries, DidLayer, DidScheme, DidMethod, DidRules, DidOutlook, DidPlan, DidPrice, DidBudget, DidAnnual,
}

// Detail is what a line of the trail may say beside the deed. There is no place
// in it for a bag, a sample or a sender.
type Detail struct {
	County  place.ID `json:"county,omitempty"`
	Season  int      `json:"season,omitempty"`
	Number  int      `json:"n,omitempty"`       // bags, bundles or sessions
	Edition int      `json:"edition,omitempty"` // its number
	Person  string   `json:"person,omitempty"`  // the login it was done to
	Role    Role     `json:"role,omitempty"`    // given
}

// Entry is a line of the trail.
type Entry struct {
	Day  time.Time
	Who  string // login; empty for the command line
	Deed Deed
	Detail
}

// Query picks lines of the trail. Zero values pick everything.
type Query struct {
	From, To time.Time
	Who      string // login
	Deed     Deed
	County   place.ID
}
