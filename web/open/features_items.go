package open

import (
	"fmt"
	"net/url"
	"strconv"
	"sync"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"sixmile/internal/features"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// PathValueOf is a part of the address.
func (a *featureAsk) PathValueOf(name string) string { return chi.URLParam(a.Request, name) }

func (g *gis) items(a *featureAsk) (any, func(shell.Page) templ.Component, error) {
	c, err := g.named(a)
	if err != nil {
		return nil, nil, err
	}
	q, err := features.ParseItems(a.query, featureFilters)
	if err != nil {
		return nil, nil, err
	}
	var met map[place.ID]bool
	if q.BBox != nil {
		var boxes [][4]float64
		for _, b := range q.BBox.Split() {
			boxes = append(boxes, b)
		}
		if met, err = g.Shapes.Meeting(a.Context(), c.of.Number, boxes); err != nil {
			return nil, nil, err
		}
	}
	rows := pickRows(a.t.featureRows(c.kind), q, met)
	from, to := q.Cut(len(rows))
	path := "/collections/" + c.id() + "/items"
	doc := features.Page{Type: "FeatureCollection", Edition: c.of.Code, Note: a.t.note(c.of), Citation: a.t.citation(c.of, a.base),
		Matched: len(rows), Returned: to - from, Links: a.leads(a.address(path), features.GeoJSON)}
	doc.Links = append(doc.Links, a.turn(path, "next", to, to < len(rows))...)
	doc.Links = append(doc.Links, a.turn(path, "prev", max(0, from-q.Limit), from > 0)...)
	doc.Links = append(doc.Links, features.Link{Href: a.base + "/collections/" + c.id(), Rel: "collection", Type: features.JSON})
	title := g.describe(a, c).Title
	a.title = title
	if a.media == features.HTML {
		v := itemsView{Base: a.base, Path: a.base + path, Title: title, Note: doc.Note, Citation: doc.Citation, Links: doc.Links, Rows: rows[from:to],
			Range: a.t.say("features.range", "from", min(from+1, to), "to", to, "all", len(rows)), Asked: a.query, Filters: a.t.filters()}
		return nil, func(p shell.Page) templ.Component { return featuresItems(p, a.t, v) }, nil
	}
	doc.Features, err = g.outlined(a, c, rows[from:to])
	return doc, nil, err
}

// turn is the link to another page of the same question.
func (a *featureAsk) turn(path, rel string, offset int, there bool) []features.Link {
	if !there {
		return nil
	}
	asked := url.Values{}
	for k, v := range a.query {
		asked[k] = v
	}
	href := a.base + path
	if q := features.At(asked, offset); q != "" {
		href += "?" + q
	}
	return []features.Link{{Href: href, Rel: rel, Type: a.media, Title: a.t.say("features.link." + rel)}}
}

// outlined gives rows their ground.
func (g *gis) outlined(a *featureAsk, c listedCollection, rows []featureRow) ([]features.Feature, error) {
	groups := make([][]place.ID, len(rows))
	for i, r := range rows {
		groups[i] = r.places
	}
	shapes, err := g.Shapes.Ground(a.Context(), c.of.Number, groups)
	if err != nil {
		return nil, err
	}
	if len(shapes) != len(rows) {
		return nil, fmt.Errorf("features: %d outlines for %d rows", len(shapes), len(rows))
	}
	out := make([]features.Feature, len(rows))
	for i, r := range rows {
		out[i] = features.Feature{Type: "Feature", ID: r.id, Geometry: shapes[i], Properties: r.fields}
	}
	return out, nil
}

func (g *gis) item(a *featureAsk) (any, func(shell.Page) templ.Component, error) {
	c, err := g.named(a)
	if err != nil {
		return nil, nil, err
	}
	if err := features.Only(a.query); err != nil {
		return nil, nil, err
	}
	id := a.PathValueOf("feature")
	for _, r := range a.t.featureRows(c.kind) {
		if r.id != id {
			continue
		}
		at := "/collections/" + c.id() + "/items/" + r.id
		links := append(a.leads(a.base+at, features.GeoJSON), features.Link{Href: a.base + "/collections/" + c.id(), Rel: "collection", Type: features.JSON})
		a.title = r.title
		if a.media == features.HTML {
			v := itemView{Base: a.base, Path: a.base + "/collections/" + c.id() + "/items", Row: r, Links: links, Note: a.t.note(c.of)}
			return nil, func(p shell.Page) templ.Component { return featuresItem(p, v) }, nil
		}
		found, err := g.outlined(a, c, []featureRow{r})
		if err != nil {
			return nil, nil, err
		}
		found[0].Links = links
		return found[0], nil, nil
	}
	return nil, nil, errNoSuch
}

// itemsView is the page of a page of features.
type itemsView struct {
	Base, Path, Title, Note, Citation, Range string
	Links                                    []features.Link
	Rows                                     []featureRow
	Asked                                    url.Values
	Filters                                  []features.Filter
}

// itemView is the page of one feature.
type itemView struct {
	Base, Path, Note string
	Row              featureRow
	Links            []features.Link
}

// cell is a field as a page shows it.
func cell(v any) string {
	switch v := v.(type) {
	case nil:
		return "–"
	case int:
		return strconv.Itoa(v)
	case bool:
		return strconv.FormatBool(v)
	}
	return fmt.Sprint(v)
}

// extents remembers where each edition lies: boundaries never change.
type extents struct {
	mu sync.Mutex
	by map[int][4]float64
}

func (e *extents) get(no int, read func() ([4]float64, error)) ([4]float64, error) {
	if no == 0 { // before the first edition boundaries may still be exchanged
		return read()
	}
	e.mu.Lock()
	box, known := e.by[no]
	e.mu.Unlock()
	if known {
		return box, nil
	}
	box, err := read()
	if err == nil {
		e.mu.Lock()
		defer e.mu.Unlock()
		e.by[no] = box
	}
	return box, err
}
