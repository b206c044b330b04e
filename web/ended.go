package web

import (
	"net/http"
	"slices"
	"strings"

	"sixmile/internal/account"
	"sixmile/web/shell"
)

// ended answers a form that was sent when nobody was signed in any more. What was
// typed goes back to the browser that sent it, to be sent again after signing in:
// an hour of typing must not depend on a session. It is not stored, and what a
// person types about the own account (passwords) does not go back.
func (s *server) ended(w http.ResponseWriter, r *http.Request, route shell.Route) error {
	v := shell.EndedForm{Action: r.URL.EscapedPath()}
	switch {
	case strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/"):
		v.File = true
	case route.May != account.OwnAccount:
		// Where files come too, anybody could send as much as they may.
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		form, err := shell.Posted(r)
		if err != nil {
			return err
		}
		for name, values := range form {
			for _, value := range values {
				v.Fields = append(v.Fields, shell.EndedField{Name: name, Value: value})
			}
		}
		// Values of one name keep their order.
		slices.SortStableFunc(v.Fields, func(a, b shell.EndedField) int { return strings.Compare(a.Name, b.Name) })
	}
	if len(v.Fields) == 0 && !v.File {
		http.Redirect(w, r, "/office/sign-in", http.StatusSeeOther)
		return nil
	}
	p := shell.Page{Lang: s.Lang, About: s.About, Title: s.Lang.Say("ended.title"), Area: "office", Private: true}
	return shell.Render(w, r, http.StatusForbidden, shell.Ended(p, v))
}
