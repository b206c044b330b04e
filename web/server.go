// Package web puts the routes of the public pages and of the office together
// with what every request goes through: policy, headers, limits, and the one
// table that turns errors into answers.
package web

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/klauspost/compress/gzip"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/static"
	"sixmile/web/shell"
)

// Sessions finds who a browser's token belongs to.
type Sessions interface {
	Session(ctx context.Context, t account.Token, today time.Time) (account.Staff, error)
}

// Options are what a server is made of.
type Options struct {
	Lang   *catalog.Lang
	About  desk.About
	Routes []shell.Route // those that are in one language: the office's
	// Public makes the pages that are in every language, for one of them.
	Public   func(*catalog.Lang) []shell.Route
	Sessions Sessions
	Today    func() time.Time // the calendar date
	// Ready tells whether the database answers, for health checks.
	Ready func(ctx context.Context) error
	Log   *slog.Logger
	// Unavailable recognizes the errors of a database that cannot be reached.
	Unavailable func(error) bool
	// Watch is told of every answer: the registered route, never the address. Nil:
	// nobody counts. What is hushed must not be told before its day is over.
	Watch func(route string, status int, took time.Duration, hushed bool)
}

// maxBody bounds what a form may send; a route that takes files says how much.
const maxBody = 1 << 20

// How long a request may wait for the database before it is answered that the
// database is away: under the server's write timeout. The office releases and
// takes in files.
const (
	patience       = 10 * time.Second
	officePatience = 100 * time.Second
)

// sendingWithin is how long a file may take to come: the largest over a line on which
// little goes up.
const sendingWithin = 10 * time.Minute

type server struct {
	Options
	hushed map[string]bool // patterns of routes that say so
}

// New makes the handler. It refuses routes without a known action, and two
// routes at one address.
func New(o Options) (http.Handler, error) {
	s := &server{o, map[string]bool{}}
	r := chi.NewRouter()
	r.Use(s.logged, s.recovered, headers, s.sameOrigin)
	all := &routing{r: r, seen: map[string]bool{}, hushed: s.hushed}
	for _, route := range o.Routes {
		if err := all.add(route, s.serve(route)); err != nil {
			return nil, err
		}
	}
	if err := s.addPublic(all); err != nil {
		return nil, err
	}
	for path, h := range map[string]http.Handler{"/static/*": static.Handler(), "/livez": http.HandlerFunc(live),
		"/readyz": http.HandlerFunc(s.ready), "/healthz": http.HandlerFunc(s.ready)} {
		r.Method(http.MethodGet, path, h)
		r.Method(http.MethodHead, path, h)
	}
	r.NotFound(func(w http.ResponseWriter, r *http.Request) { s.answer(w, r, 404, "error.404") })
	r.MethodNotAllowed(func(w http.ResponseWriter, asked *http.Request) {
		w.Header().Set("Allow", allowed(r, asked.URL))
		s.answer(w, asked, 405, "error.405")
	})
	return newFront(s, packed(r)), nil
}

// allowed are the methods that an address takes (RFC 9110, section 15.5.6).
func allowed(r chi.Routes, u *url.URL) string {
	path := cmp.Or(u.RawPath, u.Path, "/")
	var out []string
	for _, method := range []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodOptions} {
		if r.Match(chi.NewRouteContext(), method, path) {
			out = append(out, method)
		}
	}
	return strings.Join(out, ", ")
}

