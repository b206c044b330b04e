// Package mailtest is a mail server on loopback for tests. It speaks what RFC
// 5321, 3207 and 4954 want of a short conversation, and keeps what it is given.
package mailtest

import (
	"bufio"
	"crypto/tls"
	"encoding/base64"
	"net"
	"strings"
	"sync"
)

// Letter is what was handed over: the envelope and the text of it.
type Letter struct {
	From, To string
	Text     string // lines end in CRLF
	Covered  bool   // it came by TLS
	User     string // who said who they are
}

// Options say what kind of server it is.
type Options struct {
	TLS      *tls.Config // nil: it has none
	Implicit bool        // TLS from the first byte
	User     string      // empty: it lets in anybody
	Password string
	Refuse   string // an answer to RCPT, such as "550 5.1.1 no such mailbox"; empty: it takes them
}

// Server is one that runs.
type Server struct {
	o       Options
	l       net.Listener
	mu      sync.Mutex
	letters []Letter
	calls   int
}

// Start listens on a free port of loopback.
func Start(o Options) (*Server, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	if o.Implicit {
		l = tls.NewListener(l, o.TLS)
	}
	s := &Server{o: o, l: l}
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go s.talk(c)
		}
	}()
	return s, nil
}

// Port is where it listens.
func (s *Server) Port() int { return s.l.Addr().(*net.TCPAddr).Port }

// Close ends it.
func (s *Server) Close() { _ = s.l.Close() }

// Letters are what came so far.
func (s *Server) Letters() []Letter {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Letter(nil), s.letters...)
}

// Calls is how many conversations were begun.
func (s *Server) Calls() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.calls
}

// talk is one conversation.
func (s *Server) talk(c net.Conn) {
	defer func() { _ = c.Close() }()
	s.mu.Lock()
	s.calls++
	s.mu.Unlock()
	in := bufio.NewReader(c)
	say := func(line string) { _, _ = c.Write([]byte(line + "\r\n")) }
	now := Letter{Covered: s.o.Implicit}
	say("220 mail.example ready")
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		line = strings.TrimRight(line, "\r\n")
		verb, rest, _ := strings.Cut(line, " ")
		switch strings.ToUpper(verb) {
		case "EHLO", "HELO":
			s.greet(say, now.Covered)
		case "STARTTLS":
			say("220 go ahead")
			t := tls.Server(c, s.o.TLS)
			if t.Handshake() != nil {
				return
			}
			c, in, now = t, bufio.NewReader(t), Letter{Covered: true}
		case "AUTH":
			_, word, _ := strings.Cut(rest, " ")
			raw, _ := base64.StdEncoding.DecodeString(word)
			parts := strings.Split(string(raw), "\x00")
			if len(parts) != 3 || parts[1] != s.o.User || parts[2] != s.o.Password {
				say("535 5.7.8 no")
				continue
			}
			now.User = parts[1]
			say("235 2.7.0 welcome")
		case "MAIL":
			if s.o.User != "" && now.User == "" {
				say("530 5.7.0 who are you")
				continue
			}
			now.From = between(rest)
			say("250 2.1.0 ok")
		case "RCPT":
			if s.o.Refuse != "" {
				say(s.o.Refuse)
				continue
			}
			now.To += between(rest)
			say("250 2.1.5 ok")
		case "DATA":
			say("354 go on")
			text, ok := body(in)
			if !ok {
				return
			}
			now.Text = text
			s.mu.Lock()
			s.letters = append(s.letters, now)
			s.mu.Unlock()
			now.From, now.To, now.Text = "", "", ""
			say("250 2.0.0 taken")
		case "QUIT":
			say("221 2.0.0 bye")
			return
		case "NOOP", "RSET":
			say("250 2.0.0 ok")
		default:
			say("502 5.5.1 what?")
		}
	}
}

func (s *Server) greet(say func(string), covered bool) {
	say("250-mail.example")
	if s.o.TLS != nil && !covered {
		say("250-STARTTLS")
	}
	if s.o.User != "" && (covered || s.o.TLS == nil) {
		say("250-AUTH PLAIN")
	}
	say("250 8BITMIME")
}

func between(s string) string {
	_, s, _ = strings.Cut(s, "<")
	s, _, _ = strings.Cut(s, ">")
	return s
}

// body reads to the line with a dot alone.
func body(in *bufio.Reader) (string, bool) {
	var b strings.Builder
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return "", false
		}
		if line == ".\r\n" {
			return b.String(), true
		}
		b.WriteString(strings.TrimPrefix(line, "."))
	}
}
