package open

import (
	"net/url"
	"slices"
	"strings"

	"github.com/a-h/templ"

	"sixmile/internal/features"
	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

// leads are the links of a document to itself and to the same in another format.
func (a *featureAsk) leads(at, media string) []features.Link {
	join := "?"
	if strings.Contains(at, "?") {
		join = "&"
	}
	other := features.HTML
	if a.media == features.HTML {
		other = media
	}
	self := features.Link{Href: at, Rel: "self", Type: a.media, Title: a.t.say("features.link.self")}
	alternate := features.Link{Href: at + join + "f=" + shortFormat(other), Rel: "alternate", Type: other, Title: a.t.say("features.link.alternate." + shortFormat(other))}
	return []features.Link{self, alternate}
}

func shortFormat(media string) string {
	if media == features.HTML {
		return "html"
	}
	return "json"
}

// address is the address that was asked, without f.
func (a *featureAsk) address(path string) string {
	q := url.Values{}
	for k, v := range a.query {
		if k != "f" {
			q[k] = v
		}
	}
	if s := q.Encode(); s != "" {
		return a.base + path + "?" + s
	}
	return a.base + path
}

func (g *gis) landing(a *featureAsk) (any, func(shell.Page) templ.Component, error) {
	if err := features.Only(a.query); err != nil {
		return nil, nil, err
	}
	a.title = a.t.say("features.title")
	doc := features.Landing{Title: g.About.Name + ", " + g.About.State, Description: a.t.say("features.what", "state", g.About.State)}
	doc.Links = append(a.leads(a.base, features.JSON),
		features.Link{Href: a.base + "/api", Rel: "service-desc", Type: features.OpenAPI, Title: a.t.say("features.link.api")},
		features.Link{Href: a.base + "/api?f=html", Rel: "service-doc", Type: features.HTML, Title: a.t.say("features.link.doc")},
		features.Link{Href: a.base + "/conformance", Rel: "conformance", Type: features.JSON, Title: a.t.say("features.link.conformance")},
		features.Link{Href: a.base + "/collections", Rel: "data", Type: features.JSON, Title: a.t.say("features.link.data")})
	return doc, func(p shell.Page) templ.Component { return featuresLanding(p, a.base) }, nil
}

func (g *gis) conformance(a *featureAsk) (any, func(shell.Page) templ.Component, error) {
	if err := features.Only(a.query); err != nil {
		return nil, nil, err
	}
	a.title = a.t.say("features.link.conformance")
	doc := features.Conformance{ConformsTo: features.Classes(), Links: a.leads(a.base+"/conformance", features.JSON)}
	return doc, func(p shell.Page) templ.Component { return featuresConformance(p, a.base, doc.ConformsTo) }, nil
}

func (g *gis) api(a *featureAsk) (any, func(shell.Page) templ.Component, error) {
	if err := features.Only(a.query); err != nil {
		return nil, nil, err
	}
	a.title = a.t.say("features.link.doc")
	s := features.Service{Title: g.About.Name + ", " + g.About.State, Description: a.t.say("features.what", "state", g.About.State), Version: "1.0.0",
		Base: a.base, Filters: a.t.filters()}
	for _, c := range g.listed(a) {
		s.Collections = append(s.Collections, c.id())
	}
	doc, err := features.Describe(s)
	return doc, func(p shell.Page) templ.Component { return featuresAPI(p, a.base, s.Filters) }, err
}

// listedCollection is one of the collections there are.
type listedCollection struct {
	kind string
	of   gazette.Edition
	code string // "" for the newest edition under its plain name
}

func (c listedCollection) id() string {
	if c.code == "" {
		return c.kind
	}
	return c.kind + "-" + c.code
}

// listed are all collections: the newest edition's, then every edition's by its
// code, newest first.
func (g *gis) listed(a *featureAsk) (out []listedCollection) {
	for _, kind := range featureKinds {
		out = append(out, listedCollection{kind: kind, of: a.now.issue.Edition})
	}
	for _, e := range slices.Backward(a.now.index.Editions()) {
		for _, kind := range featureKinds {
			out = append(out, listedCollection{kind: kind, of: e, code: e.Code})
		}
	}
	return out
}

// describe is a collection in words.
func (g *gis) describe(a *featureAsk, c listedCollection) features.Collection {
	out := features.Collection{ID: c.id(), ItemType: "feature", CRS: []string{features.CRS84}, Title: a.t.lang.SayOf("features.kind", c.kind)}
	out.Description = a.t.lang.SayOf("features.about", c.kind) + " " + a.t.note(c.of)
	if c.code != "" {
		out.Title = a.t.say("features.of", "kind", out.Title, "month", a.t.lang.MonthYear(c.of.Released), "code", c.code)
	}
	at := a.base + "/collections/" + c.id()
	out.Links = append(a.leads(at, features.JSON),
		features.Link{Href: at + "/items", Rel: "items", Type: features.GeoJSON, Title: out.Title},
		features.Link{Href: at + "/items?f=html", Rel: "items", Type: features.HTML, Title: out.Title})
	return out
}

// note says of an edition what its figures are, and what is not in them.
func (t teller) note(e gazette.Edition) string {
	if e.Number == 0 {
		return t.say("features.note.blank")
	}
	return t.say("features.note", "code", e.Code, "day", t.lang.Date(e.Released), "k", e.K)
}

// citation is how an edition is named elsewhere.
func (t teller) citation(e gazette.Edition, base string) string {
	if e.Number == 0 {
		return ""
	}
	return t.say("features.citation", "program", t.about.Name, "state", t.about.State, "month", t.lang.MonthYear(e.Released), "code", e.Code, "address", base)
}

func (g *gis) collections(a *featureAsk) (any, func(shell.Page) templ.Component, error) {
	if err := features.Only(a.query); err != nil {
		return nil, nil, err
	}
	a.title = a.t.say("features.link.data")
	doc := features.Collections{Links: a.leads(a.base+"/collections", features.JSON)}
	for _, c := range g.listed(a) {
		one := g.describe(a, c)
		var err error
		if one.Extent, err = g.extent(a, c.of.Number); err != nil {
			return nil, nil, err
		}
		doc.Collections = append(doc.Collections, one)
	}
	return doc, func(p shell.Page) templ.Component { return featuresCollections(p, a.base, doc.Collections) }, nil
}

func (g *gis) collection(a *featureAsk) (any, func(shell.Page) templ.Component, error) {
	c, err := g.named(a)
	if err != nil {
		return nil, nil, err
	}
	if err := features.Only(a.query); err != nil {
		return nil, nil, err
	}
	doc := g.describe(a, c)
	doc.Extent, err = g.extent(a, c.of.Number)
	a.title = doc.Title
	return doc, func(p shell.Page) templ.Component { return featuresCollection(p, a.base, doc) }, err
}

// named is the collection that an address names.
func (g *gis) named(a *featureAsk) (listedCollection, error) {
	kind, err := g.pickCollection(a)
	if err != nil {
		return listedCollection{}, err
	}
	c := listedCollection{kind: kind, of: a.of.issue.Edition}
	if a.PathValueOf("collection") != kind {
		c.code = c.of.Code
	}
	return c, nil
}

func (g *gis) extent(a *featureAsk, no int) (*features.Extent, error) {
	box, err := g.extents.get(no, func() ([4]float64, error) { return g.Shapes.Extent(a.Context(), no) })
	if err != nil {
		return nil, err
	}
	return &features.Extent{Spatial: features.Spatial{BBox: [][4]float64{box}, CRS: features.CRS84}}, nil
}
