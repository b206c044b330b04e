package open

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/atlas"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
	"sixmile/web/shell"
)

// paper is the pages and files of maps to take along.
type paper struct{ *maps }

// paperRoutes are where a map is put on paper and stepped through the years.
func (m *maps) paperRoutes() []shell.Route {
	p := &paper{m}
	return []shell.Route{
		{Method: http.MethodGet, Path: "/map.pdf", May: account.Anyone, Handler: ofWhat(false, p.statePDF)},
		{Method: http.MethodGet, Path: "/map.png", May: account.Anyone, Handler: ofWhat(false, p.statePNG)},
		{Method: http.MethodGet, Path: "/region.pdf", May: account.Anyone, Handler: ofWhat(true, p.statePDF)},
		{Method: http.MethodGet, Path: "/region.png", May: account.Anyone, Handler: ofWhat(true, p.statePNG)},
		{Method: http.MethodGet, Path: "/county/{slug}/print", May: account.Anyone, Handler: p.print},
		{Method: http.MethodGet, Path: "/county/{slug}/paper/{file}", May: account.Anyone, Handler: p.file},
		{Method: http.MethodGet, Path: "/county/{slug}/years", May: account.Anyone, Handler: p.years},
	}
}

// asked is a request's county, and its choice.
type asked struct {
	now    *reading // the newest edition
	of     *reading // the one that is chosen
	job    printJob
	newest string // code
}

// ask reads a request. Where its question is not the canonical one for what it
// asks, the reader is sent there and ok is false: each choice is kept once.
func (p *paper) ask(w http.ResponseWriter, r *http.Request, uses parts, file bool) (a asked, ok bool, err error) {
	now, t, _, err := p.find(r)
	if err != nil {
		return a, false, err
	}
	c, err := readChoice(r.URL.Query(), now.index.Editions())
	if err != nil {
		return a, false, err
	}
	c = c.only(uses)
	a = asked{now: now, newest: now.issue.Edition.Code}
	besides := a.newest
	if file {
		besides = "" // a file's address names its edition always
	}
	if !c.canonical(r.URL.RawQuery, besides) {
		w.Header().Set("Cache-Control", "no-cache")
		http.Redirect(w, r, r.URL.EscapedPath()+c.query(besides), http.StatusFound)
		return a, false, nil
	}
	if a.of, err = p.room.edition(r.Context(), p.Editions, now, c.code); err != nil {
		return a, false, err
	}
	t.x = a.of.index
	v, there := t.x.County(chi.URLParam(r, "slug"))
	if !there {
		return a, false, fmt.Errorf("county of an earlier edition: %w", fault.ErrNotFound)
	}
	office, over := p.office(now, v)
	a.job = printJob{t: t, v: v, c: c, office: office, over: over}
	return a, true, nil
}

// file answers with a picture or a document.
func (p *paper) file(w http.ResponseWriter, r *http.Request) error {
	f, known := paperFileOf(chi.URLParam(r, "file"))
	if !known {
		return fmt.Errorf("paper: %w", fault.ErrNotFound)
	}
	a, ok, err := p.ask(w, r, f.uses, true)
	if err != nil || !ok {
		return err
	}
	s, err := p.room.file(r.Context(), a.job.key(a.now.gen, f.name), func() (*sheet, error) {
		body, err := f.make(a.job)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.name, err)
		}
		return newFile(f.kind, a.of.issue.Edition, body), nil
	})
	if errors.Is(err, press.ErrBusy) {
		return p.busy(w, r)
	}
	if err != nil {
		return err
	}
	s.sendFile(w, r, f.saveAs(a.job.v.Slug, a.job.c))
	return nil
}

// busy asks the reader to come again.
func (p *paper) busy(w http.ResponseWriter, r *http.Request) error {
	h := w.Header()
	h.Set("Retry-After", strconv.Itoa(comeAgain))
	h.Set("Cache-Control", "no-store")
	page := shell.Page{Lang: p.Lang, About: p.About, Title: p.Lang.Say("paper.busy.head"), Private: true}
	return shell.Render(w, r, http.StatusServiceUnavailable,
		shell.Notice(page, page.Title, p.Lang.Say("paper.busy.text", "seconds", comeAgain)))
}

// print answers with the page on which a map is chosen.
func (p *paper) print(w http.ResponseWriter, r *http.Request) error {
	a, ok, err := p.ask(w, r, everyPart, false)
	if err != nil || !ok {
		return err
	}
	j := a.job
	s, err := p.shelf.sheet(a.now, "print "+j.key(a.now.gen, ""), func() (*sheet, error) {
		drawing, err := j.svg("p-")
		if err != nil {
			return nil, err
		}
		return page(a.of.issue.Edition, printTempl(j.printPage(a.now.index, string(drawing))))
	})
	if err != nil {
		return err
	}
	s.send(w, r)
	return nil
}

// years answers with one step through a county's editions.
func (p *paper) years(w http.ResponseWriter, r *http.Request) error {
	now, t, v, err := p.find(r)
	if err != nil {
		return err
	}
	c, err := readChoice(r.URL.Query(), now.index.Editions())
	if err != nil {
		return err
	}
	c = c.only(0)
	newest := now.issue.Edition.Code
	if !c.canonical(r.URL.RawQuery, newest) {
		w.Header().Set("Cache-Control", "no-cache")
		http.Redirect(w, r, r.URL.EscapedPath()+c.query(newest), http.StatusFound)
		return nil
	}
	s, err := p.shelf.sheet(now, "years "+v.Slug+c.query(""), func() (*sheet, error) { return t.yearsSheet(v, c) })
	if err != nil {
		return err
	}
	p.send(w, r, now, s)
	return nil
}

func (t teller) yearsSheet(v *gazette.CountyView, c choice) (*sheet, error) {
	rounds, err := t.x.Rounds(v)
	if err != nil {
		return nil, err
	}
	p := t.yearsPage(v, c, rounds)
	shown := t.edition()
	for _, e := range t.x.Editions() {
		if e.Code == c.code {
			shown = e
		}
	}
	m, err := t.asOf(v, shown)
	if err != nil {
		return nil, err
	}
	m.Bars, m.Untitled = nil, true // the page has no room for what its rows and its heading say already
	p.Wide, p.Narrow, err = t.both(func(d drawing) atlas.Scene { return atlas.ComposeCounty(m, d.paper) })
	if err != nil {
		return nil, err
	}
	return page(t.edition(), stepsTempl(p))
}
