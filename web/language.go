package web

import (
	"net/http"
	"strings"

	"sixmile/internal/catalog"
	"sixmile/web/shell"
)

// addPublic adds the public pages in every language: at addresses that say one,
// and at those that say none, where a reader whose browser asks for another
// language than English is sent to it.
func (s *server) addPublic(all *routing) error {
	if s.Public == nil {
		return nil
	}
	for _, l := range shell.Tongues() {
		for _, route := range s.Public(l) {
			h := inTongue(l, s.serve(route))
			if l.Prefix() == "" {
				h = negotiated(h)
			}
			route.Path = l.Prefix() + route.Path
			if err := all.add(route, h); err != nil {
				return err
			}
		}
		if p := l.Prefix(); p != "" {
			all.r.Get(p, func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, p+"/", http.StatusMovedPermanently) })
		}
	}
	return nil
}

// inTongue tells a page which language its address says, and keeps to it when
// the page sends the reader on.
func inTongue(l *catalog.Lang, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		address := ""
		if reads(r) {
			address = strings.TrimPrefix(r.URL.RequestURI(), l.Prefix())
		}
		if l.Prefix() != "" {
			w = &onward{ResponseWriter: w, lang: l}
		}
		next.ServeHTTP(w, r.WithContext(shell.WithTongue(r.Context(), l, address)))
	})
}

// onward gives the address that a reader is sent on to the language of the page.
type onward struct {
	http.ResponseWriter
	lang *catalog.Lang
}

// WriteHeader sends the status, and with it the address as it has become.
func (o *onward) WriteHeader(status int) {
	if to := o.Header().Get("Location"); to != "" {
		o.Header().Set("Location", shell.Path(o.lang, to))
	}
	o.ResponseWriter.WriteHeader(status)
}

// Unwrap lets http.ResponseController see what is below.
func (o *onward) Unwrap() http.ResponseWriter { return o.ResponseWriter }

// negotiated sends a reader on whose browser asks for a page in a language other
// than English (RFC 9110, section 12.1). Programs that fetch figures, and posts,
// are answered as they asked; keepers of copies are told what the answer hangs on.
func negotiated(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if reads(r) {
			w.Header().Add("Vary", "Accept, Accept-Language")
			if l := asked(r); l != nil {
				w.Header().Set("Cache-Control", "no-store") // the address may be a secret
				http.Redirect(w, r, shell.Path(l, r.URL.RequestURI()), http.StatusFound)
				return
			}
		}
		next.ServeHTTP(w, r)
	})
}

// asked is the language other than English that a browser asks for a page in.
func asked(r *http.Request) *catalog.Lang {
	if !strings.Contains(r.Header.Get("Accept"), "text/html") {
		return nil
	}
	l := catalog.Choose(strings.Join(r.Header.Values("Accept-Language"), ","))
	if l.Code() == catalog.English().Code() {
		return nil
	}
	return l.At("/" + l.Code())
}

func reads(r *http.Request) bool { return r.Method == http.MethodGet || r.Method == http.MethodHead }

// lang is the language for telling a reader that something went wrong: what the
// address says, or what the browser asks for. The office is in its own.
func (s *server) lang(w http.ResponseWriter, r *http.Request) *catalog.Lang {
	if l, _ := shell.TongueOf(r.URL.Path); l != nil {
		return l
	}
	if s.Public == nil || r.URL.Path == "/office" || strings.HasPrefix(r.URL.Path, "/office/") {
		return s.Lang
	}
	w.Header().Add("Vary", "Accept, Accept-Language")
	if l := asked(r); l != nil {
		return l
	}
	return s.Lang
}
