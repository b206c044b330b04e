package web

import (
	"bytes"
	"log/slog"
	"maps"
	"net/http"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"

	"sixmile/web/shell"
)

// front answers published pages before anything else looks at the request.
//
// A published page is the same bytes for everybody until the next edition, and
// most requests are for one of them. What the rest of the server does for such a
// request is always the same: routes, policy, language, headers. So the front
// lets the first request for an address and a content coding through, remembers
// the answer as it went out, headers and all, and gives the same again for as
// long as the page says that it stands (shell.Keep). An answer of the front is
// the answer of the server behind it because it is one; TestFront holds every
// header and byte of the two against each other.
//
// Nothing but what pages keep with shell.Keep is ever remembered, so forms,
// answers and the office go through as if the front were not there. Requests
// that the server might answer otherwise go through too: other methods than GET,
// and browsers that ask for another language at an address that says none.
// The door asks the front before net/http does.
type front struct {
	*server
	behind http.Handler
	pages  *lru.Cache[asking, *remembered]
}

// keptAnswers bounds what the front remembers. Bodies are those of the pages'
// own shelf; who asks for many addresses in vain only makes others' first.
const keptAnswers = 500

// asking is what tells remembered answers apart: the address as it was asked
// for, query and all, and the coding.
type asking struct{ path, raw, query, coding string }

// remembered is an answer as it went out.
type remembered struct {
	shell.Kept
	whole     http.Header // of the page
	unchanged http.Header // of the answer that the reader has it already
	// The same two as they go out, from the status line on.
	wholeHead, unchangedHead []byte
	tongue                   bool // the address says no language
}

func newFront(s *server, behind http.Handler) http.Handler {
	pages, err := lru.New[asking, *remembered](keptAnswers)
	if err != nil {
		panic(err) // only for a size under one
	}
	return &front{s, behind, pages}
}

func (f *front) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet {
		f.behind.ServeHTTP(w, r)
		return
	}
	begun := time.Now()
	key := asking{r.URL.Path, r.URL.RawPath, r.URL.RawQuery, shell.Coding(r.Header["Accept-Encoding"])}
	if p, ok := f.pages.Get(key); ok && !(p.tongue && asked(r) != nil) {
		if p.Stands(r.Context()) {
			f.tell(r, p, p.send(w, r), begun)
			return
		}
		f.pages.Remove(key)
	}
	f.through(w, r, key)
}

// send answers and says with which status. The values of the headers are shared
// by all answers; nothing after this changes them.
func (p *remembered) send(w http.ResponseWriter, r *http.Request) int {
	if tags := r.Header["If-None-Match"]; tags != nil && shell.Holds(tags, p.Tag) {
		maps.Copy(w.Header(), p.unchanged)
		w.WriteHeader(http.StatusNotModified)
		return http.StatusNotModified
	}
	maps.Copy(w.Header(), p.whole)
	_, _ = w.Write(p.Body) // a reader who has gone cannot be answered
	return http.StatusOK
}

// tell counts and logs the answer as server.logged does.
func (f *front) tell(r *http.Request, p *remembered, status int, begun time.Time) {
	hushed := f.hushed[p.Route]
	if f.Watch != nil {
		f.Watch(p.Route, status, time.Since(begun), hushed)
	}
	if !hushed && f.Log.Enabled(r.Context(), slog.LevelDebug) {
		bytes := 0
		if status == http.StatusOK {
			bytes = len(p.Body)
		}
		f.Log.Debug("request", "method", r.Method, "route", p.Route, "status", status,
			"bytes", bytes, "ms", time.Since(begun).Milliseconds())
	}
}

// known is the remembered answer to a request that the door has read: its status
// line and headers without the date, and its body, nil for a reader who has it.
// Nil: the server has to answer.
func (f *front) known(r *http.Request) (p *remembered, head, body []byte) {
	key := asking{r.URL.Path, r.URL.RawPath, r.URL.RawQuery, shell.Coding(r.Header["Accept-Encoding"])}
	p, ok := f.pages.Get(key)
	if !ok || p.tongue && asked(r) != nil || !p.Stands(r.Context()) {
		return nil, nil, nil
	}
	if tags := r.Header["If-None-Match"]; tags != nil && shell.Holds(tags, p.Tag) {
		return p, p.unchangedHead, nil
	}
	return p, p.wholeHead, p.Body
}

// through has the server answer, and remembers what may be kept.
func (f *front) through(w http.ResponseWriter, r *http.Request, key asking) {
	kept, day := shell.Kept{}, f.Today()
	f.behind.ServeHTTP(w, shell.WithKept(r, &kept))
	// A page that was not sent whole has no length: the reader had it, or it
	// became an error after all.
	if kept.Stands == nil || w.Header().Get("Content-Length") == "" || w.Header().Get("Content-Encoding") != key.coding {
		return
	}
	// Midnight came while it was made: nobody knows of which day it is.
	if !f.Today().Equal(day) {
		return
	}
	p := &remembered{Kept: kept, whole: w.Header().Clone()}
	p.unchanged = p.whole.Clone()
	for _, of := range []string{"Content-Type", "Content-Length", "Content-Encoding"} {
		delete(p.unchanged, of)
	}
	p.wholeHead, p.unchangedHead = headOf("200 OK", p.whole), headOf("304 Not Modified", p.unchanged)
	l, _ := shell.TongueOf(r.URL.Path)
	p.tongue = l == nil
	f.pages.Add(key, p)
}

func headOf(status string, h http.Header) []byte {
	var b bytes.Buffer
	b.WriteString("HTTP/1.1 " + status + "\r\n")
	_ = h.Write(&b) // a buffer takes everything
	return b.Bytes()
}
