package open

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/atlas"
	"sixmile/internal/fault"
	"sixmile/internal/features"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// Shapes reads where the places of an edition lie. Number 0: of the boundaries in
// force.
type Shapes interface {
	Extent(ctx context.Context, no int) ([4]float64, error)
	Meeting(ctx context.Context, no int, boxes [][4]float64) (map[place.ID]bool, error)
	Ground(ctx context.Context, no int, groups [][]place.ID) ([][]byte, error)
}

// featureForm is a version of what the answers look like: a new one makes kept
// copies stale.
const featureForm = "1"

// gis is the released figures as features, for programs that draw maps.
type gis struct{ *maps }

// featureRoutes are OGC API - Features; where no outlines can be read there are
// none.
func (m *maps) featureRoutes() (out []shell.Route) {
	if m.Shapes == nil {
		return nil
	}
	g := &gis{m}
	for _, route := range []struct {
		path  string
		media string
		do    featureDo
	}{
		{"", features.JSON, g.landing},
		{"/api", features.OpenAPI, g.api},
		{"/conformance", features.JSON, g.conformance},
		{"/collections", features.JSON, g.collections},
		{"/collections/{collection}", features.JSON, g.collection},
		{"/collections/{collection}/items", features.GeoJSON, g.items},
		{"/collections/{collection}/items/{feature}", features.GeoJSON, g.item},
	} {
		path, do := "/features"+route.path, featureHandler{route.media, route.do}
		out = append(out,
			shell.Route{Method: http.MethodGet, Path: path, May: account.Anyone, Handler: g.serve(do)},
			shell.Route{Method: http.MethodOptions, Path: path, May: account.Anyone, Handler: preflight})
	}
	return out
}

// featureHandler is a document with its media type.
type featureHandler struct {
	media string
	do    featureDo
}

// featureDo makes the document that is asked for, and what makes its page.
type featureDo func(a *featureAsk) (doc any, page func(shell.Page) templ.Component, err error)

// featureAsk is a request for a document.
type featureAsk struct {
	*http.Request
	t     teller
	of    *reading // the edition asked for
	now   *reading // the newest
	query url.Values
	base  string // address of the landing page
	media string
	title string // of the page
}

// errNoSuch is wrapped where a collection or a feature is not there.
var errNoSuch = errors.New("there is no such collection or feature")

// serve answers with a document in the format that is wanted.
func (g *gis) serve(h featureHandler) shell.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		open := w.Header()
		openToAll(open)
		open.Set("Cache-Control", "no-cache") // may be kept, and is asked about each time
		query, err := url.ParseQuery(r.URL.RawQuery)
		if err != nil {
			return g.refuse(w, r, features.JSON, http.StatusBadRequest, "the question cannot be read")
		}
		media, ok, err := features.Negotiate(query, r.Header.Values("Accept"), h.media, features.HTML)
		if err != nil {
			return g.refuse(w, r, features.JSON, http.StatusBadRequest, err.Error())
		}
		if !ok {
			return g.refuse(w, r, features.JSON, http.StatusNotAcceptable, "only JSON and HTML can be given")
		}
		now, t, err := g.read(r.Context())
		if err != nil {
			return err
		}
		a := &featureAsk{Request: r, t: t, of: now, now: now, query: query, base: g.base(r), media: media}
		tag := a.tag()
		open.Set("ETag", tag)
		if shell.Holds(r.Header.Values("If-None-Match"), tag) {
			w.WriteHeader(http.StatusNotModified)
			return nil
		}
		doc, page, err := h.do(a)
		var bad *features.BadRequest
		switch {
		case errors.As(err, &bad):
			return g.refuse(w, r, media, http.StatusBadRequest, bad.Error())
		case errors.Is(err, errNoSuch), errors.Is(err, fault.ErrNotFound):
			return g.refuse(w, r, media, http.StatusNotFound, errNoSuch.Error())
		case err != nil:
			open.Del("ETag")
			return err
		}
		if media == features.HTML {
			p := shell.Page{Lang: g.Lang, About: g.About, Title: a.title, Area: "map", Wide: true}
			return shell.Render(w, r, http.StatusOK, page(p))
		}
		return writeJSON(w, r, http.StatusOK, media, doc)
	}
}

