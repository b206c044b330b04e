package web

import (
	"context"
	"crypto/rand"
	"errors"
	"net"
	"net/http"

	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// answers is the one table that turns errors into answers. What is not in it
// is our fault: 500, logged with its cause, shown without it.
var answers = []struct {
	is     error
	status int
	key    string // of the sentences under error.
}{
	{fault.ErrNotFound, http.StatusNotFound, "error.404"},
	{fault.ErrForbidden, http.StatusForbidden, "error.403"},
	{fault.ErrConflict, http.StatusConflict, "error.409"},
	{shell.ErrCutShort, http.StatusBadRequest, "error.400"},
	{fault.ErrUnavailable, http.StatusServiceUnavailable, "error.503"},
	{fault.ErrBusy, http.StatusServiceUnavailable, "error.busy"},
}

// fail answers a request whose handler gave up.
func (s *server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var tooLarge *http.MaxBytesError
	switch {
	case left(r, err):
		if !s.hushed[pattern(r)] {
			s.Log.Debug("the reader left", "route", pattern(r))
		}
		// Nothing written would go out as an empty page that is all right.
		panic(http.ErrAbortHandler)
	case errors.As(err, &tooLarge):
		s.answer(w, r, http.StatusRequestEntityTooLarge, "error.413")
		return
	}
	for _, a := range answers {
		if errors.Is(err, a.is) {
			s.answer(w, r, a.status, a.key)
			return
		}
	}
	if s.Unavailable != nil && s.Unavailable(err) {
		s.Log.Warn("database unavailable", "route", pattern(r), "error", err)
		w.Header().Set("Retry-After", "30")
		s.answer(w, r, http.StatusServiceUnavailable, "error.503")
		return
	}
	id := rand.Text()[:8]
	s.Log.Error("request failed", "id", id, "route", pattern(r), "error", err)
	s.answer(w, r, http.StatusInternalServerError, "error.500", "id", id)
}

// left tells that an error is of the reader's own connection, which is no more or is
// too slow. What a connection says of its end names who asked: no log may have it.
func left(r *http.Request, err error) bool {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return true
	}
	var own *net.OpError
	return errors.As(err, &own) && own.Addr != nil && own.Addr.String() == r.RemoteAddr
}

// answer writes a page of one heading and one paragraph.
func (s *server) answer(w http.ResponseWriter, r *http.Request, status int, key string, args ...any) {
	w.Header().Set("Cache-Control", "no-store")
	lang := s.lang(w, r)
	p := shell.Page{Lang: lang, About: s.About, Title: lang.Say(key + ".head"), Private: true, Staff: shell.Staff(r)}
	if err := shell.Render(w, r, status, shell.Notice(p, p.Title, lang.Say(key+".text", args...))); err != nil {
		s.Log.Error("the page for an error failed", "error", err)
		http.Error(w, lang.Say("error.500.head"), http.StatusInternalServerError)
	}
}
