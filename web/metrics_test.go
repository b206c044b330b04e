package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// The text format: https://prometheus.io/docs/instrumenting/exposition_formats/,
// "Text-based format": name{label="value",...} number.
var sampleLine = regexp.MustCompile(`^[a-z_:][a-z0-9_:]*(\{([a-z_]+="([^"\\]|\\.)*",?)*\})? [0-9.eE+NaInf-]+$`)

func TestMetricsTellRoutesAndNothingOfAnybody(t *testing.T) {
	m := NewMeter("test", func() time.Time { return time.Date(2026, 11, 14, 0, 0, 0, 0, time.UTC) }, map[string]func() Pool{"public": func() Pool { return Pool{InUse: 1, Idle: 2, Most: 3} }})
	m.Gauge("backup_age_days", "Age.", func() float64 { return 2 })
	o := options(io.Discard, nil,
		route("GET", "/answer/{secret}", account.Anyone, nil), route("GET", "/send", account.Anyone, nil),
		route("POST", "/send", account.Anyone, nil), route("GET", "/broken", account.Anyone, errors.New("x")),
		route("GET", "/none", account.Anyone, fault.ErrNotFound))
	o.Watch = m.Watch
	h, err := New(o)
	require.NoError(t, err)
	for _, path := range []string{"/answer/very-secret-token?q=very-secret-token", "/send", "/broken", "/none", "/very-secret-token", "/static/site.css?very-secret-token"} {
		ask(t, h, httptest.NewRequest("GET", path, nil))
	}
	ask(t, h, httptest.NewRequest("POST", "/send", strings.NewReader("very-secret-token")))
	ask(t, h, httptest.NewRequest("VERYSECRETMETHOD", "/send", nil))
	_, text := ask(t, m.Handler(), httptest.NewRequest("GET", "/metrics", nil))
	require.Contains(t, text, `sixmile_answers_total{route="/answer/{secret}",went="ok"} 1`)
	require.Contains(t, text, `sixmile_answers_total{route="/broken",went="failed"} 1`)
	require.Contains(t, text, `sixmile_answers_total{route="/none",went="refused"} 1`)
	require.Contains(t, text, `sixmile_answers_total{route="/send",went="ok"} 2`, "looked at and sent are one")
	require.Contains(t, text, `sixmile_connections{pool="public",state="in_use"} 1`)
	require.Contains(t, text, `sixmile_backup_age_days 2`)
	require.NotContains(t, strings.ToLower(text), "secret-token")
	require.NotContains(t, strings.ToLower(text), "verysecretmethod")
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); !strings.HasPrefix(line, "#") {
			require.Regexp(t, sampleLine, line)
		}
	}
}

