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

// linkView is the page behind a link, where a password is chosen.
type linkView struct {
	Path       string
	Lede, Once string
	Who        account.Staff
	Password   field
	Again      field
	Refused    []refusal
}

// linkDoor is one of the two kinds of links.
type linkDoor struct {
	title, once string
	lede        func(account.Staff) string
	// who and set: fault.ErrNotFound for a link that opens nothing (any more).
	who func(context.Context, account.Link) (account.Staff, error)
	set func(ctx context.Context, l account.Link, passwordHash string) error
}

// welcome is the door of links that a coordinator passes on.
func (o *office) welcome() linkDoor {
	return linkDoor{
		title: o.Lang.Say("welcome.title"), once: o.Lang.Say("welcome.once"),
		lede: func(s account.Staff) string { return o.Lang.Say("welcome.who", "name", s.Name, "login", s.Login) },
		who: func(ctx context.Context, l account.Link) (account.Staff, error) {
			return o.Invites.Invited(ctx, l, o.Today())
		},
		set: func(ctx context.Context, l account.Link, hash string) error {
			return o.Invites.Join(ctx, l, hash, o.Today())
		},
	}
}

// reset is the door of links that were sent by mail.
func (o *office) reset() linkDoor {
	return linkDoor{
		title: o.Lang.Say("reset.title"), once: o.Lang.Say("reset.once"),
		lede: func(s account.Staff) string { return o.Lang.Say("reset.who", "login", s.Login) },
		who: func(ctx context.Context, l account.Link) (account.Staff, error) {
			if o.Mail == nil {
				return account.Staff{}, fault.ErrNotFound
			}
			return o.Resets.ResetFor(ctx, l, o.now())
		},
		set: func(ctx context.Context, l account.Link, hash string) error {
			return o.Resets.Reset(ctx, l, hash, o.now(), o.Today())
		},
	}
}

// open finds whose link this is. What is no link and what opens nothing any more
// are one answer.
func (d linkDoor) open(r *http.Request) (linkView, account.Link, error) {
	l, err := account.ParseLink(chi.URLParam(r, "link"))
	if err != nil {
		return linkView{}, l, fault.ErrNotFound
	}
	who, err := d.who(r.Context(), l)
	return linkView{Path: r.URL.Path, Lede: d.lede(who), Once: d.once, Who: who,
		Password: field{Name: "password"}, Again: field{Name: "again"}}, l, err
}

func (o *office) showLink(w http.ResponseWriter, r *http.Request, status int, title string, v linkView) error {
	w.Header().Set("Cache-Control", "no-store")
	v.Refused = refusals(v.Password, v.Again)
	return shell.Render(w, r, status, linkPage(o.page(r, title), v))
}

// linkGone is the one answer to links that open nothing, whatever the reason.
func (o *office) linkGone(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Cache-Control", "no-store")
	return shell.Render(w, r, http.StatusNotFound, linkGonePage(o.page(r, o.Lang.Say("link.gone"))))
}

// linkForm only shows: programs that look at links in letters use none up.
func (o *office) linkForm(door func() linkDoor) shell.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		d := door()
		v, _, err := d.open(r)
		if errors.Is(err, fault.ErrNotFound) {
			return o.linkGone(w, r)
		}
		if err != nil {
			return err
		}
		return o.showLink(w, r, http.StatusOK, d.title, v)
	}
}

// linkPost sets the password.
func (o *office) linkPost(door func() linkDoor) shell.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		form, err := posted(r)
		if err != nil {
			return err
		}
		d := door()
		v, l, err := d.open(r)
		if errors.Is(err, fault.ErrNotFound) {
			return o.linkGone(w, r)
		}
		if err != nil {
			return err
		}
		hash, err := o.newPassword(r.Context(), v.Who.Login, form.Get("password"), form.Get("again"), &v.Password, &v.Again)
		if err != nil {
			return err
		}
		if hash == "" {
			return o.showLink(w, r, http.StatusUnprocessableEntity, d.title, v)
		}
		err = d.set(r.Context(), l, hash)
		if errors.Is(err, fault.ErrNotFound) {
			return o.linkGone(w, r) // used in another tab meanwhile
		}
		if err != nil {
			return err
		}
		// Who is in need not wait for what was tried and asked before.
		o.gate.forget(v.Who.Login)
		o.asks.forget(v.Who.Login)
		o.tellChanged(v.Who.ID, v.Who.Login)
		http.Redirect(w, r, "/office/sign-in?set", http.StatusSeeOther)
		return nil
	}
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
