// Package bag holds what a sample bag is before anything is known about the
// soil in it: its code, the bundle it was sealed in, and how far it has come.
package bag

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
)

// Alphabet is the 31 digits and letters a code is drawn from. 0 and O, and 1,
// I and L, are left out: they are read alike on a label and sound alike on the
// phone.
const Alphabet = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"

const (
	bodyLength = 7

	// Length is the number of digits and letters in a code: seven drawn at
	// random and one check character.
	Length = bodyLength + 1
)

// Code is a bag's code in its one canonical form: upper case, eight
// characters, no separators, check character last. Parse and Draw are the only
// makers of codes; string(c) is what is stored and compared, c.String() is for
// print.
type Code string

// String writes the code the way labels show it, in two groups of four.
func (c Code) String() string {
	if len(c) != Length {
		return string(c)
	}
	return string(c[:Length/2]) + "-" + string(c[Length/2:])
}

// Reason says what is wrong with a code somebody typed.
type Reason string

// The reasons a code is refused, in the order they are looked for.
const (
	Empty       Reason = "empty"  // nothing but separators
	WrongLength Reason = "length" // not eight characters
	Letter      Reason = "letter" // a character that no code contains
	Check       Reason = "check"  // well formed, but the check character disagrees
)

// ParseError is the answer to a code that cannot be right. It carries enough
// for a page to say so in any language, and never the code itself.
type ParseError struct {
	Reason Reason
	Count  int  // characters found, separators left out; for WrongLength
	Letter rune // the offending character, upper case; for Letter
	Place  int  // its place counted from 1, separators left out; for Letter
}

// LookAlike reports whether the offending character is one of 0, O, 1, I and
// L, which are left out of codes on purpose, so that the answer can say so.
func (e *ParseError) LookAlike() bool {
	return e.Reason == Letter && strings.ContainsRune("0O1IL", e.Letter)
}

func (e *ParseError) Error() string {
	switch {
	case e.Reason == Empty:
		return "bag code is empty"
	case e.Reason == WrongLength:
		return fmt.Sprintf("bag code has %d characters, not %d", e.Count, Length)
	case e.LookAlike():
		return fmt.Sprintf("character %d of the bag code is %q, but codes never contain 0, O, 1, I or L", e.Place, e.Letter)
	case e.Reason == Letter:
		return fmt.Sprintf("character %d of the bag code is %q, which no code contains", e.Place, e.Letter)
	default:
		return "bag code does not agree with its check character: one character is wrong or two are swapped"
	}
}

// Parse reads a code as people type, paste or scan it: any case, and with
// spaces, hyphens, dashes, dots, slashes or underscores anywhere. A failure is
// always a *ParseError.
//
// A look-alike is refused with a hint and not replaced: 0 may be a misread Q
// as well as a misread D, and a wrong guess would hand one grower another
// grower's bag.
func Parse(s string) (Code, error) {
	var kept [Length]byte
	count, bad := 0, (*ParseError)(nil)
	for _, r := range s {
		if separator(r) {
			continue
		}
		if 'a' <= r && r <= 'z' {
			r -= 'a' - 'A'
		}
		if bad == nil && !strings.ContainsRune(Alphabet, r) {
			bad = &ParseError{Reason: Letter, Letter: r, Place: count + 1}
		}
		if count < Length && bad == nil {
			kept[count] = byte(r)
		}
		count++
	}
	switch {
	case count == 0:
		return "", &ParseError{Reason: Empty}
	case count != Length:
		return "", &ParseError{Reason: WrongLength, Count: count}
	case bad != nil:
		return "", bad
	}
	code := string(kept[:])
	if want, err := check37(code[:bodyLength]); err != nil || want != code[bodyLength] {
		return "", &ParseError{Reason: Check}
	}
	return Code(code), nil
}

// separator reports characters that carry nothing: what people put between
// groups, and the invisible ones that pasting and scanning bring along.
func separator(r rune) bool {
	return unicode.IsSpace(r) || unicode.In(r, unicode.Pd, unicode.Cf) || strings.ContainsRune("._/", r)
}

// ErrSource is returned by Draw when the source of randomness gives nothing
// that can be used, which a working one does less than once in 10^100 calls.
var ErrSource = errors.New("random source gives no usable letters")

// maxDrawBytes bounds what Draw reads; a code takes about nine bytes.
const maxDrawBytes = 4096

// Draw makes a new code from a source of random bytes, crypto/rand in real
// work. All seven characters of the body are uniform over Alphabet; a body
// whose check character would be a look-alike or the star of ISO 7064 is
// thrown away and drawn again, so every printed code is made of Alphabet alone
// (31 in 37 bodies stay: about 23 thousand million codes).
//
// That a code is new is for the database to say: a code knows nothing of the
// others.
func Draw(r io.Reader) (Code, error) {
	var body [bodyLength]byte
	have := 0
	one := make([]byte, 1)
	for range maxDrawBytes {
		if _, err := io.ReadFull(r, one); err != nil {
			return "", fmt.Errorf("draw a bag code: %w", err)
		}
		letter, ok := letterOf(one[0])
		if !ok {
			continue
		}
		body[have] = letter
		have++
		if have < bodyLength {
			continue
		}
		have = 0
		check, err := check37(string(body[:]))
		if err != nil {
			return "", fmt.Errorf("draw a bag code: %w", err)
		}
		if strings.IndexByte(Alphabet, check) >= 0 {
			return Code(append(body[:], check)), nil
		}
	}
	return "", fmt.Errorf("draw a bag code: %w", ErrSource)
}

// letterOf maps a random byte to the alphabet. The last eight byte values have
// no letter: 248 is the largest multiple of 31 in a byte, and taking them too
// would favor the first letters.
func letterOf(b byte) (letter byte, ok bool) {
	const usable = 256 / len(Alphabet) * len(Alphabet)
	if int(b) >= usable {
		return 0, false
	}
	return Alphabet[int(b)%len(Alphabet)], true
}
