package web

import (
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"runtime/debug"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// always are the headers of every answer. The policy allows nothing inline and
// nothing from elsewhere; typefaces may lie within our own stylesheets.
var always = map[string][]string{
	"Content-Security-Policy": {"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; " +
		"font-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"},
	"X-Content-Type-Options": {"nosniff"},
	// Addresses of answers are secrets: they go to no other site. (No referrer at
	// all would make browsers send "Origin: null" with every form.)
	"Referrer-Policy":              {"same-origin"},
	"Cross-Origin-Opener-Policy":   {"same-origin"},
	"Cross-Origin-Resource-Policy": {"same-origin"},
	"Permissions-Policy":           {"camera=(), microphone=(), geolocation=(self)"},
}

// headers puts them on. The values are shared by all answers: who changes a header
// sets it anew, as Set does.
func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		maps.Copy(w.Header(), always)
		next.ServeHTTP(w, r)
	})
}

// sameOrigin refuses posts that another site made a browser send.
func (s *server) sameOrigin(next http.Handler) http.Handler {
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.answer(w, r, http.StatusForbidden, "error.403cross")
	}))
	return guard.Handler(next)
}

// logged writes a line a request: the route as registered, never the address
// itself (answers' secrets), never who asked; and no line of a form that a grower
// fills in, because a log's clock would tell when a sample was sent in.
func (s *server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		ww := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		next.ServeHTTP(ww, r)
		shell.KeptRoute(r, pattern(r))
		hushed := s.hushed[pattern(r)]
		if s.Watch != nil {
			s.Watch(pattern(r), ww.Status(), time.Since(start), hushed)
		}
		if hushed && ww.Status() < http.StatusInternalServerError || !s.Log.Enabled(r.Context(), slog.LevelDebug) {
			return
		}
		s.Log.Debug("request", "method", r.Method, "route", pattern(r), "status", ww.Status(),
			"bytes", ww.BytesWritten(), "ms", time.Since(start).Milliseconds())
	})
}

// recovered turns a panic into an ordinary failure.
func (s *server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			v := recover()
			if v == nil {
				return
			}
			if v == http.ErrAbortHandler {
				panic(v)
			}
			s.fail(w, r, fmt.Errorf("panic: %v\n%s", v, debug.Stack()))
		}()
		next.ServeHTTP(w, r)
	})
}

// pattern is the registered route, without the values in it.
func pattern(r *http.Request) string {
	if c := chi.RouteContext(r.Context()); c != nil && c.RoutePattern() != "" {
		return c.RoutePattern()
	}
	return "(none)"
}

// staff finds who is signed in; nil for nobody.
func (s *server) staff(r *http.Request) (*account.Staff, error) {
	cookie, err := r.Cookie(shell.SessionCookie)
	if err != nil {
		return nil, nil
	}
	token, err := account.ParseToken(cookie.Value)
	if err != nil {
		return nil, nil
	}
	who, err := s.Sessions.Session(r.Context(), token, s.Today())
	if errors.Is(err, fault.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return &who, nil
}
