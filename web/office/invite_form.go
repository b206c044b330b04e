package office

import (
	"context"
	"errors"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// Invites makes people and the links by which they set a password.
type Invites interface {
	// Invite: fault.ErrConflict when the login is taken.
	Invite(ctx context.Context, p account.Staff, l account.Link, today, expires time.Time) (account.ID, error)
	// Invited and Join: fault.ErrNotFound for a link that opens nothing (any more).
	Invited(ctx context.Context, l account.Link, today time.Time) (account.Staff, error)
	Join(ctx context.Context, l account.Link, passwordHash string, today time.Time) error
}

// welcomeView is the page behind a link.
type welcomeView struct {
	Link     string
	Who      account.Staff
	Password field
	Again    field
	Refused  []refusal
}

func (o *office) welcomeForm(w http.ResponseWriter, r *http.Request) error {
	v, _, err := o.welcome(r)
	if err != nil {
		return err
	}
	return o.showWelcome(w, r, http.StatusOK, v)
}

// welcome finds whose link this is. What is no link and what opens nothing any
// more are one answer.
func (o *office) welcome(r *http.Request) (welcomeView, account.Link, error) {
	l, err := account.ParseLink(chi.URLParam(r, "link"))
	if err != nil {
		return welcomeView{}, l, fault.ErrNotFound
	}
	who, err := o.Invites.Invited(r.Context(), l, o.Today())
	return welcomeView{Link: l.String(), Who: who, Password: field{Name: "password"}, Again: field{Name: "again"}}, l, err
}

func (o *office) showWelcome(w http.ResponseWriter, r *http.Request, status int, v welcomeView) error {
	w.Header().Set("Cache-Control", "no-store")
	v.Refused = refusals(v.Password, v.Again)
	return shell.Render(w, r, status, welcomePage(o.page(r, o.Lang.Say("welcome.title")), v))
}

func (o *office) welcomePost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	v, l, err := o.welcome(r)
	if err != nil {
		return err
	}
	hash, err := o.newPassword(r.Context(), v.Who.Login, form.Get("password"), form.Get("again"), &v.Password, &v.Again)
	if err != nil {
		return err
	}
	if hash == "" {
		return o.showWelcome(w, r, http.StatusUnprocessableEntity, v)
	}
	if err := o.Invites.Join(r.Context(), l, hash, o.Today()); err != nil {
		return err
	}
	o.gate.forget(v.Who.Login)
	o.tellChanged(v.Who.ID, v.Who.Login)
	http.Redirect(w, r, "/office/sign-in?set", http.StatusSeeOther)
	return nil
}

// newPassword makes the stored form of a password typed twice; empty when it
// cannot be taken, with the reason at its field.
func (o *office) newPassword(ctx context.Context, login, password, again string, at, atAgain *field) (string, error) {
	if key := account.PasswordProblem(login, password); key != "" {
		at.Problem = o.Lang.SayOf("password.problem", key, "least", account.MinPassword)
		return "", nil
	}
	if password != again {
		atAgain.Problem = o.Lang.Say("password.again.differs")
		return "", nil
	}
	hash, err := o.Passwords.Hash(ctx, password)
	if errors.Is(err, account.ErrPassword) {
		at.Problem = o.Lang.SayOf("password.problem", "length", "least", account.MinPassword)
		return "", nil
	}
	return hash, err
}
