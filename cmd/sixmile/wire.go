package main

import (
	"context"
	"crypto/rand"
	"errors"
	"log/slog"
	"net/http"
	"slices"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/postgres"
	"sixmile/web"
	"sixmile/web/office"
	"sixmile/web/open"
	"sixmile/web/shell"
)

// site is what an installation says of itself.
type site struct {
	BaseURL string
	Secure  bool
	Log     *slog.Logger
	Only    string         // "public", "office", or both where it is empty
	Replica *postgres.Pool // where editions are read; nil: from the database itself
	Mail    office.Mail    // nil: none is sent
	Watch   func(route string, status int, took time.Duration, hushed bool)
}

// editions are what the public pages read.
func (s site) editions(o *opened) open.Editions {
	if s.Replica != nil {
		return postgres.NewFollowed(o.public, s.Replica)
	}
	return postgres.NewPublished(o.public)
}

// handler joins stores and pages: the one place where they meet.
func handler(ctx context.Context, o *opened, s site) (http.Handler, error) {
	about, err := postgres.NewProgram(o.public).About(ctx)
	if errors.Is(err, fault.ErrNotFound) {
		return nil, errors.New("the program has no name yet: run sixmile found first")
	}
	if err != nil {
		return nil, err
	}
	lang := catalog.English()
	public := postgres.NewProgram(o.public)
	grower := open.GrowerDeps{
		About: about, Today: today, Log: s.Log, Random: rand.Reader, BaseURL: s.BaseURL,
		Unavailable: postgres.Unavailable,
		Intake:      postgres.NewIntake(o.public), Ground: public, Offices: public, Levels: postgres.NewLevels(o.public),
		Ends: public, Stubs: postgres.NewIntake(o.public), Names: postgres.NewPlaceNames(o.public),
	}
	maps := open.NewMaps(open.MapDeps{About: about, Editions: s.editions(o), Shapes: postgres.NewPublished(o.public), BaseURL: s.BaseURL, Offices: public, Log: s.Log, Today: today,
		Years: open.YearDeps{Land: postgres.NewLand(o.public), Seasons: postgres.NewAnnual(o.public)}})
	looks := open.NewLooks(open.LookDeps{About: about, Today: today, Outlooks: postgres.NewOutlooks(o.public), Table: postgres.NewLevels(o.public)})
	pages := func(l *catalog.Lang) []shell.Route {
		in := grower
		in.Lang, in.Drawings = l, maps
		return slices.Concat(open.GrowerRoutes(in), maps.Routes(l), looks.Routes(l))
	}
	lab, bags, people := postgres.NewLab(o.staff), postgres.NewBags(o.staff), postgres.NewPeople(o.staff)
	program, counter := postgres.NewProgram(o.staff), postgres.NewCounter(o.staff)
	desk := office.Routes(office.Deps{
		Lang: lang, About: about, Today: today, Log: s.Log, Secure: s.Secure, BaseURL: s.BaseURL, Mail: s.Mail,
		Program: program, Offices: program, Passwords: account.NewHasher(),
		Yearbook: yearbook(o),
		Season:   lab, Soil: postgres.NewTrays(o.staff), Recipes: recipes{postgres.NewLevels(o.staff)}, Lab: lab,
		Lots: bags, Queue: bags, Releases: postgres.NewReleases(o.staff), Sheets: maps,
		Counter: counter, Answers: counter, Trail: postgres.NewTrail(o.staff), Newest: s.editions(o),
		Outlooks: postgres.NewOutlooks(o.staff),
		Bench:    bench(o),
		Ground:   ground(o),
		Purse:    purse(o),
		Planning: planning(o),
		Before:   before(o),
		Analysis: analysis{postgres.NewAnalysis(o.staff), postgres.NewLevels(o.staff)},
		Ledger:   ledger(o),
		Staff: office.Staff{
			People: people, Steps: people, Seconds: people, Sessions: people, OwnPassword: people,
			Invites: people, Roster: people, Access: people, House: people, Addresses: people, Resets: people,
		},
	})
	if s.Only == "office" {
		pages = nil
	}
	if s.Only == "public" {
		desk = nil
	}
	return web.New(web.Options{
		Lang: lang, About: about, Routes: desk, Public: pages, Sessions: people,
		Today: today, Ready: o.public.Ping, Log: s.Log, Unavailable: postgres.Unavailable, Watch: s.Watch,
	})
}

// before is the store of the years before the program.
func before(o *opened) office.Before {
	history := postgres.NewHistory(o.staff)
	return office.Before{PastGround: history, PastLoads: history}
}

// ledger is what the office does with what was released.
func ledger(o *opened) office.Ledger {
	recalls := postgres.NewRecalls(o.staff)
	return office.Ledger{Editions: postgres.NewEditions(o.staff), Withdrawals: recalls, Recalls: recalls, Errata: recalls}
}

// ground is places, outlines and reference layers.
func ground(o *opened) office.Ground {
	b := postgres.NewBoundaries(o.staff)
	return office.Ground{Stages: stages{b}, Surveys: b, Sets: b, GroundOf: b, RefLayers: b}
}

// stages tells pages how far the store has come.
type stages struct{ *postgres.Boundaries }

func (s stages) Stage(ctx context.Context, in geofile.Set, day time.Time, tell func(string, float64)) (geofile.Ticket, geofile.Inspection, error) {
	return s.Telling(tell).Stage(ctx, in, day)
}

func (s stages) AcceptStaged(ctx context.Context, t geofile.Ticket, day time.Time, tell func(string, float64)) (desk.Accepted, error) {
	return s.Telling(tell).AcceptStaged(ctx, t, day)
}

// recipes gives the office the methods in their order.
type recipes struct{ *postgres.Levels }

func (r recipes) Methods(ctx context.Context) ([]assay.Method, error) { return r.List(ctx) }

// analysis is the office's own results with the methods they name.
type analysis struct {
	*postgres.Analysis
	levels *postgres.Levels
}

func (a analysis) Methods(ctx context.Context) (map[int]assay.Method, error) {
	return a.levels.Methods(ctx)
}
