package open

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// answer shows one bag's answer to whoever holds its link. A secret that cannot
// be one and a secret that is none get the same page.
func (g *grower) answer(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Cache-Control", "no-store")
	ctx := r.Context()
	secret, err := sample.ParseSecret(chi.URLParam(r, "secret"))
	if err != nil {
		return fault.ErrNotFound
	}
	a, err := g.Intake.Answer(ctx, secret)
	if err != nil {
		return err
	}
	known, err := g.known.get(ctx)
	if err != nil {
		return err
	}
	scheme, err := g.Levels.Scheme(ctx)
	if err != nil {
		return err
	}
	methods, err := g.Levels.Methods(ctx)
	if err != nil {
		return err
	}
	offices, err := g.Offices.Offices(ctx)
	if err != nil {
		return err
	}
	v := viewAnswer(a, scheme, methods)
	v.County, v.Office, v.Note = known.places[a.County], officeOf(offices, a.County), noteKey(secret)
	p := g.page(g.Lang.Say("answer.title"), "")
	p.Private, p.Scripts = true, []string{"send.js"}
	return shell.Render(w, r, http.StatusOK, answerPage(p, v))
}

func officeOf(offices []desk.Office, county place.ID) *desk.Office {
	for _, o := range offices {
		if o.County == county {
			return &o
		}
	}
	return nil
}
