package open

import (
	"context"
	"fmt"
	"net/url"

	"sixmile/internal/atlas"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
)

// OwnSheet is a county's newest map with words of the office's own on it. It shows
// what the map pages show and nothing more; it is kept nowhere.
func (all *Maps) OwnSheet(ctx context.Context, l *catalog.Lang, o desk.SheetOrder) (out desk.SheetFile, err error) {
	m := *all.maps
	m.Lang, m.shelf.lang = l, l
	now, t, err := m.read(ctx)
	if err != nil {
		return out, err
	}
	v, there := now.index.County(o.County)
	if !there {
		return out, fmt.Errorf("county: %w", fault.ErrNotFound)
	}
	c, err := readChoice(url.Values{"show": {o.Show}, "paper": {o.Paper}, "look": {o.Look}}, now.index.Editions())
	if err != nil {
		return out, err
	}
	file, known := paperFileOf("map." + o.Kind)
	if !known || o.Kind == "svg" {
		return out, fmt.Errorf("kind: %w", fault.ErrNotFound)
	}
	j := printJob{t: t, v: v, c: c, own: &ownWords{o.Title, o.Footnote}}
	err = m.room.limit.Do(ctx, func() error {
		out.Body, err = file.make(j)
		return err
	})
	out.Name, out.Kind = file.saveAs(v.Slug, c), file.kind
	return out, err
}

// ownWords are the office's own on a map.
type ownWords struct{ title, footnote string }

// on puts them there.
func (w *ownWords) on(im *atlas.Imprint) {
	if w == nil {
		return
	}
	if w.title != "" {
		im.Title = w.title
	}
	im.Footnote = w.footnote
}
