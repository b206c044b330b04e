// Package office is the staff's pages: signing in, the desk, soil coming in,
// counting, issuing bags, codes to settle, and releasing an edition. Handlers
// decode what was typed, call a store through an interface of a few methods,
// and render; what a page says is worked out by functions of their own.
package office

import (
	"context"
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

// Program tells where the program works and when.
type Program interface {
	Places(ctx context.Context) ([]place.Place, error)
	Seasons(ctx context.Context) ([]sample.Season, error)
}

// Season tells how far a season's bags have come.
type Season interface {
	Progress(ctx context.Context, season int) (desk.Progress, error)
}

// Recipes are the lab's methods and the level table in force.
type Recipes interface {
	Methods(ctx context.Context) ([]assay.Method, error)
	Scheme(ctx context.Context) (assay.Scheme, error)
}

// Deps is what the pages stand on. All of it is needed.
type Deps struct {
	Lang  *catalog.Lang
	About desk.About
	Today func() time.Time // the calendar date
	Log   *slog.Logger     // what was issued and released; never by whom
	// Secure says that browsers reach the server by https even where the server
	// itself is asked by http, behind a proxy.
	Secure bool
	// BaseURL is where growers find the server, such as https://scn.example.org:
	// it is printed on labels, in the square code that opens the form.
	BaseURL string

	Program   Program
	People    People
	Passwords Passwords
	Season    Season
	Soil      Soil
	Recipes   Recipes
	Lab       Lab
	Lots      Lots
	Queue     Queue
	Releases  Releases
}

// office is the handlers' own state beside Deps: what slows guessing down, and
// which lots were asked for already.
type office struct {
	Deps
	gate   *gate
	issued *issuedOnce
	now    func() time.Time
	sleep  func(context.Context, time.Duration) error
}

func newOffice(d Deps) *office {
	return &office{Deps: d, gate: newGate(), issued: newIssuedOnce(), now: time.Now, sleep: sleep}
}

// Routes lists the office's pages, each with who may use it.
func Routes(d Deps) []shell.Route { return newOffice(d).routes() }

func (o *office) routes() []shell.Route {
	const get, post = http.MethodGet, http.MethodPost
	return []shell.Route{
		{Method: get, Path: "/office/sign-in", May: account.Anyone, Handler: o.signInForm},
		{Method: post, Path: "/office/sign-in", May: account.Anyone, Handler: o.signInPost},
		{Method: post, Path: "/office/sign-out", May: account.SignedIn, Handler: o.signOutPost},
		{Method: get, Path: "/office", May: account.SignedIn, Handler: o.deskShow},
		{Method: get, Path: "/office/login-bags", May: account.LogBags, Handler: o.soilForm},
		{Method: post, Path: "/office/login-bags", May: account.LogBags, Handler: o.soilPost},
		{Method: get, Path: "/office/count", May: account.KeyCounts, Handler: o.countFind},
		{Method: post, Path: "/office/count", May: account.KeyCounts, Handler: o.countPost},
		{Method: post, Path: "/office/count/preview", May: account.KeyCounts, Handler: o.countPreview},
		{Method: get, Path: "/office/lots", May: account.IssueBags, Handler: o.lotsShow},
		{Method: post, Path: "/office/lots", May: account.IssueBags, Handler: o.lotsPost},
		{Method: get, Path: "/office/lots/{id}/sheets.pdf", May: account.IssueBags, Handler: o.lotSheets},
		{Method: get, Path: "/office/queue", May: account.SettleBags, Handler: o.queueShow},
		{Method: post, Path: "/office/queue", May: account.SettleBags, Handler: o.queuePost},
		{Method: get, Path: "/office/release", May: account.Release, Handler: o.releaseShow},
		{Method: post, Path: "/office/release", May: account.Release, Handler: o.releasePost},
	}
}

// page is the frame of an office page: private, and with who is signed in.
func (o *office) page(r *http.Request, title string) shell.Page {
	return shell.Page{Lang: o.Lang, About: o.About, Title: title, Area: "office", Staff: shell.Staff(r), Private: true}
}

func sleep(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
