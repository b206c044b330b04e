package office

import (
	"context"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
)

var noon = time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC)

// patient makes every wait pass at once, by the pages' own clock.
func (w *world) patient() *time.Time {
	at := noon
	w.office.now = func() time.Time { return at }
	w.office.sleep = func(_ context.Context, d time.Duration) error { at = at.Add(d); return nil }
	return &at
}

func TestSignInWithASecondStep(t *testing.T) {
	w := newWorld(t)
	at := w.patient()
	id := staffOf(boss).ID
	seed := account.Seed{5}
	w.staff.second[id] = account.Second{On: true, Seed: seed}
	got := w.post(t, "", "/office/sign-in", "login", "coordinator", "password", "right", "to", "/office/lots")
	require.Equal(t, "/office/sign-in/second?to=/office/lots", got.header.Get("Location"))
	require.Equal(t, []bool{true}, w.people.half, "a half session only")
	// The browser comes back with the half session's token.
	w.staff.half[tokenOf(boss)] = id
	page := w.get(t, boss, got.header.Get("Location"))
	require.Equal(t, http.StatusOK, page.status)
	require.Zero(t, page.Find(".office-bar").Length(), "nobody is signed in yet")
	require.Equal(t, "one-time-code", page.attr("#code", "autocomplete"))

	wrong := w.post(t, boss, "/office/sign-in/second", "code", "000000", "to", "/office/lots")
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	require.Equal(t, "/office/lots", wrong.attr("input[name=to]", "value"))
	code := seed.Code(account.Step(*at))
	right := w.post(t, boss, "/office/sign-in/second", "code", code[:3]+" "+code[3:], "to", "/office/lots")
	require.Equal(t, http.StatusSeeOther, right.status)
	require.Equal(t, "/office/lots", right.header.Get("Location"))
	require.Equal(t, []bool{true, false}, w.people.half)
	require.Equal(t, []account.Token{tokenOf(boss)}, w.people.signedOut, "the half session ends")
	require.NotEqual(t, w.people.signedIn[0], w.people.signedIn[1], "with a token it never had")
	again := w.post(t, boss, "/office/sign-in/second", "code", code)
	require.Equal(t, http.StatusUnprocessableEntity, again.status, "a code opens once")

	recovery := account.Recovery{3}
	w.staff.recovery[recovery] = true
	require.Equal(t, http.StatusSeeOther, w.post(t, boss, "/office/sign-in/second", "code", recovery.String()).status)
	require.Equal(t, http.StatusUnprocessableEntity, w.post(t, boss, "/office/sign-in/second", "code", recovery.String()).status)
	// Five tries are spent: the password again.
	spent := w.post(t, boss, "/office/sign-in/second", "code", seed.Code(account.Step(*at)))
	require.Equal(t, http.StatusUnprocessableEntity, spent.status)
	require.Equal(t, 1, spent.Find("#password").Length())
	require.Equal(t, "/office/sign-in", w.get(t, "", "/office/sign-in/second").header.Get("Location"))
}

// Codes are slowed far more than passwords: they are short. And never locked.
func TestCodesAreSlowed(t *testing.T) {
	g := newGate(longestCodeGap)
	now := noon
	tries := 0
	for end := now.Add(24 * time.Hour); now.Before(end); now = now.Add(time.Second) {
		if _, ok := g.book("coordinator", now); ok {
			tries++
		}
	}
	require.Less(t, tries, 1500, "tries a day; three codes in a million are right")
	now = now.Add(2 * time.Minute)
	wait, ok := g.book("coordinator", now)
	require.True(t, ok && wait == 0, "the owner gets a turn")

	w := newWorld(t)
	w.office.now = func() time.Time { return noon }
	w.office.sleep = func(context.Context, time.Duration) error { return nil }
	w.staff.half[tokenOf(boss)] = staffOf(boss).ID
	w.staff.tries = -100
	last := answer{}
	for range 8 {
		last = w.post(t, boss, "/office/sign-in/second", "code", "000000")
	}
	require.Equal(t, http.StatusTooManyRequests, last.status)
	require.Equal(t, "60", last.header.Get("Retry-After"))
}

