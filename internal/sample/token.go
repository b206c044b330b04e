package sample

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"io"

	"sixmile/internal/bag"
)

// Token belongs to one showing of the form: the browser sends it back, so that
// a form sent twice is stored once. 128 random bits; the server stores only its
// hash.
type Token [16]byte

// Secret opens one answer. It is derived from the visit's token and the bag's
// code, so that the same form sent again gets the same links without the server
// having kept them. 128 bits; the server stores only its hash.
type Secret [16]byte

// ErrToken: not a token or secret of ours.
var ErrToken = errors.New("sample: malformed token")

// NewToken draws a token from r (crypto/rand.Reader).
func NewToken(r io.Reader) (Token, error) {
	var t Token
	_, err := io.ReadFull(r, t[:])
	return t, err
}

// ParseToken reads what String wrote.
func ParseToken(s string) (Token, error) {
	b, err := parse16(s)
	return Token(b), err
}

// ParseSecret reads what String wrote.
func ParseSecret(s string) (Secret, error) {
	b, err := parse16(s)
	return Secret(b), err
}

func parse16(s string) (out [16]byte, err error) {
	if len(s) != 22 {
		return out, ErrToken
	}
	b, err := base64.RawURLEncoding.Strict().DecodeString(s)
	if err != nil || len(b) != 16 {
		return out, ErrToken
	}
	return [16]byte(b), nil
}

func (t Token) String() string { return base64.RawURLEncoding.EncodeToString(t[:]) }

func (s Secret) String() string { return base64.RawURLEncoding.EncodeToString(s[:]) }

// Hash is what the server keeps of a token.
func (t Token) Hash() [32]byte { return sha256.Sum256(append([]byte("visit "), t[:]...)) }

// Hash is what the server keeps of a secret.
func (s Secret) Hash() [32]byte { return sha256.Sum256(append([]byte("answer "), s[:]...)) }

// Secret derives the answer's secret of one bag of this visit.
func (t Token) Secret(c bag.Code) Secret {
	m := hmac.New(sha256.New, t[:])
	m.Write([]byte("answer of bag " + string(c)))
	return Secret(m.Sum(nil)[:16])
}
