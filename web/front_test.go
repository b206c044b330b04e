package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/web/shell"
)

// kept is a site with one page that is kept, of which stands says for how long,
// and one that is not.
type kept struct {
	http.Handler
	made   atomic.Int32 // pages that were made rather than remembered
	stands atomic.Bool
	mu     sync.Mutex
	told   []string
	log    bytes.Buffer
}

func newKept(t testing.TB, length int) *kept {
	s := &kept{}
	s.stands.Store(true)
	o := options(&s.log, nil)
	o.Watch = func(route string, status int, _ time.Duration, _ bool) {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.told = append(s.told, fmt.Sprint(route, " ", status))
	}
	o.Public = func(l *catalog.Lang) []shell.Route {
		page := func(keep bool) shell.Handler {
			return func(w http.ResponseWriter, r *http.Request) error {
				n := s.made.Add(1)
				body := []byte(fmt.Sprintf("%d %s %s", n, l.Key(), strings.Repeat("x", length)))
				if keep {
					shell.Keep(r, shell.Kept{Tag: `W/"tag"`, Body: body, Stands: func(context.Context) bool { return s.stands.Load() }})
				}
				w.Header().Set("ETag", `W/"tag"`)
				w.Header().Set("Content-Type", "text/plain")
				if c := shell.Coding(r.Header.Values("Accept-Encoding")); c != "" {
					w.Header().Set("Content-Encoding", c)
				}
				if shell.Holds(r.Header.Values("If-None-Match"), `W/"tag"`) {
					w.WriteHeader(http.StatusNotModified)
					return nil
				}
				w.Header().Set("Content-Length", strconv.Itoa(len(body)))
				_, err := w.Write(body)
				return err
			}
		}
		return []shell.Route{
			{Method: "GET", Path: "/county/{slug}", May: account.Anyone, Handler: page(true)},
			{Method: "GET", Path: "/answer/{secret}", May: account.Anyone, Handler: page(false)},
			{Method: "POST", Path: "/form", May: account.Anyone, Handler: func(w http.ResponseWriter, r *http.Request) error {
				b, err := io.ReadAll(r.Body)
				w.Header().Set("Content-Length", strconv.Itoa(len(b)))
				_, _ = w.Write(b)
				return err
			}},
		}
	}
	var err error
	s.Handler, err = New(o)
	require.NoError(t, err)
	return s
}

func (s *kept) get(t *testing.T, path string, headers ...string) (*http.Response, string) {
	r := httptest.NewRequest("GET", path, nil)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Add(headers[i], headers[i+1])
	}
	return ask(t, s, r)
}

func TestFrontGivesKeptPagesAgainWhileTheyStand(t *testing.T) {
	s := newKept(t, 5)
	first, body := s.get(t, "/county/x")
	again, same := s.get(t, "/county/x")
	require.EqualValues(t, 1, s.made.Load())
	require.Equal(t, body, same)
	require.Equal(t, first.Header, again.Header)
	require.NotEmpty(t, again.Header.Get("Content-Security-Policy"))

	res, body := s.get(t, "/county/x", "If-None-Match", `W/"tag"`)
	require.Equal(t, http.StatusNotModified, res.StatusCode)
	require.Empty(t, body)
	require.Empty(t, res.Header.Get("Content-Length"))
	require.EqualValues(t, 1, s.made.Load())

	for i, other := range [][]string{{"/county/x?q=1"}, {"/county/x", "Accept-Encoding", "gzip"}, {"/county/x", "Accept-Encoding", "br"}, {"/county/y"}, {"/es/county/x"}} {
		_, got := s.get(t, other[0], other[1:]...)
		require.NotEqual(t, body, got)
		require.EqualValues(t, i+2, s.made.Load(), "another answer: %v", other)
	}
	// A request that a program makes itself, without a server.
	r, err := http.NewRequest("GET", "http://x/county/z", nil)
	require.NoError(t, err)
	_, got := ask(t, s, r)
	require.NotEqual(t, body, got)
	s.stands.Store(false)
	_, fresh := s.get(t, "/county/x")
	require.NotEqual(t, same, fresh, "at once")
}

func TestFrontCountsAndLogsAsTheServerDoes(t *testing.T) {
	s := newKept(t, 5)
	for range 2 {
		s.get(t, "/county/secret")
	}
	s.get(t, "/county/secret", "If-None-Match", `W/"tag"`)
	require.Equal(t, []string{"/county/{slug} 200", "/county/{slug} 200", "/county/{slug} 304"}, s.told)
	lines := strings.Split(strings.TrimSpace(s.log.String()), "\n")
	require.Len(t, lines, 3)
	cut := func(line string) string {
		line, _, _ = strings.Cut(line[strings.Index(line, "level="):], " ms=")
		return line
	}
	require.Equal(t, cut(lines[0]), cut(lines[1]))
	require.NotContains(t, s.log.String(), "secret")
}

func TestFrontLetsThroughWhatTheServerMightAnswerOtherwise(t *testing.T) {
	s := newKept(t, 5)
	s.get(t, "/county/x")
	spanish := browser("/county/x", "es-MX,es;q=0.9")
	res, _ := ask(t, s, spanish)
	require.Equal(t, http.StatusFound, res.StatusCode)
	require.Equal(t, "/es/county/x", res.Header.Get("Location"))
	res, _ = ask(t, s, browser("/county/x", "en-US,en;q=0.9"))
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.EqualValues(t, 1, s.made.Load())
	for _, method := range []string{"HEAD", "POST", "DELETE"} {
		s.told = nil
		res, _ = ask(t, s, httptest.NewRequest(method, "/county/x", nil))
		require.Equal(t, method == "HEAD", res.StatusCode == http.StatusOK, method)
	}
	for range 2 {
		s.get(t, "/answer/x")
	}
	require.EqualValues(t, 4, s.made.Load(), "one for HEAD, and each answer is made anew")
	// The reader has it already at the first request: there is nothing whole to remember.
	s = newKept(t, 5)
	res, _ = s.get(t, "/county/x", "If-None-Match", `W/"tag"`)
	require.Equal(t, http.StatusNotModified, res.StatusCode)
	_, body := s.get(t, "/county/x")
	require.NotEmpty(t, body)
}

// A page that midnight came over while it was made may be of either day: the next
// reader's is made anew.
func TestFrontKeepsNothingFromBetweenTwoDays(t *testing.T) {
	s := newKept(t, 5)
	day := s.Handler.(*front).Today()
	s.Handler.(*front).Today = func() time.Time { return day.AddDate(0, 0, int(min(s.made.Load(), 1))) }
	for range 3 {
		s.get(t, "/county/x")
	}
	require.EqualValues(t, 2, s.made.Load(), "the second is of one day")
}
