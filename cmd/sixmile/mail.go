package main

import (
	"context"
	"errors"
	"fmt"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/mailer"
	"sixmile/internal/postgres"
	"sixmile/web/office"
)

// mailFlags say where the office's mail server is. Without a host no mail is
// sent, and no address is kept.
type mailFlags struct {
	Host     string `help:"Mail server (SMTP) for links to a new password; without it coordinators make them, and no address is kept." env:"SIXMILE_MAIL_HOST" placeholder:"HOST"`
	Port     int    `help:"Its port; the usual one where it is not given: 587, 465 for implicit TLS, 25 for none." env:"SIXMILE_MAIL_PORT" placeholder:"N"`
	User     string `help:"Who the server signs in as there, if it has to." env:"SIXMILE_MAIL_USER"`
	Password string `help:"Its password: better by the environment, where other users of the machine do not see it." env:"SIXMILE_MAIL_PASSWORD"`
	From     string `help:"Address that letters come from." env:"SIXMILE_MAIL_FROM" placeholder:"ADDRESS"`
	TLS      string `help:"How the way there is covered: starttls, implicit, or none, which goes to this machine itself alone." env:"SIXMILE_MAIL_TLS" name:"tls" enum:"starttls,implicit,none" default:"starttls"`
}

// open makes the mailer; nil where no mail is sent.
func (f mailFlags) open() (*mailer.Mailer, error) {
	if f.Host == "" {
		return nil, nil
	}
	return mailer.New(mailer.Settings{
		Host: f.Host, Port: f.Port, User: f.User, Password: f.Password,
		From: account.Address(f.From), Cover: mailer.Cover(f.TLS),
	})
}

// mailed gives the office its mail server, or takes away the addresses that
// nothing would be sent to.
func (s serveCommand) mailed(ctx context.Context, o *opened, at *site) error {
	m, err := s.Mail.open()
	switch {
	case err != nil:
		return err
	case s.Only == "public":
		return nil
	case m == nil:
		n, err := postgres.NewPeople(o.staff).ForgetAddresses(ctx)
		if n > 0 {
			at.Log.Info("no mail server is set: the addresses of staff are forgotten", "n", n)
		}
		return err
	case s.BaseURL == "":
		return errors.New("mail needs --base-url: the links in letters lead there, whatever address a browser asks for")
	}
	at.Mail = office.Mail(m)
	return nil
}

type mailCommand struct {
	Test mailTestCommand `cmd:"" help:"Send a letter to an address, to see whether mail works."`
}

type mailTestCommand struct {
	Address string    `arg:"" help:"Where to send it."`
	Name    string    `help:"Name of the program in the letter." default:"Sixmile"`
	Mail    mailFlags `embed:"" prefix:"mail-"`
}

// Run sends the letter, or says what the mail server said.
func (t mailTestCommand) Run(ctx context.Context, c console) error {
	to, err := account.ParseAddress(t.Address)
	if err != nil || to == "" {
		return errors.New("no address: write one plain address, such as desk@office.example")
	}
	m, err := t.Mail.open()
	if err != nil {
		return err
	}
	if m == nil {
		return errors.New("no mail server is set: give --mail-host and --mail-from, or SIXMILE_MAIL_HOST and SIXMILE_MAIL_FROM")
	}
	say := catalog.English()
	if err := m.Send(ctx, to, say.Say("mail.test.subject", "program", t.Name), say.Say("mail.test.text", "program", t.Name)+"\n"); err != nil {
		return fmt.Errorf("%w: %s", err, mailer.Behind(err))
	}
	fmt.Fprintln(c.out, "The mail server has taken the letter. Look whether it arrives.")
	return nil
}
