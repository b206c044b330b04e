package open

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"sixmile/internal/atlas"
	"sixmile/internal/fault"
	"sixmile/internal/press"
	"sixmile/web/shell"
)

// with adds a part to a question.
func with(query, part string) string {
	if query == "" {
		return "?" + part
	}
	return query + "&" + part
}

// statePDF is the state's or a region's map on a sheet of letter.
func (p *paper) statePDF(w http.ResponseWriter, r *http.Request, regional bool) error {
	return p.stateFile(w, r, regional, pdfKind, "pdf", atlas.LetterWide, func(t teller, c stateChoice, s atlas.Scene) ([]byte, error) {
		day := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
		if t.released() {
			day = t.edition().Released
		}
		return written(func(b *bytes.Buffer) error {
			return press.PDF(b, []atlas.Scene{s}, press.PDFOptions{Title: s.Title + ": " + t.stateLine(c), Lang: t.lang.Tag(), Date: day})
		})
	})
}

// statePNG is the same as a slide.
func (p *paper) statePNG(w http.ResponseWriter, r *http.Request, regional bool) error {
	return p.stateFile(w, r, regional, pngKind, "png", atlas.Slide, func(_ teller, _ stateChoice, s atlas.Scene) ([]byte, error) {
		return written(func(b *bytes.Buffer) error { return press.PNG(b, s, press.SlideSize, press.Color) })
	})
}

// ofWhat makes a handler of a file of the state, or of a region.
func ofWhat(regional bool, h func(http.ResponseWriter, *http.Request, bool) error) shell.Handler {
	return func(w http.ResponseWriter, r *http.Request) error { return h(w, r, regional) }
}

func (p *paper) stateFile(w http.ResponseWriter, r *http.Request, regional bool, kind, ext string, on atlas.Paper,
	paint func(teller, stateChoice, atlas.Scene) ([]byte, error)) error {
	now, t, err := p.read(r.Context())
	if err != nil {
		return err
	}
	g, many, err := readRegion(r, now.index)
	if err != nil {
		return err
	}
	if many || regional && len(g.slugs) == 0 {
		return fmt.Errorf("no region: %w", fault.ErrNotFound)
	}
	if !regional {
		g.slugs = nil
	}
	s, err := p.room.file(r.Context(), fmt.Sprintf("%d state %s %s %s", now.gen, t.lang.Key(), ext, g.query(g.choice)), func() (*sheet, error) {
		scene, in, err := t.choiceScene(g)
		if err != nil {
			return nil, err
		}
		body, err := paint(in, g.choice, scene(drawing{paper: on}))
		if err != nil {
			return nil, fmt.Errorf("map.%s: %w", ext, err)
		}
		return newFile(kind, now.issue.Edition, body), nil
	})
	if errors.Is(err, press.ErrBusy) {
		return p.busy(w, r)
	}
	if err != nil {
		return err
	}
	s.sendFile(w, r, plainName("map-"+t.edition().Code+"-"+g.choice.measure.String()+"-"+strings.Join(g.slugs, "-"))+"."+ext)
	return nil
}

// choiceScene is the map of a region, or of the state where no county is named,
// and the teller of it.
func (t teller) choiceScene(g region) (func(drawing) atlas.Scene, teller, error) {
	if len(g.slugs) == 0 {
		p, err := t.pickState(g.choice.measure)
		return t.stateScene(p, g.choice), t, err
	}
	in, p, err := t.regionFigures(g)
	if err != nil {
		return nil, t, err
	}
	return in.regionScene(p, g, t.around(g)), in, nil
}
