package mailer

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"io"
	"math/big"
	"mime"
	"net"
	"net/mail"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/mailer/mailtest"
)

// certificate is one for 127.0.0.1 that signs itself.
func certificate(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	in := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageDigitalSignature}
	der, err := x509.CreateCertificate(rand.Reader, in, in, &key.PublicKey, key)
	require.NoError(t, err)
	cert, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(cert)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}, roots
}

func server(t *testing.T, o mailtest.Options) *mailtest.Server {
	t.Helper()
	s, err := mailtest.Start(o)
	require.NoError(t, err)
	t.Cleanup(s.Close)
	return s
}

// The letter as the standard library reads it (net/mail, RFC 5322), over each
// way to a server.
func TestALetterArrives(t *testing.T) {
	conf, roots := certificate(t)
	for name, c := range map[string]struct {
		o     mailtest.Options
		cover Cover
		roots *x509.CertPool
	}{
		"on the machine":         {mailtest.Options{}, Bare, nil},
		"there, with a name":     {mailtest.Options{User: "office", Password: "secret"}, Bare, nil},
		"STARTTLS":               {mailtest.Options{TLS: conf, User: "office", Password: "secret"}, StartTLS, roots},
		"TLS from the first":     {mailtest.Options{TLS: conf, Implicit: true, User: "office", Password: "secret"}, Implicit, roots},
		"TLS, nobody in special": {mailtest.Options{TLS: conf}, StartTLS, roots},
	} {
		t.Run(name, func(t *testing.T) {
			s := server(t, c.o)
			m, err := New(Settings{Host: "127.0.0.1", Port: s.Port(), User: c.o.User, Password: c.o.Password, From: "office@soil.example", Cover: c.cover, Roots: c.roots})
			require.NoError(t, err)
			require.NoError(t, m.Ready(t.Context()))
			require.NoError(t, m.Send(t.Context(), "robin@office.example", "Soil Watch ½: a link", "Dear Robin,\n\n.one dot\nhttps://soil.example/x\n"))
			require.Len(t, s.Letters(), 1)
			l := s.Letters()[0]
			require.Equal(t, "office@soil.example", l.From)
			require.Equal(t, "robin@office.example", l.To)
			require.Equal(t, c.cover != Bare, l.Covered)
			require.Equal(t, c.o.User, l.User)
			read, err := mail.ReadMessage(strings.NewReader(l.Text))
			require.NoError(t, err)
			require.Equal(t, "auto-generated", read.Header.Get("Auto-Submitted"))
			subject, err := new(mime.WordDecoder).DecodeHeader(read.Header.Get("Subject"))
			require.NoError(t, err)
			require.Equal(t, "Soil Watch ½: a link", subject)
			require.Regexp(t, `^<[A-Z0-9]+@soil\.example>$`, read.Header.Get("Message-ID"))
			require.Empty(t, read.Header.Get("User-Agent")+read.Header.Get("X-Mailer"))
			text, err := io.ReadAll(read.Body)
			require.NoError(t, err)
			require.Contains(t, string(text), "\r\n.one dot\r\nhttps://soil.example/x")
		})
	}
}

func TestWhatIsNotSafeIsRefused(t *testing.T) {
	conf, _ := certificate(t)
	for name, c := range map[string]struct {
		o     mailtest.Options
		cover Cover
		user  string
		want  error
	}{
		"a server without STARTTLS":        {mailtest.Options{}, StartTLS, "", ErrAway},
		"a certificate nobody answers for": {mailtest.Options{TLS: conf}, StartTLS, "", ErrAway},
		"the same from the first byte":     {mailtest.Options{TLS: conf, Implicit: true}, Implicit, "", ErrAway},
		"a wrong password":                 {mailtest.Options{User: "office", Password: "other"}, Bare, "office", ErrAway},
		"a mailbox that is none":           {mailtest.Options{Refuse: "550 5.1.1 <robin@office.example> no such mailbox"}, Bare, "", ErrRefused},
		"a server that wants to know who":  {mailtest.Options{User: "office", Password: "secret"}, Bare, "", ErrRefused},
	} {
		t.Run(name, func(t *testing.T) {
			s := server(t, c.o)
			password := ""
			if c.user != "" {
				password = "secret"
			}
			m, err := New(Settings{Host: "127.0.0.1", Port: s.Port(), User: c.user, Password: password, From: "office@soil.example", Cover: c.cover})
			require.NoError(t, err)
			err = m.Send(t.Context(), "robin@office.example", "s", "t")
			require.ErrorIs(t, err, c.want)
			require.NotContains(t, err.Error(), "robin")
			require.NotContains(t, err.Error(), "127.0.0.1")
			require.NotEmpty(t, Behind(err))
			require.NotContains(t, Behind(err), "secret")
			require.Empty(t, s.Letters())
		})
	}
}

