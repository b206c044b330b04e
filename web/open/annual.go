package open

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/annual"
	"sixmile/internal/annual/parcel"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/press"
	"sixmile/web/shell"
)

// SeasonYears tells the days of a season. fault.ErrNotFound: there is none.
type SeasonYears interface {
	Season(ctx context.Context, year int) (annual.Period, error)
}

// YearDeps is what the public's annual summary needs beside the maps'.
type YearDeps struct {
	Land    parcel.Land
	Seasons SeasonYears
}

// annualRoutes are the page of the annual summary and its archive. Without a land
// there is none.
func (m *maps) annualRoutes() []shell.Route {
	if m.Years.Land == nil {
		return nil
	}
	return []shell.Route{
		{Method: http.MethodGet, Path: "/annual", May: account.Anyone, Handler: m.annualPage},
		{Method: http.MethodGet, Path: "/annual/{code}", May: account.Anyone, Handler: m.annualFile},
	}
}

// yearPage is the page of the annual summary.
type yearPage struct {
	shell.Page
	None, Edition, What string
	Href, Name          string
	Cite                string
	Not                 []string
}

func (m *maps) annualPage(w http.ResponseWriter, r *http.Request) error {
	now, t, err := m.read(r.Context())
	if err != nil {
		return err
	}
	p := yearPage{Page: shell.Page{Lang: t.lang, About: t.about, Title: t.say("yearbook.title"), Area: "map"}}
	if !t.released() {
		p.None = t.say("yearbook.none")
		return shell.Render(w, r, http.StatusOK, yearTempl(p))
	}
	e := now.issue.Edition
	p.Edition, p.What = t.editionLine(), t.say("yearbook.what")
	p.Href, p.Name = t.lang.Prefix()+"/annual/"+e.Code, t.say("yearbook.download", "year", year(e.Season))
	p.Not = []string{t.say("yearbook.not.results"), t.say("yearbook.not.few", "k", e.K), t.say("yearbook.not.people"), t.say("yearbook.not.waiting"), t.say("yearbook.not.money")}
	p.Cite = t.say("yearbook.volunteers")
	return shell.Render(w, r, http.StatusOK, yearTempl(p))
}

// annualFile makes the public copy of the newest edition, once for all who ask, in
// English for everybody. It is made of a book of the public's type, and there is no way to another from here.
func (m *maps) annualFile(w http.ResponseWriter, r *http.Request) error {
	now, _, err := m.read(r.Context())
	if err != nil {
		return err
	}
	e := now.issue.Edition
	if e.Number == 0 || chi.URLParam(r, "code") != e.Code {
		return fmt.Errorf("annual summary: %w", fault.ErrNotFound)
	}
	period, err := m.Years.Seasons.Season(r.Context(), e.Season)
	if err != nil {
		return err
	}
	english := catalog.English()
	b, err := annual.ForPublic(english, now.index, period)
	if err != nil {
		return err
	}
	ctx := context.WithoutCancel(r.Context())
	s, err := m.room.file(r.Context(), fmt.Sprintf("%d annual", now.gen), func() (*sheet, error) {
		body, err := written(func(out *bytes.Buffer) error {
			return parcel.Write(ctx, out, b, parcel.Options{Lang: english, Land: m.Years.Land,
				Program: parcel.Program{Name: m.About.Name, State: m.About.State, Invented: m.About.Invented}})
		})
		if err != nil {
			return nil, err
		}
		return newFile(zipKind, e, body), nil
	})
	if errors.Is(err, press.ErrBusy) {
		return (&paper{m}).busy(w, r)
	}
	if err != nil {
		return err
	}
	s.sendFile(w, r, parcel.FileName(b))
	return nil
}
