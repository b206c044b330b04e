package account

import (
	"crypto/hmac"
	"crypto/sha1" //nolint:gosec // RFC 6238's default, and what every authenticator app can do
	"crypto/subtle"
	"encoding/base32"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net/url"
	"strings"
	"time"
)

// The second step of a sign-in: a time-based one-time password as RFC 6238
// defines it, with the values that authenticator apps take without being told:
// HMAC-SHA-1, six digits, thirty seconds.
const (
	secondDigits = 6
	secondPeriod = 30 // seconds
	// secondDrift is how many steps a phone's clock may be off, either way: RFC
	// 6238 section 5.2 advises to allow one.
	secondDrift = 1
)

// Seed is what the person's phone and the server share: 160 bits, as RFC 4226
// section 4 recommends.
type Seed [20]byte

// ErrSeed: not a seed of ours.
var ErrSeed = errors.New("account: malformed second-step seed")

var plain32 = base32.StdEncoding.WithPadding(base32.NoPadding)

// NewSeed draws a seed from r (crypto/rand.Reader).
func NewSeed(r io.Reader) (Seed, error) {
	var s Seed
	_, err := io.ReadFull(r, s[:])
	return s, err
}

// ParseSeed reads what String wrote.
func ParseSeed(s string) (Seed, error) {
	b, err := plain32.DecodeString(s)
	if err != nil || len(b) != len(Seed{}) || len(s) != plain32.EncodedLen(len(b)) {
		return Seed{}, ErrSeed
	}
	return Seed(b), nil
}

func (s Seed) String() string { return plain32.EncodeToString(s[:]) }

// Address is what an authenticator app reads out of the square code.
func (s Seed) Address(program, login string) string {
	label := url.PathEscape(strings.ReplaceAll(program, ":", " ") + ":" + login)
	return "otpauth://totp/" + label + "?secret=" + s.String() + "&issuer=" + strings.ReplaceAll(url.QueryEscape(program), "+", "%20")
}

// Step is the number of the thirty seconds that t falls in.
func Step(t time.Time) int64 { return t.Unix() / secondPeriod }

// Code is the six digits of a step.
func (s Seed) Code(step int64) string { return oneTime(s[:], uint64(step), secondDigits) }

// Check finds the step that typed digits belong to. Steps up to last have been
// used before: a code opens once (RFC 6238 section 5.2).
func (s Seed) Check(typed string, now time.Time, last int64) (step int64, ok bool) {
	digits := strings.Join(strings.Fields(typed), "")
	at := Step(now)
	for n := at - secondDrift; n <= at+secondDrift; n++ {
		if subtle.ConstantTimeCompare([]byte(s.Code(n)), []byte(digits)) == 1 && n > last {
			step, ok = n, true
		}
	}
	return step, ok
}

// oneTime is the value of RFC 4226 section 5.3 for a counter.
func oneTime(key []byte, counter uint64, digits int) string {
	m := hmac.New(sha1.New, key)
	var msg [8]byte
	binary.BigEndian.PutUint64(msg[:], counter)
	m.Write(msg[:])
	sum := m.Sum(nil)
	offset := sum[len(sum)-1] & 0xf
	n := binary.BigEndian.Uint32(sum[offset:]) & 0x7fffffff
	most := uint32(1)
	for range digits {
		most *= 10
	}
	return fmt.Sprintf("%0*d", digits, n%most)
}
