package mailer

import (
	"crypto/rand"
	"crypto/tls"
	"strings"
	"unicode"

	"github.com/wneessen/go-mail"

	"sixmile/internal/account"
)

// client is made anew for every conversation: a kept one may have died.
func (m *Mailer) client() (*mail.Client, error) {
	s := m.s
	options := []mail.Option{
		mail.WithPort(s.Port), mail.WithTimeout(within),
		mail.WithTLSConfig(&tls.Config{ServerName: s.Host, MinVersion: tls.VersionTLS12, RootCAs: s.Roots}),
	}
	switch s.Cover {
	case StartTLS:
		options = append(options, mail.WithTLSPolicy(mail.TLSMandatory))
	case Implicit:
		options = append(options, mail.WithSSL())
	case Bare:
		options = append(options, mail.WithTLSPolicy(mail.NoTLS))
	}
	if s.User != "" {
		how := mail.SMTPAuthAutoDiscover
		if s.Cover == Bare {
			how = mail.SMTPAuthPlainNoEnc // to the machine itself
		}
		options = append(options, mail.WithSMTPAuth(how), mail.WithUsername(s.User), mail.WithPassword(s.Password))
	}
	return mail.NewClient(s.Host, options...)
}

// letter is plain text for one person. Its number says nothing of this machine,
// and it says that no person wrote it (RFC 3834), so that nobody's absence answers.
func (m *Mailer) letter(to account.Address, subject, text string) (*mail.Msg, error) {
	to, err := account.ParseAddress(string(to))
	if err != nil {
		return nil, err
	}
	if to == "" {
		return nil, account.ErrAddress
	}
	msg := mail.NewMsg(mail.WithNoDefaultUserAgent())
	if err := msg.From(string(m.s.From)); err != nil {
		return nil, err
	}
	if err := msg.To(string(to)); err != nil {
		return nil, err
	}
	_, domain, _ := strings.Cut(string(m.s.From), "@")
	msg.Subject(oneLine(subject))
	msg.SetMessageIDWithValue(rand.Text() + "@" + domain)
	msg.SetGenHeader("Auto-Submitted", "auto-generated")
	msg.SetDate()
	msg.SetBodyString(mail.TypeTextPlain, text)
	return msg, nil
}

// oneLine makes a header of what may hold a program's name: no line can end in it.
func oneLine(s string) string {
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool {
		return unicode.IsControl(r) || unicode.IsSpace(r) || r == '\u2028' || r == '\u2029'
	}), " ")
}
