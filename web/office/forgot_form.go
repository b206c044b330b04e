package office

import (
	"context"
	"net/http"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/web/shell"
)

// forgotView is the page for whoever has lost a password. What it says is the
// same for a login that is somebody's and for one that is nobody's.
type forgotView struct {
	Mails   bool // there is a mail server; else a coordinator helps
	Sent    bool
	Minutes int
	Login   field
	Wrong   string
	Refused []refusal
}

func (o *office) forgotForm(w http.ResponseWriter, r *http.Request) error {
	return o.showForgot(w, r, http.StatusOK, forgotView{Sent: o.Mail != nil && r.URL.Query().Has("sent"), Login: field{Name: "login"}})
}

func (o *office) showForgot(w http.ResponseWriter, r *http.Request, status int, v forgotView) error {
	w.Header().Set("Cache-Control", "no-store")
	v.Mails, v.Minutes = o.Mail != nil, int(account.ResetWithin/time.Minute)
	v.Refused = refusals(v.Login)
	return shell.Render(w, r, status, forgotPage(o.page(r, o.Lang.Say("forgot.title")), v))
}

// forgotPost answers before it looks anybody up. Whether mail can be sent at all
// is found out first, for everybody alike.
func (o *office) forgotPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	typed := line(form, "login")
	login := strings.ToLower(typed)
	v := forgotView{Login: field{Name: "login", Value: typed}}
	switch {
	case o.Mail == nil:
		return o.showForgot(w, r, http.StatusOK, v)
	case login == "":
		v.Login.Problem = o.Lang.Say("forgot.empty")
		return o.showForgot(w, r, http.StatusUnprocessableEntity, v)
	}
	wait, ok := o.asks.book(login, o.now())
	if !ok {
		w.Header().Set("Retry-After", "600")
		v.Wrong = o.Lang.Say("forgot.busy")
		return o.showForgot(w, r, http.StatusTooManyRequests, v)
	}
	if err := o.sleep(r.Context(), wait); err != nil {
		return err
	}
	if err := o.Mail.Ready(r.Context()); err != nil {
		o.Log.Warn("mail cannot be sent", "error", err)
		w.Header().Set("Retry-After", "300")
		v.Wrong = o.Lang.Say("forgot.away")
		return o.showForgot(w, r, http.StatusServiceUnavailable, v)
	}
	if account.IsLogin(login) { // nothing else is ever looked up
		o.later(func(ctx context.Context) { o.sendReset(ctx, login) })
	}
	http.Redirect(w, r, "/office/forgot?sent", http.StatusSeeOther)
	return nil
}
