// Package account says who works in the office and what each may do. Growers
// have no account, ever.
package account

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"io"
	"slices"

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
	Anyone     Action = "anyone"      // public pages
	SignedIn   Action = "signed-in"   // any member of staff
	LogBags    Action = "log-bags"    // note that soil has come in
	KeyCounts  Action = "key-counts"  // enter and correct counts
	IssueBags  Action = "issue-bags"  // make lots of codes and their sheets
	SeeWaiting Action = "see-waiting" // figures not for release
	Release    Action = "release"     // preview and release editions
	SettleBags Action = "settle-bags" // unknown, used and doubled codes
)

// Actions lists them all.
var Actions = []Action{Anyone, SignedIn, LogBags, KeyCounts, IssueBags, SeeWaiting, Release, SettleBags}

// duties is the whole policy: which roles may do what.
var duties = map[Action][]Role{
	SignedIn:   {Clerk, Technician, Educator, Coordinator},
	LogBags:    {Technician, Coordinator},
	KeyCounts:  {Technician, Coordinator},
	IssueBags:  {Coordinator},
	SeeWaiting: {Coordinator},
	Release:    {Coordinator},
	SettleBags: {Coordinator},
}

// Known tells whether a is an action of this program: a route with any other does not start.
func (a Action) Known() bool { return slices.Contains(Actions, a) }

// ID is a member of staff's random number.
type ID [16]byte

// Staff is one person of the office.
type Staff struct {
	ID       ID
	Login    string
	Name     string
	Role     Role
	Counties []place.ID // a clerk's and an educator's; empty for the whole program
}

// May tells whether the person may do a; a nil person is the public.
func (s *Staff) May(a Action) bool {
	if a == Anyone {
		return true
	}
	return s != nil && slices.Contains(duties[a], s.Role)
}

// MayIn is May for something that belongs to one county.
func (s *Staff) MayIn(a Action, county place.ID) bool {
	return s.May(a) && (a == Anyone || len(s.Counties) == 0 || slices.Contains(s.Counties, county))
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
