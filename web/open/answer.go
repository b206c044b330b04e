package open

import (
	"context"
	"net/http"
	"time"

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
	return g.showAnswer(w, r, a, noteKey(secret))
}

// showAnswer shows an answer; note is the name of the reader's own note, "" for
// an answer that was opened with a stub.
func (g *grower) showAnswer(w http.ResponseWriter, r *http.Request, a sample.Answer, note string) error {
	ctx := r.Context()
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
	v.County, v.Office, v.Note, v.ByStub = known.places[a.County], officeOf(offices, a.County), note, note == ""
	g.drawMap(ctx, &v)
	if v.Ends, err = g.ends(ctx, a.Season); err != nil {
		return err
	}
	p := g.page(g.Lang.Say("answer.title"), "")
	p.Private, p.Scripts = true, []string{"send.js"}
	return shell.Render(w, r, http.StatusOK, answerPage(p, v))
}

// ends is the day until which a fall's answers can be opened at least; nil where
// it is not known.
func (g *grower) ends(ctx context.Context, season int) (*time.Time, error) {
	if g.Ends == nil {
		return nil, nil
	}
	ends, err := g.Ends.SeasonEnds(ctx)
	if err != nil {
		return nil, err
	}
	if day, ok := ends[season]; ok {
		return &day, nil
	}
	return nil, nil
}

func officeOf(offices []desk.Office, county place.ID) *desk.Office {
	for _, o := range offices {
		if o.County == county {
			return &o
		}
	}
	return nil
}
