package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"log/slog"
	"net"
	"net/http"
	"os"
	"strings"
	"time"

	"sixmile/web"
)

type listen struct {
	Listen string `help:"Address to serve on." default:"127.0.0.1:8080" placeholder:"HOST:PORT"`
}

type serveCommand struct {
	database
	listen
	BaseURL string    `help:"Address that people use, printed in QR codes and answer links; what the browser asked for where it is not given." env:"SIXMILE_BASE_URL" placeholder:"https://HOST"`
	Secure  bool      `help:"The site is reached over https, perhaps through a proxy: cookies say so." env:"SIXMILE_SECURE"`
	Verbose bool      `help:"Log a line a request: its kind, never its address or who asked." short:"v"`
	Mail    mailFlags `embed:"" prefix:"mail-"`
	operations
}

// Run serves until it is told to stop.
func (s serveCommand) Run(ctx context.Context, c console) error {
	if err := checkZone(os.Getenv("TZ")); err != nil {
		return err
	}
	return s.with(ctx, c, func(o *opened) error {
		log := s.logger(c.err, s.Verbose)
		at := site{BaseURL: s.BaseURL, Secure: s.Secure || strings.HasPrefix(s.BaseURL, "https:"), Log: log, Only: s.Only}
		if err := s.mailed(ctx, o, &at); err != nil {
			return err
		}
		closeAll, err := s.begin(ctx, c, o, &at)
		if err != nil {
			return err
		}
		defer closeAll()
		h, err := handler(ctx, o, at)
		if err != nil {
			return err
		}
		l, err := net.Listen("tcp", s.Listen)
		if err != nil {
			return err
		}
		fmt.Fprintf(c.out, "Serving on http://%s/\n", l.Addr())
		return serve(ctx, l, h)
	})
}

func logger(w io.Writer, verbose bool) *slog.Logger {
	level := slog.LevelInfo
	if verbose {
		level = slog.LevelDebug
	}
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: level}))
}

// readHeaderWithin ends connections that say nothing.
const readHeaderWithin = 10 * time.Second

// serve answers on l until ctx ends, then lets what is under way finish.
func serve(ctx context.Context, l net.Listener, h http.Handler) error {
	srv := &http.Server{
		Handler: h, ReadHeaderTimeout: readHeaderWithin, ReadTimeout: 60 * time.Second,
		WriteTimeout: 120 * time.Second, IdleTimeout: 120 * time.Second, MaxHeaderBytes: 32 << 10,
		// What a stranger sends wrong is no news, and its address is nobody's business.
		ErrorLog: log.New(io.Discard, "", 0),
	}
	door := web.NewDoor(srv, l)
	failed := make(chan error, 1)
	go func() { failed <- srv.Serve(door) }()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	drain, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := srv.Shutdown(drain); err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	door.Wait(drain)
	return nil
}

type healthCommand struct {
	URL string `arg:"" optional:"" help:"Address of the server." default:"http://127.0.0.1:8080"`
}

// Run asks once: exit code 0 means ready.
func (h healthCommand) Run(ctx context.Context, c console) error {
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, strings.TrimRight(h.URL, "/")+"/readyz", nil)
	if err != nil {
		return err
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	if res.StatusCode != http.StatusOK {
		return fmt.Errorf("the server answered %s", res.Status)
	}
	fmt.Fprintln(c.out, "ready")
	return nil
}
