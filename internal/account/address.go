package account

import (
	"errors"
	"regexp"
	"strings"
	"time"
)

// Address is where mail reaches a member of staff. It is personal: its owner and
// coordinators see it, nobody else, and no log, no number and no line of the
// trail has it. The zero value is none.
type Address string

// ErrAddress: not an address that mail of ours is sent to.
var ErrAddress = errors.New("account: malformed mail address")

const (
	// ResetWithin is how long a link that was sent by mail may be used.
	ResetWithin = 30 * time.Minute
	// ResetsADay is how many such links a person is sent a day at most, so that
	// nobody's mailbox can be flooded.
	ResetsADay = 5
)

// The lengths of RFC 5321 section 4.5.3.1 and, for the whole, the path of 256
// octets less its brackets.
const (
	longestLocal   = 64
	longestAddress = 254
)

// addressShape is dot-atom "@" domain of RFC 5321 section 4.1.2 in plain ASCII,
// with two labels of letters, digits and hyphens or more. Quoted names, comments,
// bare numbers and other alphabets are lawful and not taken: nothing that a header
// or a command could be ended with is in here.
var addressShape = regexp.MustCompile("^[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+(\\.[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+)*" +
	`@([A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?\.)+[A-Za-z]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?$`)

// ParseAddress reads what somebody typed; nothing at all is no address.
func ParseAddress(s string) (Address, error) {
	s = strings.Trim(s, " ")
	if s == "" {
		return "", nil
	}
	local, domain, _ := strings.Cut(s, "@")
	if len(s) > longestAddress || len(local) > longestLocal || !addressShape.MatchString(s) {
		return "", ErrAddress
	}
	return Address(local + "@" + strings.ToLower(domain)), nil
}