// openToAll lets programs in pages of other sites read the answer: everything in
// it is public, and no cookie goes with it.
func openToAll(h http.Header) {
	h.Add("Vary", "Accept")
	h.Set("Access-Control-Allow-Origin", "*")
	h.Set("Access-Control-Expose-Headers", "ETag")
	h.Set("Cross-Origin-Resource-Policy", "cross-origin")
}

// preflight answers a browser that asks first.
func preflight(w http.ResponseWriter, _ *http.Request) error {
	openToAll(w.Header())
	w.Header().Set("Access-Control-Allow-Methods", "GET, HEAD, OPTIONS")
	w.Header().Set("Access-Control-Allow-Headers", "Accept, Accept-Language, If-None-Match")
	w.Header().Set("Access-Control-Max-Age", "86400")
	w.Header().Set("Allow", "GET, HEAD, OPTIONS")
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// tag names what an answer is made of: the editions that stand, every figure
// taken back, the places, and what was asked. It is known before the answer is made.
func (a *featureAsk) tag() string {
	v := a.now.version
	h := fnv.New64a()
	fmt.Fprintf(h, "%s %d %d %d %x %s %s %s %q", featureForm, v.Number, v.Withdrawn, v.Recalled, a.now.places, a.media, a.base, a.t.lang.Key(), a.URL.RequestURI())
	code := a.now.issue.Edition.Code
	if code == "" {
		code = "0"
	}
	return `W/"` + code + "-" + strconv.Itoa(v.Withdrawn) + "-" + strconv.Itoa(v.Recalled) + "-" + strconv.FormatUint(h.Sum64(), 36) + `"`
}

// placesOf is a digest of what an office may change of places while an edition
// stands: what they are called and, before the first, where they lie.
func placesOf(i *gazette.Issue) uint64 {
	h := fnv.New64a()
	of := func(p place.Place, o atlas.Shape) {
		fmt.Fprintf(h, "%d %q %q %q ", p.ID, p.Code, p.Name, p.Slug)
		if i.Edition.Number == 0 {
			fmt.Fprint(h, o)
		}
	}
	for _, c := range i.Counties {
		of(c.Place, c.Outline)
		for _, t := range c.Townships {
			of(t.Place, t.Outline)
		}
	}
	return h.Sum64()
}

// refuse answers in the format that is wanted.
func (g *gis) refuse(w http.ResponseWriter, r *http.Request, media string, status int, why string) error {
	w.Header().Del("ETag")
	w.Header().Set("Cache-Control", "no-store")
	code := map[int]string{http.StatusBadRequest: "InvalidParameterValue", http.StatusNotFound: "NotFound", http.StatusNotAcceptable: "NotAcceptable"}[status]
	if media != features.HTML {
		return writeJSON(w, r, status, features.JSON, features.Exception{Code: code, Description: why})
	}
	p := shell.Page{Lang: g.Lang, About: g.About, Title: g.Lang.SayOf("features.refused", strconv.Itoa(status)), Private: true}
	return shell.Render(w, r, status, shell.Notice(p, p.Title, why))
}

func writeJSON(w http.ResponseWriter, r *http.Request, status int, media string, doc any) error {
	b, ready := doc.([]byte)
	if !ready {
		var err error
		if b, err = json.Marshal(doc); err != nil {
			return err
		}
	}
	w.Header().Set("Content-Type", media)
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(b) // a reader who has gone cannot be answered
	}
	return nil
}

// base is the address of the landing page as the world reaches it, in the
// language of the page.
func (g *gis) base(r *http.Request) string {
	return strings.TrimRight(originOf(g.BaseURL, r), "/") + shell.Path(g.Lang, "/features")
}

// pickCollection settles which edition and kind of feature a collection is: the
// kind alone is the newest edition's, with a code after it that edition's.
func (g *gis) pickCollection(a *featureAsk) (kind string, err error) {
	id := chi.URLParam(a.Request, "collection")
	kind, code, older := strings.Cut(id, "-")
	known := false
	for _, k := range featureKinds {
		known = known || k == kind
	}
	if !known {
		return "", errNoSuch
	}
	if !older {
		return kind, nil
	}
	for _, e := range a.now.index.Editions() {
		if e.Code == code && e.Number > 0 {
			a.of, err = g.room.edition(a.Context(), g.Editions, a.now, code)
			if err == nil {
				a.t.x = a.of.index
			}
			return kind, err
		}
	}
	return "", errNoSuch
}
