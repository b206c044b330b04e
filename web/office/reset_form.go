package office

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// resetView is the page behind a link that was sent by mail.
type resetView struct {
	Link     string
	Who      account.Staff
	Password field
	Again    field
	Refused  []refusal
}

// resetForm only shows: programs that look at links in letters use none up.
func (o *office) resetForm(w http.ResponseWriter, r *http.Request) error {
	v, _, err := o.reset(r)
	if err != nil {
		return err
	}
	return o.showReset(w, r, http.StatusOK, v)
}

// reset finds whose link this is. What is no link and what opens nothing any
// more are one answer.
func (o *office) reset(r *http.Request) (resetView, account.Link, error) {
	l, err := account.ParseLink(chi.URLParam(r, "link"))
	if err != nil || o.Mail == nil {
		return resetView{}, l, fault.ErrNotFound
	}
	who, err := o.Resets.ResetFor(r.Context(), l, o.now())
	return resetView{Link: l.String(), Who: who, Password: field{Name: "password"}, Again: field{Name: "again"}}, l, err
}

func (o *office) showReset(w http.ResponseWriter, r *http.Request, status int, v resetView) error {
	w.Header().Set("Cache-Control", "no-store")
	v.Refused = refusals(v.Password, v.Again)
	return shell.Render(w, r, status, resetPage(o.page(r, o.Lang.Say("reset.title")), v))
}

func (o *office) resetPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	v, l, err := o.reset(r)
	if err != nil {
		return err
	}
	hash, err := o.newPassword(r.Context(), v.Who.Login, form.Get("password"), form.Get("again"), &v.Password, &v.Again)
	if err != nil {
		return err
	}
	if hash == "" {
		return o.showReset(w, r, http.StatusUnprocessableEntity, v)
	}
	if err := o.Resets.Reset(r.Context(), l, hash, o.now(), o.Today()); err != nil {
		return err
	}
	o.gate.forget(v.Who.Login)
	o.asks.forget(v.Who.Login)
	o.tellChanged(v.Who.ID, v.Who.Login)
	http.Redirect(w, r, "/office/sign-in?set", http.StatusSeeOther)
	return nil
}
