package open

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"sixmile/internal/fault"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// sendPost does what the pressed button says: most of them only change the
// form and show it again, "send" takes it.
func (g *grower) sendPost(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Cache-Control", "no-store")
	if _, err := shell.Posted(r); err != nil {
		return err
	}
	known, err := g.known.get(r.Context())
	if err != nil {
		return err
	}
	f := formOf(r.PostForm)
	do := r.PostForm.Get("do")
	which, removes := strings.CutPrefix(do, "remove.")
	where, finds := strings.CutPrefix(do, "find.")
	on, maps := strings.CutPrefix(do, "map.")
	switch {
	case do == "bag":
		f = f.WithBag()
	case do == "grower":
		f = f.WithGrower()
	case do == "townships", do == "edit":
	case maps:
		i, err := strconv.Atoi(on)
		if err != nil {
			return fault.ErrNotFound
		}
		return g.sendKeptMap(w, r, f, known, i)
	case finds:
		i, err := strconv.Atoi(where)
		if err != nil {
			return fault.ErrNotFound
		}
		return g.sendFind(w, r, f, known, i)
	case removes:
		if i, err := strconv.Atoi(which); err == nil {
			f = f.Without(i)
		}
	default:
		return g.take(w, r, f, known)
	}
	if f, err = g.whole(f); err != nil {
		return err
	}
	return g.showForm(w, r, http.StatusOK, viewSend(f, known, g.Today(), nil))
}

// take stores a visit and shows its receipt, or shows the form again with what
// is wrong with it.
func (g *grower) take(w http.ResponseWriter, r *http.Request, f sample.Form, known *ground) error {
	today := g.Today()
	visit, err := sample.NewVisit(f, known.rules(today))
	var bad *fault.Invalid
	if errors.As(err, &bad) {
		if f, err = g.whole(f); err != nil {
			return err
		}
		return g.showForm(w, r, http.StatusUnprocessableEntity, viewSend(f, known, today, bad.Fields))
	}
	if err != nil {
		return err
	}
	err = g.Intake.Take(r.Context(), visit, today)
	if errors.Is(err, fault.ErrUnavailable) || err != nil && g.Unavailable(err) {
		g.Log.Warn("a form could not be stored", "error", err)
		w.Header().Set("Retry-After", "30")
		away := map[string]fault.Problem{"": {Key: "send.error.unavailable"}}
		return g.showForm(w, r, http.StatusServiceUnavailable, viewSend(f, known, today, away))
	}
	if err != nil {
		return err
	}
	view, err := viewReceipt(visit, f, known, known.ends, g.origin(r)+g.Lang.Prefix())
	if err != nil {
		return err
	}
	p := g.page(g.Lang.Say("receipt.title"), "send")
	p.Private, p.Scripts = true, []string{"send.js"}
	return shell.Render(w, r, http.StatusOK, receiptPage(p, view))
}

// whole gives a form that came without a token or without a block what it
// needs to be sent again.
func (g *grower) whole(f sample.Form) (sample.Form, error) {
	if len(f.Bags) == 0 {
		f.Bags = []sample.FormBag{{}}
	}
	for i := range f.Bags {
		f.Bags[i].Grower = max(0, min(f.Bags[i].Grower, sample.MaxBags-1))
	}
	if _, err := sample.ParseToken(f.Token); err == nil {
		return f, nil
	}
	token, err := sample.NewToken(g.Random)
	if err != nil {
		return f, err
	}
	f.Token = token.String()
	return f, nil
}