// A log line and a counter that is read every few seconds are clocks. Of a grower's
// form they tell nothing before the day is over, whatever was done there, and after
// it no more than its sums; what failed is told at once, and stored nothing.
func TestNoClockOnAGrowersForm(t *testing.T) {
	day := time.Date(2026, 11, 14, 0, 0, 0, 0, time.UTC)
	m := NewMeter("test", func() time.Time { return day }, nil)
	var log bytes.Buffer
	hush := func(r shell.Route) shell.Route { r.Hushed = true; return r }
	o := options(&log, nil, hush(route("GET", "/send", account.Anyone, nil)), hush(route("POST", "/send", account.Anyone, nil)),
		hush(route("GET", "/answer/{secret}", account.Anyone, fault.ErrNotFound)), hush(route("POST", "/answer", account.Anyone, errGone)),
		hush(route("GET", "/left", account.Anyone, context.Canceled)), route("GET", "/bags", account.Anyone, nil))
	o.Watch = m.Watch
	h, err := New(o)
	require.NoError(t, err)
	numbers := func() string {
		_, text := ask(t, m.Handler(), httptest.NewRequest("GET", "/metrics", nil))
		var ours []string
		for line := range strings.Lines(text) {
			if strings.HasPrefix(line, "sixmile_answer") {
				ours = append(ours, line)
			}
		}
		return strings.Join(ours, "")
	}
	ask(t, h, httptest.NewRequest("GET", "/bags", nil))
	require.Contains(t, log.String(), "route=/bags", "the log is on")
	before, lines := numbers(), log.String()
	for range 3 {
		ask(t, h, httptest.NewRequest("GET", "/send", nil))
		ask(t, h, httptest.NewRequest("POST", "/send", nil))
		ask(t, h, httptest.NewRequest("GET", "/answer/x", nil))
		gone, leave := context.WithCancel(context.Background())
		leave()
		require.PanicsWithValue(t, http.ErrAbortHandler, func() {
			h.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest("GET", "/left", nil).WithContext(gone))
		})
		require.Equal(t, before, numbers())
		require.Equal(t, lines, log.String())
	}
	ask(t, h, httptest.NewRequest("POST", "/answer", nil))
	require.Contains(t, numbers(), `sixmile_answers_total{route="/answer",went="failed"} 1`)
	require.Contains(t, log.String(), "route=/answer")
	day = day.AddDate(0, 0, 1)
	after := numbers()
	require.Contains(t, after, `sixmile_answers_total{route="/send",went="ok"} 6`, "looked at and sent are one")
	require.Contains(t, after, `sixmile_answers_total{route="/answer/{secret}",went="refused"} 3`)
	require.Contains(t, after, `sixmile_answer_seconds_count{route="/answer/{secret}"} 3`)
	ask(t, h, httptest.NewRequest("POST", "/send", nil))
	require.Equal(t, after, numbers(), "the next day is not over")
}

func TestLiveWithoutADatabaseAndReadyWithOneOnly(t *testing.T) {
	o := options(io.Discard, nil)
	away := errors.New("dial /run/secret-socket")
	o.Ready = func(context.Context) error { return away }
	h, err := New(o)
	require.NoError(t, err)
	for path, want := range map[string]int{"/livez": 200, "/readyz": 503, "/healthz": 503} {
		res, body := ask(t, h, httptest.NewRequest("GET", path, nil))
		require.Equal(t, want, res.StatusCode, path)
		require.Equal(t, "no-store", res.Header.Get("Cache-Control"), path)
		require.NotContains(t, body, "secret-socket")
	}
	away = nil
	res, _ := ask(t, h, httptest.NewRequest("GET", "/readyz", nil))
	require.Equal(t, 200, res.StatusCode)
}

// A handler that waits for the database is ended by the request's own limit.
func TestRequestsHaveALimit(t *testing.T) {
	var left []time.Duration
	o := options(io.Discard, &account.Staff{Role: account.Coordinator})
	for path, may := range map[string]account.Action{"/x": account.Anyone, "/office/x": account.Release} {
		o.Routes = append(o.Routes, shell.Route{Method: "GET", Path: path, May: may, Handler: func(_ http.ResponseWriter, r *http.Request) error {
			at, ok := r.Context().Deadline()
			require.True(t, ok)
			left = append(left, time.Until(at))
			return fmt.Errorf("store: %w", context.DeadlineExceeded)
		}})
	}
	o.Unavailable = func(err error) bool { return errors.Is(err, context.DeadlineExceeded) }
	h, err := New(o)
	require.NoError(t, err)
	res, _ := ask(t, h, httptest.NewRequest("GET", "/x", nil))
	require.Equal(t, 503, res.StatusCode)
	require.NotEmpty(t, res.Header.Get("Retry-After"))
	r := httptest.NewRequest("GET", "/office/x", nil)
	r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: account.Token{}.String()})
	ask(t, h, r)
	require.Len(t, left, 2)
	require.LessOrEqual(t, left[0], patience)
	require.Greater(t, left[1], patience)
	require.LessOrEqual(t, left[1], officePatience)
}
