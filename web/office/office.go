// Package office is the staff's pages: signing in, the desk, soil coming in,
// counting, issuing bags, codes to settle, and releasing an edition. Handlers
// decode what was typed, call a store through an interface of a few methods,
// and render; what a page says is worked out by functions of their own.
package office

import (
	"context"
	"log/slog"
	"net/http"
	"slices"
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
	// Mail sends letters to staff; nil: there is no mail server. With one, BaseURL is
	// set: an address that a request names must not get into a letter.
	Mail Mail

	Program   Program
	Offices   Offices
	Passwords Passwords
	Season    Season
	Soil      Soil
	Recipes   Recipes
	Lab       Lab
	Lots      Lots
	Queue     Queue
	Releases  Releases
	Sheets    Sheets
	Ledger
	Counter Counter
	Answers Answers
	Trail   Trail
	Newest  Newest
	Before
	// Outlooks are the figures of the public look-ahead.
	Outlooks Outlooks
	Analysis Analysis
	Bench
	Ground
	Staff
	Purse
	Yearbook
	Planning
}

// Ledger is what was released, and how it is taken back.
type Ledger struct {
	Editions    Editions
	Withdrawals Withdrawals
	Recalls     Recalls
	Errata      Errata
}

// Before is what the years before the program stand on: one store in real work.
type Before struct {
	PastGround PastGround
	PastLoads  PastLoads
}

// Staff is who works here and how they get in: one store in real work.
type Staff struct {
	People      People
	Steps       Steps
	Seconds     Seconds
	Sessions    Sessions
	OwnPassword OwnPassword
	Invites     Invites
	Roster      Roster
	Access      Access
	House       House
	Addresses   Addresses
	Resets      Resets
}

// office is the handlers' own state beside Deps: what slows guessing down.
type office struct {
	Deps
	fronts    frontKeeper
	gate      *gate // at passwords
	codes     *gate // at codes of the second step
	asks      *gate // at links by mail
	underWay  chan struct{}
	later     func(func(context.Context)) // does something after the answer
	drafts    shelf[draftState]           // files that were sent and are not taken yet
	pastFiles shelf[pastState]            // the same of past results
	files     lane                        // in which both are read and stored
	almanac   almanac                     // the newest edition, made ready for plans
	plats     *plats                      // boundary files, and what is done with them
	summaries shelf[summaryState]         // copies of the annual summary
	copies    lane                        // in which they are made
	now       func() time.Time
	sleep     func(context.Context, time.Duration) error
}

func newOffice(d Deps) *office {
	o := &office{Deps: d, gate: newGate(longestGap), codes: newGate(longestCodeGap), asks: newGate(longestAskGap), underWay: make(chan struct{}, mostLetters),
		drafts: shelf[draftState]{most: mostDrafts}, pastFiles: shelf[pastState]{most: mostPastFiles, lasts: pastPatience}, files: newLane(),
		plats: newPlats(), summaries: shelf[summaryState]{most: mostSummaries}, copies: newLane(), now: time.Now, sleep: sleep}
	o.later = o.aside
	return o
}

// Routes lists the office's pages, each with who may use it.
func Routes(d Deps) []shell.Route { return newOffice(d).routes() }

