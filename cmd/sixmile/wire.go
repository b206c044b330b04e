package main

import (
	"context"
	"errors"
	"log/slog"
	"net/http"

	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
	"sixmile/web"
)

// site is what an installation says of itself.
type site struct {
	BaseURL string
	Secure  bool
	Log     *slog.Logger
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
	return web.New(web.Options{
		Lang: catalog.English(), About: about, Sessions: postgres.NewPeople(o.staff),
		Today: today, Ready: o.public.Ping, Log: s.Log, Unavailable: postgres.Unavailable,
	})
}
