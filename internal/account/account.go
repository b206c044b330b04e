// Package account says who works in the office and what each may do. Growers
// have no account, ever.
package account

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"io"

	"sixmile/internal/place"
)

// Role is a person's work in the program.
type Role string

// The four roles.
const (
	Clerk       Role = "clerk"       // the counter of one county's office
	Technician  Role = "technician"  // the lab
	Educator    Role = "educator"    // named counties' meetings
	Coordinator Role = "coordinator" // the whole program
)

// Roles lists them all.
var Roles = []Role{Clerk, Technician, Educator, Coordinator}

// Action is something a page does. Every route names one; Anyone is said, never implied.
type Action string

// What pages do.
const (
	Anyone       Action = "anyone"        // public pages
	OwnAccount   Action = "own-account"   // one's own password, second step and sessions
	SignedIn     Action = "signed-in"     // the desk
	HandOut      Action = "hand-out"      // give bundles to growers at the counter
	PrintAnswer  Action = "print-answer"  // print an answer for the grower at the counter
	LogBags      Action = "log-bags"      // note that soil has come in
	KeyCounts    Action = "key-counts"    // enter and correct counts
	IssueBags    Action = "issue-bags"    // make lots of codes and their sheets
	SeeWaiting   Action = "see-waiting"   // figures not for release
	LoadPast     Action = "load-past"     // take in results of years before the program
	Release      Action = "release"       // preview and release editions
	SignOff      Action = "sign-off"      // sign results, so that senders and maps get them
	KeepRecipes  Action = "keep-recipes"  // add methods, say how trays are filled
	SeeEdge      Action = "see-edge"      // where finds meet none found, from released figures
	PlanBags     Action = "plan-bags"     // plan the next season's bags, look back on the last plan
	MakeAnnual   Action = "make-annual"   // the annual summary: the office's and the sponsors' copies
	KeepMoney    Action = "keep-money"    // prices, budgets and what the season comes to
	OwnSheets    Action = "own-sheets"    // published maps with the office's own title
	SettleBags   Action = "settle-bags"   // unknown, used and doubled codes
	KeepGround   Action = "keep-ground"   // boundaries and reference layers
	ManagePeople Action = "manage-people" // invite, change, close, end sessions
	SeeTrail     Action = "see-trail"     // what staff did
)

// ID is a member of staff's random number.
type ID [16]byte

// Staff is one person of the office.
type Staff struct {
	ID       ID
	Login    string
	Name     string
	Role     Role
	Counties []place.ID // a clerk's one and an educator's; the others' work knows no county
	// Owes: the program asks everybody for a second step, and this person has not
	// set one up yet. Until then only the own account opens.
	Owes bool
}

// Token is what a signed-in browser holds. The server keeps only its hash.
type Token [32]byte

// ErrToken: not a session token of ours.
var ErrToken = errors.New("account: malformed session token")

// NewToken draws a token from r (crypto/rand.Reader).
func NewToken(r io.Reader) (Token, error) {
	var t Token
	_, err := io.ReadFull(r, t[:])
	return t, err
}

// ParseToken reads what String wrote.
func ParseToken(s string) (Token, error) {
	b, err := base64.RawURLEncoding.Strict().DecodeString(s)
	if err != nil || len(b) != len(Token{}) {
		return Token{}, ErrToken
	}
	return Token(b), nil
}

func (t Token) String() string { return base64.RawURLEncoding.EncodeToString(t[:]) }

// Hash is what the server keeps.
func (t Token) Hash() [32]byte { return sha256.Sum256(append([]byte("session "), t[:]...)) }
