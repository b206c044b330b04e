// Package shell is what every page stands in: its route with its policy, the
// frame around its content, and the way an error becomes an answer.
package shell

import (
	"bytes"
	"context"
	"net/http"

	"github.com/a-h/templ"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
)

// Handler answers a request or returns an error, which one table turns into an
// answer (package web).
type Handler func(w http.ResponseWriter, r *http.Request) error

// Route is an address, who may use it, and what answers there. A route without
// a known action keeps the program from starting.
type Route struct {
	Method  string
	Path    string // a chi pattern
	May     account.Action
	Handler Handler
	// MaxBody is the most bytes a request may carry, where it is more than a form
	// needs: a file. Zero: as much as any form.
	MaxBody int64
	// Hushed: what a grower does here is known by the day, as samples are. The log
	// has no line of it unless it failed, and the numbers of a day are published
	// when the day is over.
	Hushed bool
}

// Page is what the frame needs to know.
type Page struct {
	Lang  *catalog.Lang
	About desk.About
	Title string // the page's own title
	// Area marks the current entry of the navigation: map, send, bags, help, office.
	Area  string
	Staff *account.Staff // nil on public pages
	// Address is the page's own, without a language. In the office it is without
	// what was asked, and marks the current entry of the menu. On public pages it
	// leads to the page in other languages; a page that is rendered for one request
	// need not say it.
	Address string
	// Wide lets the content use the whole width, for maps and tables.
	Wide bool
	// Private pages are never indexed or cached.
	Private bool
	// Scripts are files of package static, all of them optional to the page.
	Scripts []string
}

// office tells whether a page has the office's look; others do without its rules.
func (p Page) office() bool { return p.Staff != nil || p.Area == "office" }

// Say is the catalog's sentence for key.
func (p Page) Say(key string, args ...any) string { return p.Lang.Say(key, args...) }

// SayOf is the sentence for a key whose last part is known only at run time.
func (p Page) SayOf(area, name string, args ...any) string { return p.Lang.SayOf(area, name, args...) }

// Count is the sentence for key in the plural form of n.
func (p Page) Count(key string, n int, args ...any) string { return p.Lang.Count(key, n, args...) }

// Render writes a component with a status, whole or not at all: a page that
// fails half way becomes a clean error.
func Render(w http.ResponseWriter, r *http.Request, status int, c templ.Component) error {
	var buf bytes.Buffer
	if t, ok := r.Context().Value(tongueKey{}).(tongue); ok {
		c = inTongue(t.lang, c) // for what stands in no frame
	}
	// A request that has waited too long for the database is still answered.
	if err := c.Render(context.WithoutCancel(r.Context()), &buf); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	if r.Method == http.MethodHead {
		return nil
	}
	_, err := w.Write(buf.Bytes())
	if err != nil {
		return nil // the reader has gone; nothing can be answered
	}
	return nil
}

// Frame is the whole document around a page's content.
func Frame(p Page) templ.Component { return inTongue(p.Lang, frame(p)) }

type staffKey struct{}

// WithStaff puts the signed-in person into a request's context: pages show who
// it is, stores note on whose behalf they work.
func WithStaff(ctx context.Context, s *account.Staff) context.Context {
	return context.WithValue(account.As(ctx, s.ID), staffKey{}, s)
}

// Staff is the signed-in person; nil on public pages.
func Staff(r *http.Request) *account.Staff {
	s, _ := r.Context().Value(staffKey{}).(*account.Staff)
	return s
}

// SessionCookie is the name of the only cookie there is. It goes to /office and
// nowhere else, so public pages never see one.
const SessionCookie = "sixmile_office"