// packed compresses what is made for one reader in passing, where the quickest level
// takes a third of the time for a tenth more bytes. Published pages come packed.
func packed(h http.Handler) http.Handler {
	c := middleware.NewCompressor(gzip.BestSpeed, "text/html", "text/css", "text/javascript", "image/svg+xml",
		"application/json", "application/geo+json", "application/vnd.oai.openapi+json")
	// Not the standard library's: this one takes a third of its time.
	c.SetEncoder("gzip", func(w io.Writer, level int) io.Writer {
		z, err := gzip.NewWriterLevel(w, level)
		if err != nil {
			return nil // only for a level that there is not
		}
		return z
	})
	squeezed := c.Handler(h)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// The compressor takes any mention of a coding for a wish, one that rules it out
		// too, and has deflate other than RFC 9110 (8.4.1.2) has it. Files under static
		// are packed already, and may be asked for in part.
		if strings.HasPrefix(r.URL.Path, "/static/") || !shell.TakesGzip(r.Header.Get("Accept-Encoding")) {
			h.ServeHTTP(w, r)
			return
		}
		squeezed.ServeHTTP(w, r)
	})
}

// routing refuses what would leave an address without a policy, or with two
// meanings.
type routing struct {
	r      chi.Router
	seen   map[string]bool
	hushed map[string]bool
}

func (a *routing) add(route shell.Route, h http.Handler) error {
	if !route.May.Known() {
		return fmt.Errorf("route %s %s names no known action", route.Method, route.Path)
	}
	at := route.Method + " " + route.Path
	if a.seen[at] {
		return fmt.Errorf("route %s stands twice", at)
	}
	a.seen[at] = true
	if route.Hushed {
		a.hushed[route.Path] = true
	}
	a.r.Method(route.Method, route.Path, h)
	if route.Method == http.MethodGet && !a.seen[http.MethodHead+" "+route.Path] {
		a.seen[http.MethodHead+" "+route.Path] = true
		a.r.Method(http.MethodHead, route.Path, h)
	}
	return nil
}

// serve checks a route's policy, runs its handler and answers its error.
func (s *server) serve(route shell.Route) http.Handler {
	most := int64(maxBody)
	if route.MaxBody > 0 {
		most = route.MaxBody
	}
	wait := patience
	if route.May != account.Anyone {
		wait = officePatience
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		came := r.Context()
		ctx, cancel := context.WithTimeout(came, wait)
		defer cancel()
		r = r.WithContext(ctx)
		r.Body = http.MaxBytesReader(w, r.Body, most)
		if route.May != account.Anyone {
			w.Header().Set("Cache-Control", "no-store")
			who, err := s.staff(r)
			if err != nil {
				s.fail(w, r, err)
				return
			}
			if who == nil {
				if r.Method != http.MethodPost {
					toSignIn(w, r)
				} else if err := s.ended(w, r, route); err != nil {
					s.fail(w, r, err)
				}
				return
			}
			r = r.WithContext(shell.WithStaff(r.Context(), who))
			switch {
			case who.May(route.May):
			case who.Owes:
				http.Redirect(w, r, "/office/me/second", http.StatusSeeOther)
				return
			default:
				s.answer(w, r, http.StatusForbidden, "error.403")
				return
			}
		}
		if route.MaxBody > 0 {
			long, cancel := unhurried(w, r, wait)
			defer cancel()
			defer context.AfterFunc(came, cancel)() // the sender left
			r = r.WithContext(long)
		}
		if err := route.Handler(w, r); err != nil {
			s.fail(w, r, err)
		}
	})
}

// unhurried lets a file come, and what is done with it afterwards have the time that
// any request has.
func unhurried(w http.ResponseWriter, r *http.Request, wait time.Duration) (context.Context, context.CancelFunc) {
	// Where the server cannot, its usual times hold.
	now, c := time.Now(), http.NewResponseController(w)
	_ = c.SetReadDeadline(now.Add(sendingWithin))
	_ = c.SetWriteDeadline(now.Add(sendingWithin + 2*wait))
	return context.WithTimeout(context.WithoutCancel(r.Context()), sendingWithin+wait)
}

// toSignIn sends a stranger to the sign-in page, which leads back here.
func toSignIn(w http.ResponseWriter, r *http.Request) {
	http.Redirect(w, r, "/office/sign-in?to="+r.URL.EscapedPath(), http.StatusSeeOther)
}
