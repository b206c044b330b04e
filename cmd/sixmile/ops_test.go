package main

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestClockJumps(t *testing.T) {
	const day = 24 * time.Hour
	for name, c := range map[string]struct {
		calendar, passed time.Duration
		want             bool
	}{
		"a quiet month":        {30 * day, 30 * day, false},
		"set right by an hour": {30*day - time.Hour, 30 * day, false},
		"the year 2038":        {12 * 365 * day, time.Hour, true},
		"back to 1970":         {-56 * 365 * day, time.Hour, true},
		"asleep for a week":    {7*day + time.Hour, time.Hour, true}, // some machines' clocks stand still then: a start later it unlinks
	} {
		t.Run(name, func(t *testing.T) { require.Equal(t, c.want, clockJumped(c.calendar, c.passed)) })
	}
}

// word waits for what follows a phrase that a command prints.
func (l *lockedBuffer) word(t *testing.T, after string) string {
	t.Helper()
	find := regexp.MustCompile(regexp.QuoteMeta(after) + ` (\S+)`)
	var found []string
	require.Eventually(t, func() bool {
		found = find.FindStringSubmatch(l.String())
		return found != nil
	}, 90*time.Second, 20*time.Millisecond)
	return strings.TrimSuffix(found[1], "/")
}

// A server with everything an administrator may turn on: two halves, numbers on an
// address of their own, a log of JSON lines, an end without an error.
func TestServeInHalves(t *testing.T) {
	data := "--data=" + folder(t)
	code, _, errs := try(t, "", "found", data, "--name=Soil Watch", "--state=Nowhere")
	require.Zero(t, code, errs)
	type half struct{ out, log lockedBuffer }
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan int, 2)
	halves := map[string]*half{"public": {}, "office": {}}
	for name, h := range halves {
		go func() {
			done <- run(ctx, []string{"serve", data, "--listen=127.0.0.1:0", "--only", name, "--metrics=127.0.0.1:0", "--log-json", "-v"},
				console{&h.out, &h.log, strings.NewReader("")})
		}()
	}
	get := func(url string) (int, string) {
		res, err := http.Get(url)
		require.NoError(t, err)
		b, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res.StatusCode, string(b)
	}
	for name, h := range halves {
		base := h.out.word(t, "Serving on")
		for path, want := range map[string]map[string]int{
			"/": {"public": 200, "office": 404}, "/help": {"public": 200, "office": 404},
			"/office/sign-in": {"public": 404, "office": 200},
			"/livez":          {"public": 200, "office": 200}, "/readyz": {"public": 200, "office": 200},
			"/metrics": {"public": 404, "office": 404},
		} {
			status, _ := get(base + path)
			require.Equal(t, want[name], status, "%s %s", name, path)
		}
		numbers := h.out.word(t, "Numbers on")
		_, text := get(numbers)
		require.Contains(t, text, `sixmile_answers_total{route="/readyz",went="ok"} 1`)
		require.NotContains(t, text, "sixmile_public", "no login")
	}
	cancel()
	for range halves {
		require.Zero(t, <-done)
	}
	lines := 0
	for line := range strings.Lines(halves["public"].log.String()) {
		if !strings.HasPrefix(line, "{") {
			continue // what the private database says while it starts
		}
		var entry map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &entry), line)
		require.Contains(t, entry, "level")
		lines++
	}
	require.Positive(t, lines)
}

// Where nothing was done for more than a year, or the calendar stands before what was
// done, the clock is the likelier one to be wrong: the server leaves the unlinking to
// a person.
func TestNoUnlinkingByAWrongClock(t *testing.T) {
	w := newTwoOffices(t)
	for name, c := range map[string]struct {
		day  time.Time
		want bool
	}{
		"today":           {today(), false},
		"the next fall":   {today().AddDate(1, 0, 0), false},
		"twelve years on": {today().AddDate(12, 0, 0), true},
		"last month":      {today().AddDate(0, -1, 0), true},
	} {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, c.want, dormant(context.Background(), w.o.logins.Admin, c.day, slog.New(slog.DiscardHandler)))
		})
	}
}

// A day is that of the zone: at nine in the evening of October 31 in Chicago, five
// hours behind UTC until the night to November 1, it is November 1 in London (tz
// database). A zone that nobody knows is told, and not taken for UTC without a word.
func TestDaysAreOfTheZone(t *testing.T) {
	chicago, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	evening := time.Date(2026, time.November, 1, 2, 0, 0, 0, time.UTC)
	require.Equal(t, time.Date(2026, time.October, 31, 0, 0, 0, 0, time.UTC), dayOf(evening.In(chicago)))
	require.Equal(t, time.Date(2026, time.November, 1, 0, 0, 0, 0, time.UTC), dayOf(evening))
	for _, name := range []string{"", "UTC", "America/Chicago", ":America/Denver", "/etc/localtime"} {
		require.NoError(t, checkZone(name), name)
	}
	for _, name := range []string{"America/Chicgo", "Central", "CST6CDT,M3", "../passwd"} {
		require.ErrorContains(t, checkZone(name), "no time zone", name)
	}
}