func TestSetUpASecondStep(t *testing.T) {
	w := newWorld(t)
	at := w.patient()
	page := w.get(t, clerk, "/office/me/second")
	form := page.fields("main form")
	seed, err := account.ParseSeed(asMap(form)["seed"])
	require.NoError(t, err)
	require.Equal(t, groups(seed.String()), page.text(".big-code"))
	require.NotEmpty(t, page.attr("svg.qr path", "d"))
	other := asMap(w.get(t, clerk, "/office/me/second").fields("main form"))["seed"]
	require.NotEqual(t, seed.String(), other)

	wrong := w.post(t, clerk, "/office/me/second", with(form, "code", "123")...)
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	require.Equal(t, seed.String(), asMap(wrong.fields("main form"))["seed"], "the same key: the phone has it already")
	require.Equal(t, "123", wrong.attr("#code", "value"))
	require.Empty(t, w.staff.second)
	require.Equal(t, http.StatusNotFound, w.post(t, clerk, "/office/me/second", "seed", "x", "code", "123456").status)

	done := w.post(t, clerk, "/office/me/second", with(form, "code", seed.Code(account.Step(*at)))...)
	require.Equal(t, http.StatusOK, done.status)
	require.Equal(t, account.Recoveries, done.Find(".recovery li").Length())
	require.Equal(t, account.Second{On: true, Seed: seed, Last: account.Step(*at), Codes: 10}, w.staff.second[staffOf(clerk).ID])
	require.Equal(t, "no-store", done.header.Get("Cache-Control"))
	own := w.get(t, clerk, "/office/me")
	require.Contains(t, own.text("#second ~ p"), "10 recovery codes are left")

	off := w.post(t, clerk, "/office/me", "do", "off", "off", "not it")
	require.Equal(t, http.StatusUnprocessableEntity, off.status)
	require.Contains(t, off.text("#off-wrong"), "not your password")
	require.Len(t, w.staff.second, 1)
	off = w.post(t, clerk, "/office/me", "do", "off", "off", "right")
	require.Equal(t, "/office/me?done=off", off.header.Get("Location"))
	require.Empty(t, w.staff.second)
}

func TestChangeTheOwnPassword(t *testing.T) {
	w := newWorld(t)
	w.patient()
	for name, c := range map[string]struct{ current, password, again, field string }{
		"not the current one": {"wrong", "six miles square", "six miles square", "current"},
		"too short":           {"right", "short", "short", "password"},
		"not the same":        {"right", "six miles square", "six miles round", "again"},
	} {
		got := w.post(t, clerk, "/office/me", "do", "password", "current", c.current, "password", c.password, "again", c.again)
		require.Equal(t, http.StatusUnprocessableEntity, got.status, name)
		require.Equal(t, "#"+c.field, got.attr(".problems a", "href"), name)
		require.NotContains(t, got.body, c.password, name)
	}
	require.Empty(t, w.staff.password)
	got := w.post(t, clerk, "/office/me", "do", "password", "current", "right", "password", "six miles square", "again", "six miles square")
	require.Equal(t, "/office/me?done=password", got.header.Get("Location"))
	require.Equal(t, "stored form of six miles square", w.staff.password)
}

func TestOwnSessions(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, clerk, "/office/me")
	require.Equal(t, 2, page.Find("table tbody tr").Length())
	require.Contains(t, page.text("tbody tr:nth-child(1)"), "this one")
	got := w.post(t, clerk, "/office/me", "do", "end", "session", page.attr("input[name=session]", "value"))
	require.Equal(t, "/office/me?done=end", got.header.Get("Location"))
	w.post(t, clerk, "/office/me", "do", "others")
	w.post(t, clerk, "/office/me", "do", "end", "session", "x")
	w.post(t, clerk, "/office/me", "do", "plow")
	require.Equal(t, 11, w.staff.ended)
}
