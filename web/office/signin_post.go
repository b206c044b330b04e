package office

import (
	"context"
	"crypto/rand"
	"net/http"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/web/shell"
)

// People knows passwords and sessions.
type People interface {
	// Password gives an active person's stored password; empty for nobody.
	Password(ctx context.Context, login string) (account.ID, string, error)
	// SignIn starts a session; a half one waits for the second step.
	SignIn(ctx context.Context, who account.ID, t account.Token, half bool, today time.Time) error
	SignOut(ctx context.Context, t account.Token) error
}

// Passwords checks a password against its stored form, as slowly for an empty
// form as for any other, and makes the stored form of a new one.
type Passwords interface {
	Check(ctx context.Context, stored, password string) (bool, error)
	Hash(ctx context.Context, password string) (string, error)
}

func (o *office) signInPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	login := line(form, "login")
	name := strings.ToLower(login)
	to := localPath(form.Get("to"))
	wait, ok := o.gate.book(name, o.now())
	if !ok {
		w.Header().Set("Retry-After", "10")
		return o.showSignIn(w, r, http.StatusTooManyRequests,
			signInView{Login: login, To: to, Wrong: o.Lang.Say("signin.busy")})
	}
	if err := o.sleep(r.Context(), wait); err != nil {
		return err
	}
	who, ok, err := o.identify(r.Context(), name, form.Get("password"))
	if err != nil {
		return err
	}
	if !ok {
		return o.showSignIn(w, r, http.StatusUnprocessableEntity,
			signInView{Login: login, To: to, Wrong: o.Lang.Say("signin.wrong")})
	}
	o.gate.forget(name)
	second, err := o.Seconds.Second(r.Context(), who)
	if err != nil {
		return err
	}
	if err := o.startSession(w, r, who, second.On); err != nil {
		return err
	}
	if second.On {
		to = "/office/sign-in/second?to=" + to
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// identify finds whose login and password these are. A wrong login costs the
// same one check as a wrong password.
func (o *office) identify(ctx context.Context, login, password string) (account.ID, bool, error) {
	var who account.ID
	stored := ""
	if account.IsLogin(login) { // nothing else is ever looked up
		var err error
		if who, stored, err = o.People.Password(ctx, login); err != nil {
			return account.ID{}, false, err
		}
	}
	ok, err := o.Passwords.Check(ctx, stored, password)
	return who, ok && stored != "", err
}

// startSession gives the browser a token it never had before, and ends the
// session it came with.
func (o *office) startSession(w http.ResponseWriter, r *http.Request, who account.ID, half bool) error {
	token, err := account.NewToken(rand.Reader)
	if err != nil {
		return err
	}
	if err := o.People.SignIn(r.Context(), who, token, half, o.Today()); err != nil {
		return err
	}
	if err := o.endSession(r); err != nil {
		return err
	}
	http.SetCookie(w, o.cookie(r, token.String(), 0))
	return nil
}

func (o *office) signOutPost(w http.ResponseWriter, r *http.Request) error {
	if err := o.endSession(r); err != nil {
		return err
	}
	http.SetCookie(w, o.cookie(r, "", -1))
	http.Redirect(w, r, "/office/sign-in", http.StatusSeeOther)
	return nil
}

// endSession ends the session of the request's cookie, if it has one.
func (o *office) endSession(r *http.Request) error {
	old, ok := cookieToken(r)
	if !ok {
		return nil // not one of ours: there is nothing to end
	}
	return o.People.SignOut(r.Context(), old)
}

// cookieToken is the token that the browser holds.
func cookieToken(r *http.Request) (account.Token, bool) {
	c, err := r.Cookie(shell.SessionCookie)
	if err != nil {
		return account.Token{}, false
	}
	t, err := account.ParseToken(c.Value)
	return t, err == nil
}

// cookie is the only cookie there is. It ends with the browser; a negative
// maxAge removes it.
func (o *office) cookie(r *http.Request, value string, maxAge int) *http.Cookie {
	return &http.Cookie{
		Name: shell.SessionCookie, Value: value, Path: "/office", MaxAge: maxAge,
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: o.Secure || r.TLS != nil,
	}
}
