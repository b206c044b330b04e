package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

var errGone = errors.New("dial /run/secret-socket: connection refused")

// staffed answers for one signed-in person.
type staffed struct{ who *account.Staff }

func (s staffed) Session(context.Context, account.Token, time.Time) (account.Staff, error) {
	if s.who == nil {
		return account.Staff{}, fault.ErrNotFound
	}
	return *s.who, nil
}

func options(log io.Writer, who *account.Staff, routes ...shell.Route) Options {
	return Options{
		Lang: catalog.English(), About: desk.About{Name: "Soil Watch", State: "Nowhere"}, Routes: routes,
		Sessions: staffed{who}, Today: func() time.Time { return time.Date(2026, 11, 14, 0, 0, 0, 0, time.UTC) },
		Ready: func(context.Context) error { return nil }, Log: slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug})),
		Unavailable: func(err error) bool { return errors.Is(err, errGone) },
	}
}

func route(method, path string, may account.Action, err error) shell.Route {
	return shell.Route{Method: method, Path: path, May: may, Handler: func(w http.ResponseWriter, r *http.Request) error {
		if _, e := io.ReadAll(r.Body); e != nil {
			return e
		}
		if err == nil {
			fmt.Fprint(w, "here")
		}
		return err
	}}
}

func ask(t *testing.T, h http.Handler, r *http.Request) (*http.Response, string) {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	b, err := io.ReadAll(w.Result().Body)
	require.NoError(t, err)
	return w.Result(), string(b)
}

func TestARouteWithoutAPolicyDoesNotStart(t *testing.T) {
	_, err := New(options(io.Discard, nil, route("GET", "/x", "", nil)))
	require.ErrorContains(t, err, "no known action")
	_, err = New(options(io.Discard, nil, route("GET", "/x", "whatever", nil)))
	require.ErrorContains(t, err, "no known action")
	_, err = New(options(io.Discard, nil, route("GET", "/x", account.Anyone, nil), route("GET", "/x", account.Anyone, nil)))
	require.ErrorContains(t, err, "twice")
}

func TestEveryAnswerHasTheHeaders(t *testing.T) {
	h, err := New(options(io.Discard, nil, route("GET", "/x", account.Anyone, nil), route("GET", "/broken", account.Anyone, errors.New("x"))))
	require.NoError(t, err)
	for _, path := range []string{"/x", "/nothing", "/broken", "/static/site.css", "/healthz"} {
		res, _ := ask(t, h, httptest.NewRequest("GET", path, nil))
		csp := res.Header.Get("Content-Security-Policy")
		require.Contains(t, csp, "default-src 'none'", path)
		require.NotContains(t, csp, "unsafe", path)
		require.Equal(t, "nosniff", res.Header.Get("X-Content-Type-Options"), path)
		require.Equal(t, "same-origin", res.Header.Get("Referrer-Policy"), path)
		require.Empty(t, res.Header.Get("Set-Cookie"), path)
	}
}

func TestErrorsBecomeAnswersWithoutInternals(t *testing.T) {
	secret := errors.New(`pq: relation "priv.sample" at /srv/secret`)
	for name, c := range map[string]struct {
		err    error
		status int
	}{
		"not found":   {fmt.Errorf("store: %w", fault.ErrNotFound), 404},
		"forbidden":   {fault.ErrForbidden, 403},
		"conflict":    {fault.ErrConflict, 409},
		"unavailable": {errGone, 503},
		"ours":        {secret, 500},
	} {
		t.Run(name, func(t *testing.T) {
			var log bytes.Buffer
			h, err := New(options(&log, nil, route("GET", "/x/{id}", account.Anyone, c.err)))
			require.NoError(t, err)
			res, body := ask(t, h, httptest.NewRequest("GET", "/x/very-secret-token?also=secret", nil))
			require.Equal(t, c.status, res.StatusCode)
			require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
			doc, err := goquery.NewDocumentFromReader(strings.NewReader(body))
			require.NoError(t, err)
			require.Equal(t, 1, doc.Find("main h1").Length())
			require.NotContains(t, body, "secret")
			require.NotContains(t, body, "priv.")
			require.NotContains(t, log.String(), "very-secret-token", "the log never holds an address")
			if c.status == 500 {
				require.Contains(t, log.String(), "priv.sample", "the log holds the cause")
			}
		})
	}
}

func TestAPanicIsAnOrdinaryFailure(t *testing.T) {
	h, err := New(options(io.Discard, nil, shell.Route{Method: "GET", Path: "/x", May: account.Anyone,
		Handler: func(http.ResponseWriter, *http.Request) error { panic("boom at secret.go") }}))
	require.NoError(t, err)
	res, body := ask(t, h, httptest.NewRequest("GET", "/x", nil))
	require.Equal(t, 500, res.StatusCode)
	require.NotContains(t, body, "boom")
}

func TestPostsFromOtherSitesAreRefused(t *testing.T) {
	h, err := New(options(io.Discard, nil, route("POST", "/x", account.Anyone, nil)))
	require.NoError(t, err)
	post := func(set func(h http.Header)) int {
		r := httptest.NewRequest("POST", "http://soil.example/x", strings.NewReader("a=b"))
		set(r.Header)
		res, _ := ask(t, h, r)
		return res.StatusCode
	}
	require.Equal(t, 403, post(func(h http.Header) { h.Set("Sec-Fetch-Site", "cross-site") }))
	require.Equal(t, 403, post(func(h http.Header) { h.Set("Origin", "http://other.example") }))
	require.Equal(t, 403, post(func(h http.Header) { h.Set("Origin", "null") }))
	require.Equal(t, 200, post(func(h http.Header) { h.Set("Origin", "http://soil.example") }), "plain http, no Sec-Fetch-Site")
	require.Equal(t, 200, post(func(h http.Header) { h.Set("Sec-Fetch-Site", "same-origin") }))
	require.Equal(t, 200, post(func(http.Header) {}))
}

