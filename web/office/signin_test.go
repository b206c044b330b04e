package office

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/web/shell"
)

func TestSignIn(t *testing.T) {
	w := newWorld(t)
	got := w.post(t, "", "/office/sign-in", "login", " Technician ", "password", "right", "to", "/office/count")
	require.Equal(t, http.StatusSeeOther, got.status)
	require.Equal(t, "/office/count", got.header.Get("Location"))
	require.Len(t, w.people.signedIn, 1)
	cookies := (&http.Response{Header: got.header}).Cookies()
	require.Len(t, cookies, 1)
	c := cookies[0]
	require.Equal(t, shell.SessionCookie, c.Name)
	require.Equal(t, w.people.signedIn[0].String(), c.Value)
	require.Equal(t, "/office", c.Path)
	require.True(t, c.HttpOnly)
	require.Equal(t, http.SameSiteStrictMode, c.SameSite)
	require.False(t, c.Secure, "plain http, as on loopback")
	require.Zero(t, c.MaxAge, "it ends with the browser")

	// Signing in again gives another token and ends the session before.
	again := w.post(t, account.Technician, "/office/sign-in", "login", "technician", "password", "right")
	require.Equal(t, "/office", again.header.Get("Location"))
	require.Len(t, w.people.signedIn, 2)
	require.NotEqual(t, w.people.signedIn[0], w.people.signedIn[1])
	require.Equal(t, []account.Token{tokenOf(account.Technician)}, w.people.signedOut)

	w.office.Secure = true
	secure := w.post(t, "", "/office/sign-in", "login", "technician", "password", "right")
	require.True(t, (&http.Response{Header: secure.header}).Cookies()[0].Secure)
}

// A wrong login, a wrong password, a login that nobody can have and an empty
// form get the same answer after the same number of hashes: one.
func TestWrongSignInsAreAlike(t *testing.T) {
	var bodies []string
	for _, in := range [][2]string{{"technician", "wrong secret"}, {"nobody", "wrong secret"}, {"nobody", "right"}, {"No such login!", "right"}, {"", ""}} {
		w := newWorld(t)
		got := w.post(t, "", "/office/sign-in", "login", in[0], "password", in[1])
		require.Equal(t, http.StatusUnprocessableEntity, got.status, in[0])
		require.Equal(t, 1, w.passwords.checks, in[0])
		require.Empty(t, got.header.Get("Set-Cookie"))
		require.Equal(t, in[0], got.attr("#login", "value"))
		require.Equal(t, "", got.attr("#password", "value"))
		require.NotContains(t, got.body, "wrong secret")
		require.Equal(t, 1, got.Find(".problems[role=alert] p").Length())
		if in[0] != "" {
			bodies = append(bodies, strings.ReplaceAll(got.body, `value="`+in[0]+`"`, ""))
		}
	}
	for _, b := range bodies {
		require.Equal(t, bodies[0], b)
	}
}

// Only what can be a login is looked up: a database refuses some bytes with an
// error, and the error would tell.
func TestOddLoginsAreNotLookedUp(t *testing.T) {
	w := newWorld(t)
	for _, login := range []string{"a\x00b", "tech nician", strings.Repeat("a", 300), "\xff\xfe", "'; --"} {
		require.Equal(t, http.StatusUnprocessableEntity, w.post(t, "", "/office/sign-in", "login", login, "password", "right").status)
	}
	require.Empty(t, w.people.lookedUp)
	require.Equal(t, 5, w.passwords.checks)
}

func TestSignOut(t *testing.T) {
	w := newWorld(t)
	got := w.post(t, account.Educator, "/office/sign-out")
	require.Equal(t, http.StatusSeeOther, got.status)
	require.Equal(t, []account.Token{tokenOf(account.Educator)}, w.people.signedOut)
	require.Negative(t, (&http.Response{Header: got.header}).Cookies()[0].MaxAge)
}

