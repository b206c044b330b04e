package open

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// Intake takes a visit's bags and gives one answer.
type Intake interface {
	Take(ctx context.Context, v sample.Visit, today time.Time) error
	Answer(ctx context.Context, s sample.Secret) (sample.Answer, error)
}

// Ground is what the form's rules need to know of the world.
type Ground interface {
	Places(ctx context.Context) ([]place.Place, error)
	Seasons(ctx context.Context) ([]sample.Season, error)
}

// Offices lists where bags are.
type Offices interface {
	Offices(ctx context.Context) ([]desk.Office, error)
}

// Ends gives, by fall, the day on which its answers are forgotten: those that
// wait for a map are kept until they are on one.
type Ends interface {
	SeasonEnds(ctx context.Context) (map[int]time.Time, error)
}

// Levels are the level table in force and the lab's methods by their number.
type Levels interface {
	Scheme(ctx context.Context) (assay.Scheme, error)
	Methods(ctx context.Context) (map[int]assay.Method, error)
}

// GrowerDeps is what the grower's pages are made of.
type GrowerDeps struct {
	Lang  *catalog.Lang
	About desk.About
	Today func() time.Time // the calendar date
	Log   *slog.Logger
	// Random is where visit tokens are drawn from: crypto/rand.Reader.
	Random io.Reader
	// BaseURL is how the world reaches this server, such as
	// "https://soil.example.org", for the links on receipts. Empty: as the
	// request came in.
	BaseURL string
	// Unavailable recognizes the errors of a database that cannot be reached.
	Unavailable func(error) bool

	Intake  Intake
	Ground  Ground
	Offices Offices
	Levels  Levels
	// Drawings gives the county's map to stand on an answer; nil where it has only
	// the link.
	Drawings Drawings
	// Stubs gives answers to a bag's code and its stub's words.
	Stubs Stubs
	// Ends says how long answers can be opened; nil where no page is to say.
	Ends Ends
	// Names finds places by what people call them; nil where only the lists are
	// to be offered.
	Names PlaceNames
}

// grower holds the handlers.
type grower struct {
	GrowerDeps
	known    *knownGround
	outlines *knownOutlines
}

// GrowerRoutes are the pages of a grower, all of them public.
func GrowerRoutes(d GrowerDeps) []shell.Route {
	if d.Unavailable == nil {
		d.Unavailable = func(error) bool { return false }
	}
	g := &grower{d, &knownGround{store: d.Ground, ends: d.Ends, now: time.Now, unavailable: d.Unavailable}, &knownOutlines{store: d.Names}}
	route := func(method, path string, h shell.Handler) shell.Route {
		return shell.Route{Method: method, Path: path, May: account.Anyone, Handler: h}
	}
	hushed := func(method, path string, h shell.Handler) shell.Route {
		return shell.Route{Method: method, Path: path, May: account.Anyone, Handler: h, Hushed: true}
	}
	return []shell.Route{
		hushed(http.MethodGet, "/send", g.sendForm),
		hushed(http.MethodPost, "/send", g.sendPost),
		hushed(http.MethodGet, "/send/townships", g.sendTownships),
		hushed(http.MethodGet, "/send/map", g.sendMap),
		hushed(http.MethodGet, "/places/outlines.json", g.placeOutlines),
		hushed(http.MethodGet, "/answer", g.stubForm),
		hushed(http.MethodPost, "/answer", g.stubPost),
		hushed(http.MethodGet, "/answer/{secret}", g.answer),
		route(http.MethodGet, "/bags", g.bags),
		route(http.MethodGet, "/help", g.help),
		route(http.MethodGet, "/help/words", g.words),
		route(http.MethodGet, "/help/grower", g.guideGrower),
		route(http.MethodGet, "/help/mapping", g.guideMapping),
	}
}

// page is the frame's part of a grower's page.
func (g *grower) page(title, area string) shell.Page {
	return shell.Page{Lang: g.Lang, About: g.About, Title: title, Area: area}
}

// origin is how a reader reaches this server. What the request says of it can
// mislead nobody but the one who sent it.
func (g *grower) origin(r *http.Request) string {
	return originOf(g.BaseURL, r)
}

// originOf is how the world reaches the server: as it was told, or as the request
// came in.
func originOf(base string, r *http.Request) string {
	switch {
	case base != "":
		return base
	case r.TLS != nil, r.Header.Get("X-Forwarded-Proto") == "https":
		return "https://" + r.Host
	}
	return "http://" + r.Host
}
