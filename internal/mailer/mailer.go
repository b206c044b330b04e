// Package mailer hands short plain letters to the office's own mail server. It
// never writes an address, a subject or a word of a letter into an error.
package mailer

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync"
	"time"
	"unicode"

	"sixmile/internal/account"
)

// Cover is how the way to the mail server is kept from being read.
type Cover string

// The covers.
const (
	StartTLS Cover = "starttls" // asked for after a greeting (RFC 3207); refused where the server has none
	Implicit Cover = "implicit" // from the first byte (RFC 8314)
	Bare     Cover = "none"     // none at all: only to a server on the machine itself
)

// Settings say where the mail server is.
type Settings struct {
	Host, User, Password string
	Port                 int // 0: the usual one of the cover: 587, 465, 25
	From                 account.Address
	Cover                Cover
	// Roots are whose certificates are trusted; nil: those of the system.
	Roots *x509.CertPool
}

// ErrSettings: mail cannot be set up like this. What wraps it says why.
var ErrSettings = errors.New("mail settings")

// Why a letter did not go, as far as may be told.
var (
	ErrAway    = errors.New("mailer: the mail server cannot be reached, or did not let us in")
	ErrRefused = errors.New("mailer: the mail server did not take the letter")
)

// failure is one of the two with what was behind it, which may name an address.
type failure struct {
	is     error
	behind error
}

func (f *failure) Error() string        { return f.is.Error() }
func (f *failure) Is(target error) bool { return target == f.is }

// Behind is what the mail server or the network said, for the eyes of whoever set
// mail up: it may name the address that a letter was meant for.
func Behind(err error) string {
	var f *failure
	if errors.As(err, &f) {
		return f.behind.Error()
	}
	return ""
}

const (
	// within bounds one conversation with the mail server.
	within = 10 * time.Second
	// fresh is how long it is believed to be there, or away, without asking again.
	fresh = 30 * time.Second
)

// Mailer sends letters, one connection each.
type Mailer struct {
	s     Settings
	now   func() time.Time
	mu    sync.Mutex
	asked time.Time
	last  error // what asking gave
}

// New makes a mailer. It asks the server nothing yet.
func New(s Settings) (*Mailer, error) {
	if s.Port == 0 {
		s.Port = map[Cover]int{StartTLS: 587, Implicit: 465, Bare: 25}[s.Cover]
	}
	switch {
	case s.Host == "" || strings.ContainsFunc(s.Host, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }):
		return nil, fmt.Errorf("%w: no host", ErrSettings)
	case s.Cover != StartTLS && s.Cover != Implicit && s.Cover != Bare:
		return nil, fmt.Errorf("%w: starttls, implicit or none?", ErrSettings)
	case s.Cover == Bare && !onMachine(s.Host):
		return nil, fmt.Errorf("%w: without TLS only to a server on this machine itself, such as 127.0.0.1", ErrSettings)
	case s.Port < 1 || s.Port > 65535:
		return nil, fmt.Errorf("%w: a port is 1 to 65535", ErrSettings)
	case (s.User == "") != (s.Password == ""):
		return nil, fmt.Errorf("%w: a user and a password, or neither", ErrSettings)
	}
	if a, err := account.ParseAddress(string(s.From)); err != nil || a == "" {
		return nil, fmt.Errorf("%w: from whom? one plain address", ErrSettings)
	}
	m := &Mailer{s: s, now: time.Now}
	_, err := m.client()
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrSettings, err)
	}
	return m, nil
}

// onMachine tells whether a host is this machine by a name nobody else can have.
func onMachine(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Ready tells whether the mail server is there and lets us in. It asks at most
// twice a minute, whoever wants to know: what is done for one person is no slower
// than for another. ErrAway otherwise.
func (m *Mailer) Ready(ctx context.Context) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if now := m.now(); m.asked.IsZero() || now.Sub(m.asked).Abs() > fresh {
		m.last = m.ask(ctx)
		if ctx.Err() != nil {
			return m.last // the reader left: that tells nothing of the server
		}
		m.asked = now
	}
	return m.last
}

func (m *Mailer) ask(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	c, err := m.client()
	if err == nil {
		err = c.DialWithContext(ctx)
	}
	if err != nil {
		return &failure{ErrAway, err}
	}
	_ = c.Close() // it was there
	return nil
}

// Send hands a letter over: a subject of one line, a text of plain lines.
func (m *Mailer) Send(ctx context.Context, to account.Address, subject, text string) error {
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	letter, err := m.letter(to, subject, text)
	if err != nil {
		return &failure{ErrRefused, err}
	}
	c, err := m.client()
	if err == nil {
		err = c.DialWithContext(ctx)
	}
	if err != nil {
		return &failure{ErrAway, err}
	}
	defer func() { _ = c.Close() }() // it has the letter, or has said no
	if err := c.Send(letter); err != nil {
		return &failure{ErrRefused, err}
	}
	return nil
}
