package open

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"time"

	"sixmile/internal/atlas"
	"sixmile/internal/press"
)

// with adds a part to a question.
func with(query, part string) string {
	if query == "" {
		return "?" + part
	}
	return query + "&" + part
}

// statePDF is the state's map on a sheet of letter.
func (p *paper) statePDF(w http.ResponseWriter, r *http.Request) error {
	return p.stateFile(w, r, pdfKind, "pdf", atlas.LetterWide, func(t teller, c stateChoice, s atlas.Scene) ([]byte, error) {
		day := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
		if t.released() {
			day = t.edition().Released
		}
		return written(func(b *bytes.Buffer) error {
			return press.PDF(b, []atlas.Scene{s}, press.PDFOptions{Title: s.Title + ": " + t.stateLine(c), Lang: t.lang.Tag(), Date: day})
		})
	})
}

// statePNG is the state's map as a slide.
func (p *paper) statePNG(w http.ResponseWriter, r *http.Request) error {
	return p.stateFile(w, r, pngKind, "png", atlas.Slide, func(_ teller, _ stateChoice, s atlas.Scene) ([]byte, error) {
		return written(func(b *bytes.Buffer) error { return press.PNG(b, s, press.SlideSize, press.Color) })
	})
}

func (p *paper) stateFile(w http.ResponseWriter, r *http.Request, kind, ext string, on atlas.Paper,
	paint func(teller, stateChoice, atlas.Scene) ([]byte, error)) error {
	now, t, err := p.read(r.Context())
	if err != nil {
		return err
	}
	c, err := readStateChoice(r.URL.Query())
	if err != nil {
		return err
	}
	s, err := p.room.file(r.Context(), fmt.Sprintf("%d state %s %s %s", now.gen, t.lang.Key(), ext, c.query()), func() (*sheet, error) {
		figures, err := t.pickState(c.measure)
		if err != nil {
			return nil, err
		}
		body, err := paint(t, c, t.stateScene(figures, c)(drawing{paper: on}))
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
	s.sendFile(w, r, plainName("map-"+t.edition().Code+"-"+c.measure.String())+"."+ext)
	return nil
}
