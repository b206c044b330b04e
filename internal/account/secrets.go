package account

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"io"
	"strings"
)

// Link opens the page on which an invited person sets a password: once, and
// until a day. 128 random bits; the server keeps only their hash.
type Link [16]byte

// ErrLink: not a link of ours.
var ErrLink = errors.New("account: malformed link")

const (
	// InviteDays is how long an invitation may be used.
	InviteDays = 14
	// ResetDays is how long a link to a new password may be used.
	ResetDays = 3
)

// NewLink draws a link from r (crypto/rand.Reader).
func NewLink(r io.Reader) (Link, error) {
	var l Link
	_, err := io.ReadFull(r, l[:])
	return l, err
}

// ParseLink reads what String wrote.
func ParseLink(s string) (Link, error) {
	if len(s) != 22 {
		return Link{}, ErrLink
	}
	b, err := base64.RawURLEncoding.Strict().DecodeString(s)
	if err != nil || len(b) != len(Link{}) {
		return Link{}, ErrLink
	}
	return Link(b), nil
}

func (l Link) String() string { return base64.RawURLEncoding.EncodeToString(l[:]) }

// Hash is what the server keeps.
func (l Link) Hash() [32]byte { return sha256.Sum256(append([]byte("link "), l[:]...)) }

// Recovery is a code for the day the phone is gone: it stands in for a second
// step, once. Eighty random bits, so that a plain hash keeps it.
type Recovery [10]byte

// Recoveries is how many a person gets at a time.
const Recoveries = 10

// ErrRecovery: not a recovery code.
var ErrRecovery = errors.New("account: malformed recovery code")

// NewRecoveries draws a person's codes from r (crypto/rand.Reader).
func NewRecoveries(r io.Reader) ([]Recovery, error) {
	out := make([]Recovery, Recoveries)
	for i := range out {
		if _, err := io.ReadFull(r, out[i][:]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// String writes it in four groups of four. Its letters and digits are those of
// RFC 4648 base 32, which has no 0, 1, 8 or 9.
func (c Recovery) String() string {
	s := plain32.EncodeToString(c[:])
	return s[:4] + "-" + s[4:8] + "-" + s[8:12] + "-" + s[12:]
}

// ParseRecovery reads what people type: any case, with or without hyphens and
// spaces. A zero can only be a letter O.
func ParseRecovery(s string) (Recovery, error) {
	s = strings.NewReplacer("-", "", " ", "", "0", "O").Replace(strings.ToUpper(strings.TrimSpace(s)))
	b, err := plain32.DecodeString(s)
	if err != nil || len(b) != len(Recovery{}) || len(s) != plain32.EncodedLen(len(b)) {
		return Recovery{}, ErrRecovery
	}
	return Recovery(b), nil
}

// Hash is what the server keeps.
func (c Recovery) Hash() [32]byte { return sha256.Sum256(append([]byte("recovery "), c[:]...)) }
