package account

import (
	"errors"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"sixmile/internal/fault"
	"sixmile/internal/place"
)

var (
	// ErrLastCoordinator: the change would leave nobody who can undo it.
	ErrLastCoordinator = errors.New("account: no other coordinator")
	// ErrTaken: somebody has this login already.
	ErrTaken = errors.New("account: login is taken")
)

// loginShape is what a login looks like. The database holds the same rule.
var loginShape = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{1,39}$`)

// IsLogin tells whether s can be anybody's login.
func IsLogin(s string) bool { return loginShape.MatchString(s) }

const longestName = 80

// NewStaff makes a person out of what was typed. The error is a *fault.Invalid
// with problems at login, name, role and counties.
func NewStaff(login, name string, role Role, counties []place.ID) (Staff, error) {
	p := Staff{Login: strings.ToLower(strings.TrimSpace(login)), Name: strings.TrimSpace(name)}
	var bad fault.Invalid
	if !IsLogin(p.Login) {
		bad.Add("login", "people.problem.login")
	}
	if n := utf8.RuneCountInString(p.Name); n == 0 || n > longestName || strings.ContainsFunc(p.Name, unicode.IsControl) || !utf8.ValidString(p.Name) {
		bad.Add("name", "people.problem.name", "most", longestName)
	}
	if err := p.Assign(role, counties); err != nil {
		var more *fault.Invalid
		if errors.As(err, &more) {
			for field, problem := range more.Fields {
				bad.Add(field, problem.Key, problem.Args...)
			}
		}
	}
	return p, bad.OrNil()
}

// Assign gives the person a role and its counties: one for a clerk, one or more
// for an educator, none for the others. The error is a *fault.Invalid.
func (s *Staff) Assign(role Role, counties []place.ID) error {
	var bad fault.Invalid
	counties = slices.Compact(slices.Sorted(slices.Values(counties)))
	switch {
	case !slices.Contains(Roles, role):
		bad.Add("role", "people.problem.role")
	case role == Clerk && len(counties) != 1:
		bad.Add("counties", "people.problem.clerk")
	case role == Educator && len(counties) == 0:
		bad.Add("counties", "people.problem.educator")
	}
	if bad.Fields != nil {
		return &bad
	}
	if role == Technician || role == Coordinator {
		counties = nil
	}
	s.Role, s.Counties = role, counties
	return nil
}

// Second is a person's second step as the server keeps it.
type Second struct {
	On    bool
	Seed  Seed
	Last  int64 // the step of the last code taken
	Codes int   // recovery codes left
}

// Session is a sign-in as its owner and coordinators see it: days only.
type Session struct {
	ID            [16]byte
	Created, Used time.Time
	Current       bool // the one that asks
}

// Person is a member of staff as coordinators see them.
type Person struct {
	Staff
	Active   bool
	Joined   bool // has a password
	Second   bool
	Link     *time.Time // last day of an unused link
	Sessions int
	LastUsed *time.Time // last day any session was used
}

// PasswordProblem names what is wrong with a new password: "length", "simple"
// (fewer than five different characters) or "login" (it is the login). Empty:
// nothing. Length is what counts; nobody has to mix kinds of characters.
func PasswordProblem(login, password string) string {
	const fewest = 5
	seen := map[rune]bool{}
	for _, r := range password {
		seen[r] = true
	}
	switch n := utf8.RuneCountInString(password); {
	case n < MinPassword || len(password) > maxPassword:
		return "length"
	case len(seen) < fewest:
		return "simple"
	case strings.EqualFold(strings.TrimSpace(password), login):
		return "login"
	}
	return ""
}