// A name or an address with the end of a line in it makes no header, no second
// reader and no second letter.
func TestNothingIsSlippedIn(t *testing.T) {
	s := server(t, mailtest.Options{})
	m, err := New(Settings{Host: "127.0.0.1", Port: s.Port(), From: "office@soil.example", Cover: Bare})
	require.NoError(t, err)
	for _, to := range []account.Address{"", "robin@office.example\r\nBcc: x@other.example", "robin@office.example>\r\nRCPT TO:<x@other.example", "a@b.example,x@other.example"} {
		require.ErrorIs(t, m.Send(t.Context(), to, "s", "t"), ErrRefused, "%q", to)
	}
	require.Empty(t, s.Letters())
	require.NoError(t, m.Send(t.Context(), "robin@office.example", "Soil\r\nBcc: x@other.example\r\n\r\nWatch\u2028end", "a\r\n.\r\nMAIL FROM:<x@other.example>\r\n"))
	require.Len(t, s.Letters(), 1)
	read, err := mail.ReadMessage(strings.NewReader(s.Letters()[0].Text))
	require.NoError(t, err)
	require.Empty(t, read.Header.Get("Bcc"))
	require.Equal(t, "robin@office.example", s.Letters()[0].To)
	require.Equal(t, "Soil Bcc: x@other.example Watch end", read.Header.Get("Subject"))
}

func TestSettings(t *testing.T) {
	good := Settings{Host: "mail.example", From: "office@soil.example", Cover: StartTLS}
	for port, cover := range map[int]Cover{587: StartTLS, 465: Implicit} {
		s := good
		s.Cover = cover
		m, err := New(s)
		require.NoError(t, err)
		require.Equal(t, port, m.s.Port)
	}
	for name, change := range map[string]func(*Settings){
		"no host":                    func(s *Settings) { s.Host = "" },
		"two lines":                  func(s *Settings) { s.Host = "mail.example\r\nx" },
		"bare to another machine":    func(s *Settings) { s.Cover = Bare },
		"bare to a name like it":     func(s *Settings) { s.Cover, s.Host = Bare, "localhost.example" },
		"no such cover":              func(s *Settings) { s.Cover = "maybe" },
		"no such port":               func(s *Settings) { s.Port = 70000 },
		"a user without a password":  func(s *Settings) { s.User = "office" },
		"from nobody":                func(s *Settings) { s.From = "" },
		"from a name and an address": func(s *Settings) { s.From = "Soil Watch <office@soil.example>" },
	} {
		s := good
		change(&s)
		_, err := New(s)
		require.ErrorIs(t, err, ErrSettings, name)
	}
}

// Whether the server is there is asked twice a minute at most, and said to
// everybody alike.
func TestReadyIsAskedNowAndThen(t *testing.T) {
	s := server(t, mailtest.Options{})
	m, err := New(Settings{Host: "127.0.0.1", Port: s.Port(), From: "office@soil.example", Cover: Bare})
	require.NoError(t, err)
	now := time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)
	m.now = func() time.Time { return now }
	for range 5 {
		require.NoError(t, m.Ready(t.Context()))
	}
	require.Equal(t, 1, s.Calls())
	s.Close()
	require.NoError(t, m.Ready(t.Context()), "believed for half a minute")
	now = now.Add(fresh + time.Second)
	require.ErrorIs(t, m.Ready(t.Context()), ErrAway)
	require.ErrorIs(t, m.Send(t.Context(), "robin@office.example", "s", "t"), ErrAway)
	gone, leave := context.WithCancel(t.Context())
	leave()
	now = now.Add(-time.Hour)
	require.ErrorIs(t, m.Ready(gone), ErrAway)
	require.NotEqual(t, now, m.asked, "a reader who left tells nothing")
}