func (o *office) routes() []shell.Route {
	const get, post = http.MethodGet, http.MethodPost
	routes := slices.Concat(o.benchRoutes(), o.groundRoutes(), o.historyRoutes(), o.analysisRoutes(), o.annualRoutes(), o.helpRoutes(), []shell.Route{
		{Method: get, Path: "/office/sign-in", May: account.Anyone, Handler: o.signInForm},
		{Method: post, Path: "/office/sign-in", May: account.Anyone, Handler: o.signInPost},
		{Method: get, Path: "/office/sign-in/second", May: account.Anyone, Handler: o.signInSecond},
		{Method: post, Path: "/office/sign-in/second", May: account.Anyone, Handler: o.signInSecondPost},
		{Method: get, Path: "/office/welcome/{link}", May: account.Anyone, Handler: o.linkForm(o.welcome)},
		{Method: post, Path: "/office/welcome/{link}", May: account.Anyone, Handler: o.linkPost(o.welcome)},
		{Method: get, Path: "/office/forgot", May: account.Anyone, Handler: o.forgotForm},
		{Method: post, Path: "/office/forgot", May: account.Anyone, Handler: o.forgotPost},
		{Method: get, Path: "/office/reset/{link}", May: account.Anyone, Handler: o.linkForm(o.reset)},
		{Method: post, Path: "/office/reset/{link}", May: account.Anyone, Handler: o.linkPost(o.reset)},
		{Method: post, Path: "/office/sign-out", May: account.OwnAccount, Handler: o.signOutPost},
		{Method: get, Path: "/office/me", May: account.OwnAccount, Handler: o.ownShow},
		{Method: post, Path: "/office/me", May: account.OwnAccount, Handler: o.ownPost},
		{Method: get, Path: "/office/me/second", May: account.OwnAccount, Handler: o.enrollForm},
		{Method: post, Path: "/office/me/second", May: account.OwnAccount, Handler: o.enrollPost},
		{Method: get, Path: "/office", May: account.SignedIn, Handler: o.deskShow},
		{Method: get, Path: "/office/counter", May: account.HandOut, Handler: o.counterShow},
		{Method: post, Path: "/office/counter", May: account.HandOut, Handler: o.counterPost},
		{Method: get, Path: "/office/counter/answer", May: account.PrintAnswer, Handler: o.answerForm},
		{Method: post, Path: "/office/counter/answer", May: account.PrintAnswer, Handler: o.answerPost},
		{Method: get, Path: "/office/login-bags", May: account.LogBags, Handler: o.soilForm},
		{Method: post, Path: "/office/login-bags", May: account.LogBags, Handler: o.soilPost},
		{Method: get, Path: "/office/count", May: account.KeyCounts, Handler: o.countFind},
		{Method: post, Path: "/office/count", May: account.KeyCounts, Handler: o.countPost},
		{Method: post, Path: "/office/count/preview", May: account.KeyCounts, Handler: o.countPreview},
		{Method: get, Path: "/office/lots", May: account.IssueBags, Handler: o.lotsShow},
		{Method: post, Path: "/office/lots", May: account.IssueBags, Handler: o.lotsPost},
		{Method: get, Path: "/office/lots/{id}/sheets.pdf", May: account.IssueBags, Handler: o.lotSheets},
		{Method: get, Path: "/office/plan", May: account.PlanBags, Handler: o.planShow},
		{Method: post, Path: "/office/plan", May: account.PlanBags, Handler: o.bagPlanPost},
		{Method: get, Path: "/office/plan/{no}", May: account.PlanBags, Handler: o.planSaved},
		{Method: get, Path: "/office/plan/{no}/plan.csv", May: account.PlanBags, Handler: o.planFile},
		{Method: get, Path: "/office/plan/{no}/map/{county}", May: account.PlanBags, Handler: o.planMap},
		{Method: get, Path: "/office/lookback", May: account.PlanBags, Handler: o.lookbackShow},
		{Method: get, Path: "/office/money", May: account.KeepMoney, Handler: o.moneyShow},
		{Method: post, Path: "/office/money", May: account.KeepMoney, Handler: o.moneyPost},
		{Method: get, Path: "/office/money.csv", May: account.KeepMoney, Handler: o.moneyFile},
		{Method: get, Path: "/office/edge", May: account.SeeEdge, Handler: o.edgeShow},
		{Method: get, Path: "/office/queue", May: account.SettleBags, Handler: o.queueShow},
		{Method: post, Path: "/office/queue", May: account.SettleBags, Handler: o.queuePost},
		{Method: get, Path: "/office/release", May: account.Release, Handler: o.releaseShow},
		{Method: post, Path: "/office/release", May: account.Release, Handler: o.releasePost},
		{Method: get, Path: "/office/sheet", May: account.OwnSheets, Handler: o.sheetShow},
		{Method: post, Path: "/office/sheet", May: account.OwnSheets, Handler: o.sheetPost},
		{Method: get, Path: "/office/recall", May: account.Release, Handler: o.recallShow},
		{Method: post, Path: "/office/recall", May: account.Release, Handler: o.recallPost},
		{Method: get, Path: "/office/editions", May: account.Release, Handler: o.editionsShow},
		{Method: post, Path: "/office/editions", May: account.Release, Handler: o.editionsPost},
		{Method: get, Path: "/office/editions/{number}/text", May: account.Release, Handler: o.editionText},
		{Method: get, Path: "/office/people", May: account.ManagePeople, Handler: o.peopleShow},
		{Method: post, Path: "/office/people", May: account.ManagePeople, Handler: o.peoplePost},
		{Method: get, Path: "/office/people/{id}", May: account.ManagePeople, Handler: o.personShow},
		{Method: post, Path: "/office/people/{id}", May: account.ManagePeople, Handler: o.personPost},
		{Method: get, Path: "/office/look-ahead", May: account.KeepRecipes, Handler: o.paramsShow},
		{Method: post, Path: "/office/look-ahead", May: account.KeepRecipes, Handler: o.paramsPost},
		{Method: get, Path: "/office/trail", May: account.SeeTrail, Handler: o.trailShow},
		{Method: get, Path: "/office/trail.csv", May: account.SeeTrail, Handler: o.trailFile},
	})
	for i := range routes {
		routes[i].Handler = o.orLack(routes[i])
	}
	return routes
}

// page is the frame of an office page: private, and with who is signed in.
func (o *office) page(r *http.Request, title string) shell.Page {
	return shell.Page{Lang: o.Lang, About: o.About, Title: title, Area: "office", Staff: shell.Staff(r), Address: r.URL.Path, Private: true}
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
