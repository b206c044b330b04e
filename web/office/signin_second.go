package office

import (
	"context"
	"errors"
	"net/http"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// Steps is the second step of a sign-in.
type Steps interface {
	// Half finds who has given the password only, and spends a try.
	// fault.ErrNotFound: nobody, or no try is left.
	Half(ctx context.Context, t account.Token, today time.Time) (who account.ID, login string, err error)
	// UseStep: fault.ErrConflict when the code has been used.
	UseStep(ctx context.Context, who account.ID, step int64) error
	// UseRecovery: fault.ErrNotFound when the code is not one of the person's.
	UseRecovery(ctx context.Context, who account.ID, c account.Recovery, today time.Time) error
}

// secondView is the page that asks for the second step.
type secondView struct {
	To    string
	Wrong string
}

func (o *office) signInSecond(w http.ResponseWriter, r *http.Request) error {
	if _, ok := cookieToken(r); !ok {
		http.Redirect(w, r, "/office/sign-in", http.StatusSeeOther)
		return nil
	}
	return o.showSecond(w, r, http.StatusOK, secondView{To: localPath(r.URL.Query().Get("to"))})
}

func (o *office) showSecond(w http.ResponseWriter, r *http.Request, status int, v secondView) error {
	w.Header().Set("Cache-Control", "no-store")
	return shell.Render(w, r, status, secondPage(o.page(r, o.Lang.Say("second.title")), v))
}

// signInSecondPost takes a code of the phone or a recovery code. Five wrong ones
// and the password is asked for again; how fast they may follow each other is
// slowed by name, like passwords.
func (o *office) signInSecondPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	to := localPath(form.Get("to"))
	half, _ := cookieToken(r)
	who, login, err := o.Steps.Half(r.Context(), half, o.Today())
	if errors.Is(err, fault.ErrNotFound) {
		return o.showSignIn(w, r, http.StatusUnprocessableEntity, signInView{To: to, Wrong: o.Lang.Say("second.again")})
	}
	if err != nil {
		return err
	}
	wait, ok := o.codes.book(login, o.now())
	if !ok {
		w.Header().Set("Retry-After", "60")
		return o.showSecond(w, r, http.StatusTooManyRequests, secondView{To: to, Wrong: o.Lang.Say("second.busy")})
	}
	if err := o.sleep(r.Context(), wait); err != nil {
		return err
	}
	if ok, err = o.takeCode(r.Context(), who, line(form, "code")); err != nil {
		return err
	}
	if !ok {
		return o.showSecond(w, r, http.StatusUnprocessableEntity, secondView{To: to, Wrong: o.Lang.Say("second.wrong")})
	}
	o.codes.forget(login)
	if err := o.startSession(w, r, who, false); err != nil {
		return err
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// takeCode tells whether a code opens, and uses it up.
func (o *office) takeCode(ctx context.Context, who account.ID, typed string) (bool, error) {
	second, err := o.Seconds.Second(ctx, who)
	if err != nil {
		return false, err
	}
	if !second.On {
		return false, nil // taken away in the meantime: the password is asked for again
	}
	if c, err := account.ParseRecovery(typed); err == nil {
		err = o.Steps.UseRecovery(ctx, who, c, o.Today())
		return err == nil, except(err, fault.ErrNotFound)
	}
	step, ok := second.Seed.Check(typed, o.now(), second.Last)
	if !ok {
		return false, nil
	}
	err = o.Steps.UseStep(ctx, who, step)
	return err == nil, except(err, fault.ErrConflict)
}

// except is err unless it is the one that is an answer and not a failure.
func except(err, answer error) error {
	if errors.Is(err, answer) {
		return nil
	}
	return err
}