func TestBodiesAreBounded(t *testing.T) {
	h, err := New(options(io.Discard, nil, route("POST", "/x", account.Anyone, nil)))
	require.NoError(t, err)
	res, body := ask(t, h, httptest.NewRequest("POST", "/x", strings.NewReader(strings.Repeat("a", maxBody+1))))
	require.Equal(t, 413, res.StatusCode)
	require.Contains(t, body, "too large")
}

func TestStrangersAreSentToSignIn(t *testing.T) {
	h, err := New(options(io.Discard, nil, route("GET", "/office/x", account.Release, nil), route("POST", "/office/x", account.Release, nil)))
	require.NoError(t, err)
	res, _ := ask(t, h, httptest.NewRequest("GET", "/office/x", nil))
	require.Equal(t, 303, res.StatusCode)
	to, err := url.Parse(res.Header.Get("Location"))
	require.NoError(t, err)
	require.Equal(t, "/office/sign-in", to.Path)
	require.Equal(t, "/office/x", to.Query().Get("to"))
	res, _ = ask(t, h, httptest.NewRequest("POST", "/office/x", nil))
	require.Equal(t, 303, res.StatusCode)

	h, err = New(options(io.Discard, &account.Staff{Role: account.Technician}, route("GET", "/office/x", account.Release, nil)))
	require.NoError(t, err)
	r := httptest.NewRequest("GET", "/office/x", nil)
	r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: account.Token{}.String()})
	res, _ = ask(t, h, r)
	require.Equal(t, 403, res.StatusCode)
	require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
}

func TestHealth(t *testing.T) {
	o := options(io.Discard, nil)
	o.Ready = func(context.Context) error { return errGone }
	h, err := New(o)
	require.NoError(t, err)
	res, body := ask(t, h, httptest.NewRequest("GET", "/healthz", nil))
	require.Equal(t, 503, res.StatusCode)
	require.NotContains(t, body, "secret")
}

// A route that takes files says how much it takes; the others stay as they are.
func TestARouteMaySayHowMuchItTakes(t *testing.T) {
	files := route("POST", "/file", account.Anyone, nil)
	files.MaxBody = 3 * maxBody
	h, err := New(options(io.Discard, nil, files, route("POST", "/x", account.Anyone, nil)))
	require.NoError(t, err)
	for path, most := range map[string]int{"/file": 3 * maxBody, "/x": maxBody} {
		for extra, status := range []int{200, 413} {
			res, _ := ask(t, h, httptest.NewRequest("POST", path, strings.NewReader(strings.Repeat("a", most+extra))))
			require.Equal(t, status, res.StatusCode, "%s and %d more", path, extra)
		}
	}
}

// Answers come in a coding that the reader takes: RFC 9110, sections 12.5.3 and, for
// what deflate is, 8.4.1.2.
func TestAnswersComeInACodingThatIsTaken(t *testing.T) {
	h, err := New(options(io.Discard, nil, shell.Route{Method: "GET", Path: "/x", May: account.Anyone, Handler: func(w http.ResponseWriter, _ *http.Request) error {
		w.Header().Set("Content-Type", "text/html")
		_, err := io.WriteString(w, "<p>here</p>")
		return err
	}}))
	require.NoError(t, err)
	for accept, want := range map[string]string{
		"": "", "gzip": "gzip", "br, GZIP": "gzip", "gzip;q=0": "", "identity, gzip; q=0.0": "", "identity;q=0.5, gzip;q=0.8": "gzip",
		"deflate": "", "x-gzipped": "", "br": "",
	} {
		r := httptest.NewRequest("GET", "/x", nil)
		r.Header.Set("Accept-Encoding", accept)
		res, body := ask(t, h, r)
		require.Equal(t, want, res.Header.Get("Content-Encoding"), accept)
		require.Equal(t, want == "", body == "<p>here</p>", accept)
	}
	// A part of a file is a part of the file, whoever weighs.
	r := httptest.NewRequest("GET", "/static/site.css", nil)
	r.Header.Set("Accept-Encoding", "gzip;q=1.0")
	r.Header.Set("Range", "bytes=0-9")
	res, body := ask(t, h, r)
	require.Equal(t, 206, res.StatusCode)
	require.Empty(t, res.Header.Get("Content-Encoding"))
	require.Len(t, body, 10)
}

// Every address that can be read takes HEAD too, and one that does not take a method
// says which it does: RFC 9110, sections 9.1 and 15.5.6.
func TestMethods(t *testing.T) {
	h, err := New(options(io.Discard, nil, route("GET", "/x/{id}", account.Anyone, nil), route("POST", "/x/{id}", account.Anyone, nil)))
	require.NoError(t, err)
	for _, path := range []string{"/x/1", "/static/site.css", "/livez", "/readyz", "/healthz"} {
		res, _ := ask(t, h, httptest.NewRequest("HEAD", path, nil))
		require.Equal(t, 200, res.StatusCode, path)
	}
	for path, want := range map[string]string{"/x/1": "GET, HEAD, POST", "/livez": "GET, HEAD"} {
		res, _ := ask(t, h, httptest.NewRequest("DELETE", path, nil))
		require.Equal(t, 405, res.StatusCode, path)
		require.Equal(t, want, res.Header.Get("Allow"), path)
	}
}
