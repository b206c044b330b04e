package office

import (
	"context"
	"crypto/rand"
	"errors"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/fault"
)

// Mail is the office's own mail server. Its errors name no address.
type Mail interface {
	// Ready tells whether it is there, the same for everybody.
	Ready(ctx context.Context) error
	Send(ctx context.Context, to account.Address, subject, text string) error
}

// Addresses is where mail reaches people.
type Addresses interface {
	// Address is empty where none is kept.
	Address(ctx context.Context, who account.ID) (account.Address, error)
	// SetAddress gives the one before.
	SetAddress(ctx context.Context, who account.ID, a account.Address, today time.Time) (before account.Address, err error)
}

// Resets are links to a new password that are sent by mail.
type Resets interface {
	// AskReset: fault.ErrNotFound when there is nobody to send one to.
	AskReset(ctx context.Context, login string, l account.Link, now, today time.Time) (account.Address, error)
	// ResetFor and Reset: fault.ErrNotFound for a link that opens nothing (any more).
	ResetFor(ctx context.Context, l account.Link, now time.Time) (account.Staff, error)
	Reset(ctx context.Context, l account.Link, passwordHash string, now, today time.Time) error
}

const (
	// mostLetters is how many letters are under way at once; more are not begun.
	mostLetters = 16
	letterTime  = 45 * time.Second
)

// aside does something after the answer is given, so that how long it takes tells
// the asker nothing. A letter that is lost when the server stops is asked for again.
func (o *office) aside(do func(ctx context.Context)) {
	select {
	case o.underWay <- struct{}{}:
	default:
		o.Log.Warn("mail is not keeping up; a letter was not begun")
		return
	}
	go func() {
		defer func() { <-o.underWay }()
		ctx, cancel := context.WithTimeout(context.Background(), letterTime)
		defer cancel()
		do(ctx)
	}()
}

// sendReset mails a new link, if there is somebody to mail it to.
func (o *office) sendReset(ctx context.Context, login string) {
	link, err := account.NewLink(rand.Reader)
	if err != nil {
		o.Log.Error("a link to a password", "error", err)
		return
	}
	to, err := o.Resets.AskReset(ctx, login, link, o.now(), o.Today())
	if errors.Is(err, fault.ErrNotFound) {
		return
	}
	if err != nil {
		o.Log.Error("a link to a password", "error", err)
		return
	}
	o.mail(ctx, to, o.Lang.Say("mail.reset.subject", "program", o.About.Name),
		o.Lang.Say("mail.reset.asked", "program", o.About.Name, "login", login),
		o.Lang.Say("mail.reset.link", "minutes", int(account.ResetWithin/time.Minute)),
		strings.TrimRight(o.BaseURL, "/")+"/office/reset/"+link.String(),
		o.Lang.Say("mail.reset.after"),
		o.Lang.Say("mail.reset.not"))
}

// tellChanged writes to somebody whose password was changed, in whatever way.
func (o *office) tellChanged(who account.ID, login string) {
	if o.Mail == nil {
		return
	}
	day := o.Lang.Date(o.Today())
	o.later(func(ctx context.Context) {
		to, err := o.Addresses.Address(ctx, who)
		if err != nil {
			o.Log.Error("a note of a new password", "error", err)
		}
		if err != nil || to == "" {
			return
		}
		o.mail(ctx, to, o.Lang.Say("mail.changed.subject", "program", o.About.Name),
			o.Lang.Say("mail.changed.what", "program", o.About.Name, "login", login, "day", day),
			o.Lang.Say("mail.changed.not"))
	})
}

// tellMoved writes to the address that somebody's mail does not go to any more.
func (o *office) tellMoved(before, now account.Address, login string) {
	if o.Mail == nil || before == "" || before == now {
		return
	}
	day := o.Lang.Date(o.Today())
	o.later(func(ctx context.Context) {
		o.mail(ctx, before, o.Lang.Say("mail.moved.subject", "program", o.About.Name),
			o.Lang.Say("mail.moved.what", "program", o.About.Name, "login", login, "day", day),
			o.Lang.Say("mail.changed.not"))
	})
}

// mail sends a letter of a few paragraphs. What goes wrong is for the log, and
// for nobody else.
func (o *office) mail(ctx context.Context, to account.Address, subject string, paragraphs ...string) {
	if err := o.Mail.Send(ctx, to, subject, strings.Join(paragraphs, "\n\n")+"\n"); err != nil {
		o.Log.Warn("a letter was not sent", "error", err)
	}
}
