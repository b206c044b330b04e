package open

import (
	"context"
	"errors"
	"fmt"

	"sixmile/internal/atlas"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
)

// Drawings gives the map of a county as everybody has it. Maps does.
type Drawings interface {
	// CountyDrawings draws it for a wide screen and for a narrow one;
	// fault.ErrNotFound where the map has no such county.
	CountyDrawings(ctx context.Context, l *catalog.Lang, slug string) (wide, narrow string, err error)
}

// CountyDrawings draws a county's newest map for a page of something else: its
// places lead nowhere. The drawings are kept like the county's own.
func (all *Maps) CountyDrawings(ctx context.Context, l *catalog.Lang, slug string) (wide, narrow string, err error) {
	m := *all.maps
	m.Lang, m.shelf.lang = l, l
	now, t, err := m.read(ctx)
	if err != nil {
		return "", "", err
	}
	v, ok := now.index.County(slug)
	if !ok {
		return "", "", fmt.Errorf("county: %w", fault.ErrNotFound)
	}
	draw := func(d drawing) (string, error) {
		s, err := m.shelf.sheet(now, fmt.Sprintf("alone %s %v", slug, d.paper), func() (*sheet, error) {
			alone := d
			alone.prefix = ""
			svg, err := t.paint(t.countyScene(v, alone), d)
			if err != nil {
				return nil, err
			}
			return newSheet(svgKind, now.issue.Edition, []byte(svg))
		})
		if err != nil {
			return "", err
		}
		return string(s.plain), nil
	}
	if wide, err = draw(drawing{paper: atlas.Screen, prefix: "w-"}); err != nil {
		return "", "", err
	}
	narrow, err = draw(drawing{paper: atlas.Phone, prefix: "n-"})
	return wide, narrow, err
}

// drawMap puts the county's map into an answer. Without one the page has the link
// alone: an answer does not wait for a map.
func (g *grower) drawMap(ctx context.Context, v *answerView) {
	if g.Drawings == nil {
		return
	}
	wide, narrow, err := g.Drawings.CountyDrawings(ctx, g.Lang, v.County.Slug)
	switch {
	case err == nil:
		v.Wide, v.Narrow = wide, narrow
	case !errors.Is(err, fault.ErrNotFound):
		g.Log.Warn("an answer has no map", "error", err)
	}
}