func TestSignInLeadsNowhereElse(t *testing.T) {
	for to, want := range map[string]string{
		"":                                    "/office",
		"/office":                             "/office",
		"/office/":                            "/office/",
		"/office/count":                       "/office/count",
		"/office/lots/0a1b/sheets.pdf":        "/office/lots/0a1b/sheets.pdf",
		"/":                                   "/office",
		"/officers":                           "/office",
		"//evil.example":                      "/office",
		"/office//evil.example":               "/office",
		"/office/..//evil.example":            "/office",
		"/office/../send":                     "/office",
		`/\evil.example`:                      "/office",
		`/office\evil`:                        "/office",
		"https://evil.example/office":         "/office",
		"/office@evil.example":                "/office",
		"/office.evil.example":                "/office",
		"/office/%2e%2e":                      "/office",
		"/office/a\r\nSet-Cookie: x=y":        "/office",
		"/office/count?x=1":                   "/office",
		"/office/sign-out":                    "/office",
		" /office/count":                      "/office",
		"/office/" + strings.Repeat("a", 500): "/office",
	} {
		require.Equal(t, want, localPath(to), "%q", to)
	}
	w := newWorld(t)
	got := w.post(t, "", "/office/sign-in", "login", "clerk", "password", "right", "to", "//evil.example")
	require.Equal(t, "/office", got.header.Get("Location"))
	require.Equal(t, "/office", w.get(t, "", "/office/sign-in?to=//evil.example").attr("input[name=to]", "value"))
	// The way here from a page that wants a signed-in person.
	stranger := w.get(t, "", "/office/release")
	require.Equal(t, "/office/release", w.get(t, "", stranger.header.Get("Location")).attr("input[name=to]", "value"))
}

func FuzzLocalPath(f *testing.F) {
	for _, s := range []string{"/office", "//x", "/office/\\x", "/office/a/b.pdf"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := localPath(s)
		if got != home && !strings.HasPrefix(got, home+"/") || strings.Contains(got, "//") || strings.ContainsAny(got, "\\:@?#% \r\n") {
			t.Fatalf("%q leads to %q", s, got)
		}
		if localPath(got) != got {
			t.Fatalf("%q is not kept", got)
		}
	})
}

func TestGuessingIsSlowedByNameAndNeverLocks(t *testing.T) {
	g := newGate(longestGap)
	now := time.Date(2026, 12, 1, 8, 0, 0, 0, time.UTC)
	try := func() (time.Duration, bool) { return g.book("clerk", now) }
	var waits []time.Duration
	refused := 0
	for range 20 { // all at once
		if d, ok := try(); ok {
			waits = append(waits, d)
		} else {
			refused++
		}
	}
	require.Equal(t, []time.Duration{0, 0, 0, time.Second, 3 * time.Second, 7 * time.Second}, waits)
	require.Equal(t, 14, refused)
	d, ok := g.book("technician", now)
	require.True(t, ok)
	require.Zero(t, d, "another name is not slowed")

	now = now.Add(12 * time.Second)
	d, ok = try()
	require.True(t, ok, "the owner gets a turn")
	require.LessOrEqual(t, d, longestWait)
	g.forget("clerk")
	d, ok = try()
	require.True(t, ok)
	require.Zero(t, d)

	now = now.Add(time.Second)
	for range 6 {
		try()
	}
	now = now.Add(quietSpell + time.Minute)
	d, ok = try()
	require.True(t, ok && d == 0, "a quiet spell forgives")

	for i := range 3 * maxNames {
		g.book(strings.Repeat("x", i%7)+time.Duration(i).String(), now)
	}
	require.LessOrEqual(t, g.names.Len(), maxNames)
}

// Whether a name is anybody's makes no difference to how it is slowed.
func TestSlowingIsTheSameForEveryName(t *testing.T) {
	slept := map[string][]time.Duration{}
	for _, login := range []string{"technician", "nobody"} {
		w := newWorld(t)
		at := time.Date(2026, 12, 1, 8, 0, 0, 0, time.UTC)
		w.office.now = func() time.Time { return at }
		w.office.sleep = func(_ context.Context, d time.Duration) error {
			slept[login] = append(slept[login], d)
			return nil
		}
		last := answer{}
		for range 8 {
			last = w.post(t, "", "/office/sign-in", "login", login, "password", "wrong")
		}
		require.Equal(t, http.StatusTooManyRequests, last.status)
		require.Equal(t, "10", last.header.Get("Retry-After"))
		require.Equal(t, 6, w.passwords.checks)
		require.Equal(t, login, last.attr("#login", "value"))
	}
	require.Equal(t, slept["technician"], slept["nobody"])
}
