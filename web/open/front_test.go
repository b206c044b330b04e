package open

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/gazette"
	"sixmile/web"
	"sixmile/web/shell"
)

// TestFront holds the answers of the server's front to published pages against
// those of the server behind it: every header and every byte, in every coding and
// language, and nothing after it has changed.
func TestFront(t *testing.T) {
	old, fresh := inventedIssue(), inventedIssue()
	fresh.Edition.Number, fresh.Edition.Code = old.Edition.Number+1, "NEXT-22"
	s := newSite(old)
	served := func() (http.Handler, *int) {
		all, asked := NewMaps(MapDeps{About: desk.About{Name: "Sixmile", State: "Aldermark"}, Editions: s.store, Offices: s.offices,
			Today: s.today, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Now: s.clock.now}), 0
		count := func(next shell.Handler) shell.Handler {
			return func(w http.ResponseWriter, r *http.Request) error { asked++; return next(w, r) }
		}
		h, err := web.New(web.Options{Lang: catalog.English(), Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Today: s.today,
			Ready: func(context.Context) error { return nil }, Unavailable: func(error) bool { return false },
			Public: func(l *catalog.Lang) []shell.Route {
				routes := all.Routes(l)
				for i := range routes {
					routes[i].Handler = count(routes[i].Handler)
				}
				return routes
			}})
		require.NoError(t, err)
		return h, &asked
	}
	h, made := served()
	other, _ := served() // its pages are remembered with their first whole answers only
	get := func(h http.Handler, path, coding, tag string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodGet, path, nil)
		r.Header.Set("Accept-Encoding", coding)
		if tag != "" {
			r.Header.Set("If-None-Match", tag)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	same := func(a, b *httptest.ResponseRecorder, what string) {
		t.Helper()
		require.Equal(t, a.Code, b.Code, what)
		require.Equal(t, a.Header(), b.Header(), what)
		require.True(t, a.Body.String() == b.Body.String(), what)
	}
	for _, path := range []string{"/", "/map.svg", "/county/plover", "/es/county/plover",
		"/county/plover/map.svg?paper=phone&ink=1", "/county/plover/meeting.html"} {
		for _, coding := range []string{"", "gzip, deflate", "gzip, br"} {
			behind := get(h, path, coding, "")
			require.Equal(t, http.StatusOK, behind.Code, path)
			so := *made
			same(behind, get(h, path, coding, ""), path)
			tag := behind.Header().Get("ETag")
			front := get(h, path, coding, tag)
			require.Equal(t, so, *made, "%s was remembered", path)
			same(get(other, path, coding, tag), front, path)
		}
	}
	before := get(h, "/county/plover", "", "").Body.String()
	s.day = s.day.AddDate(0, 0, 1) // the office's last day has passed
	require.False(t, before == get(h, "/county/plover", "", "").Body.String())
	s.store.issue = func(no int) *gazette.Issue { return fresh }
	s.store.no.Store(int32(fresh.Edition.Number))
	require.Contains(t, get(h, "/county/plover", "", "").Header().Get("ETag"), "NEXT-22")
}
