package main

import (
	"context"
	"crypto/rand"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// twoOffices is a program of two counties with a bundle and a signed answer in each,
// and the people who work there, on a real database behind the real pages.
type twoOffices struct {
	t       *testing.T
	o       *opened
	h       http.Handler
	answers map[place.ID]bag.Code // signed
	bundles map[place.ID][]bag.Code
	tokens  map[string]account.Token
	own     place.ID
	other   place.ID
}

func newTwoOffices(t *testing.T) *twoOffices {
	t.Helper()
	url := scratch(t)("counties")
	ctx := context.Background()
	code, _, errs := try(t, "", "found", url, "--name=Soil Watch", "--state=Nowhere")
	require.Zero(t, code, errs)
	o, err := database{URL: strings.TrimPrefix(url, "--url=")}.open(ctx, io.Discard)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, o.close()) })
	w := &twoOffices{t: t, o: o, answers: map[place.ID]bag.Code{}, bundles: map[place.ID][]bag.Code{}, tokens: map[string]account.Token{}}
	w.ground(url)
	for _, p := range []struct {
		login    string
		role     account.Role
		counties []place.ID
	}{{"clerk", account.Clerk, []place.ID{w.own}}, {"educator", account.Educator, []place.ID{w.own}}, {"technician", account.Technician, nil}, {"boss", account.Coordinator, nil}} {
		w.hire(p.login, p.role, p.counties)
	}
	w.h, err = handler(ctx, o, site{Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	return w
}

// ground lays out two counties and takes a bag of each through form, count and
// signature.
func (w *twoOffices) ground(url string) {
	w.t.Helper()
	dir, ctx := w.t.TempDir(), context.Background()
	counties, townships := twoCounties(w.t, dir)
	code, _, errs := try(w.t, "", "boundaries", "load", url, "--counties", counties, "--townships", townships, "--accept")
	require.Zero(w.t, code, errs)
	program, day := postgres.NewProgram(w.o.staff), today()
	require.NoError(w.t, program.AddSeason(ctx, sample.Season{Year: day.Year(), Opens: day.AddDate(0, 0, -30), Closes: day.AddDate(0, 0, 30)}))
	places, err := program.Places(ctx)
	require.NoError(w.t, err)
	bags, lab, m := postgres.NewBags(w.o.staff), postgres.NewLab(w.o.staff), assay.DefaultMethod()
	for _, p := range places {
		if p.Kind != place.County {
			continue
		}
		w.own, w.other = w.other, p.ID
		lot, err := bags.Issue(ctx, p.ID, day.Year(), []int{1, 2, 2}, day)
		require.NoError(w.t, err)
		bundles, _, err := bags.Bundles(ctx, lot)
		require.NoError(w.t, err)
		slices.SortFunc(bundles, func(a, b []bag.Code) int { return len(a) - len(b) })
		one := bundles[0][0]
		w.answers[p.ID], w.bundles[p.ID] = one, []bag.Code{bundles[1][0], bundles[2][0]}
		v := sample.Visit{Senders: []sample.Sender{{Bags: []sample.Bag{{Code: one, Place: p.ID, Season: day.Year(), Day: day, Answers: sample.Answers{}}}}}}
		copy(v.Token[:], one)
		require.NoError(w.t, postgres.NewIntake(w.o.public).Take(ctx, v, day))
		require.NoError(w.t, bags.LogIn(ctx, one, day))
		require.NoError(w.t, lab.Record(ctx, desk.Keyed{Code: one, Method: m, Count: m.Count(7), Day: day}, account.ID{}))
		found, err := lab.Find(ctx, one)
		require.NoError(w.t, err)
		_, _, err = postgres.NewSignOff(w.o.staff).Sign(ctx, []desk.ID{found.Head}, account.ID{}, day)
		require.NoError(w.t, err)
	}
	require.NotZero(w.t, w.own)
}

func (w *twoOffices) hire(login string, role account.Role, counties []place.ID) {
	w.t.Helper()
	who, err := account.NewStaff(login, login, role, counties)
	require.NoError(w.t, err)
	people := postgres.NewPeople(w.o.staff)
	require.NoError(w.t, people.Add(context.Background(), who, "no password opens this"))
	list, err := people.List(context.Background(), today())
	require.NoError(w.t, err)
	for _, p := range list {
		if p.Login == login {
			var token account.Token
			copy(token[:], login+strings.Repeat(" a session of the test's own", 2))
			require.NoError(w.t, people.SignIn(context.Background(), p.ID, token, false, today()))
			w.tokens[login] = token
		}
	}
}

// twoCounties writes boundary files of two counties with a township each.
func twoCounties(t *testing.T, dir string) (counties, townships string) {
	t.Helper()
	feature := func(properties, left, right string) string {
		return `{"type":"Feature","properties":{` + properties + `},"geometry":{"type":"Polygon","coordinates":[[[` + left + `,40],[` + right + `,40],[` +
			right + `,40.1],[` + left + `,40.1],[` + left + `,40]]]}}`
	}
	write := func(name string, features ...string) string {
		file := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(file, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`), 0o600))
		return file
	}
	return write("c.geojson", feature(`"code":"001","name":"Amber"`, "-40", "-39.9"), feature(`"code":"003","name":"Bluestem"`, "-39.9", "-39.8")),
		write("t.geojson", feature(`"code":"T1N R1E","name":"West","county":"001"`, "-40", "-39.9"), feature(`"code":"T1N R2E","name":"East","county":"003"`, "-39.9", "-39.8"))
}

// unusedCode is a well-formed code that no bag has.
func unusedCode(t *testing.T) bag.Code {
	t.Helper()
	c, err := bag.Draw(rand.Reader)
	require.NoError(t, err)
	return c
}

// ask sends a request as somebody, the target as it stands: nothing is tidied first.
func (w *twoOffices) ask(who, method, target string, form url.Values, head ...string) (int, string) {
	w.t.Helper()
	r := httptest.NewRequest(method, "/", strings.NewReader(form.Encode()))
	path, query, _ := strings.Cut(target, "?")
	r.RequestURI, r.URL.RawQuery = target, query
	r.URL.RawPath = path
	var err error
	if r.URL.Path, err = url.PathUnescape(path); err != nil {
		r.URL.Path = path
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(head); i += 2 {
		r.Header.Set(head[i], head[i+1])
	}
	if token, ok := w.tokens[who]; ok {
		r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: token.String()})
	}
	a := httptest.NewRecorder()
	w.h.ServeHTTP(a, r)
	return a.Code, a.Body.String()
}

// A clerk does her own county's work and gets nothing of another's, whatever she
// sends; no difference between another county's bag and one that does not exist.
func TestAClerkStaysInHerCounty(t *testing.T) {
	w := newTwoOffices(t)
	state := func(c bag.Code) string {
		var s string
		require.NoError(t, w.o.staff.QueryRow(context.Background(), `SELECT state FROM priv.bag WHERE code = $1`, string(c)).Scan(&s))
		return s
	}
	status, body := w.ask("clerk", "POST", "/office/counter", url.Values{"scan": {string(w.bundles[w.own][0])}})
	require.Equal(t, 200, status, body)
	require.Equal(t, "handed_out", state(w.bundles[w.own][0]))
	theirs := w.bundles[w.other]
	nobodys := unusedCode(t)
	for name, form := range map[string]func(c bag.Code) url.Values{
		"hand out":  func(c bag.Code) url.Values { return url.Values{"scan": {string(c)}} },
		"take back": func(c bag.Code) url.Values { return url.Values{"do": {"back"}, "code": {string(c)}} },
		"tie": func(c bag.Code) url.Values {
			return url.Values{"do": {"same"}, "person": {string(w.bundles[w.own][0]) + ".2 " + string(c) + ".2"}}
		},
		"with a county": func(c bag.Code) url.Values {
			return url.Values{"scan": {string(c)}, "county": {"2"}, "within": {"all"}, "role": {"coordinator"}}
		},
	} {
		t.Run(name, func(t *testing.T) {
			status, body := w.ask("clerk", "POST", "/office/counter", form(theirs[0]))
			require.Equal(t, 422, status)
			none, same := w.ask("clerk", "POST", "/office/counter", form(nobodys))
			require.Equal(t, status, none)
			hide := strings.NewReplacer(theirs[0].String(), "", nobodys.String(), "", string(theirs[0]), "", string(nobodys), "")
			require.Equal(t, hide.Replace(same), hide.Replace(body), "a bag of another county and none at all are one answer")
			require.Equal(t, "issued", state(theirs[0]))
		})
	}
	print := func(who string, c bag.Code) (int, string) {
		return w.ask(who, "POST", "/office/counter/answer", url.Values{"code": {string(c)}, "present": {"on"}})
	}
	status, body = print("clerk", w.answers[w.own])
	require.Equal(t, 200, status, body)
	require.True(t, strings.HasPrefix(body, "%PDF"))
	status, body = print("clerk", w.answers[w.other])
	require.Equal(t, 422, status)
	require.NotContains(t, body, "%PDF")
	// Whoever is signed in no more gets the form back, to send it after signing in.
	for who, want := range map[string]int{"boss": 200, "educator": 403, "technician": 403, "": 403} {
		status, body = print(who, w.answers[w.other])
		require.Equal(t, want, status, who)
		require.Equal(t, want == 200, strings.HasPrefix(body, "%PDF"), who)
	}
}

// What is not a person's is not to be had by another method, a header that claims
// another method, or another way to write the address.
func TestNoWayAroundThePolicy(t *testing.T) {
	w := newTwoOffices(t)
	var people int
	count := func() (n int) {
		require.NoError(t, w.o.staff.QueryRow(context.Background(), `SELECT count(*) FROM priv.staff`).Scan(&n))
		return n
	}
	people = count()
	status, body := w.ask("boss", "GET", "/office/people", nil)
	require.Equal(t, 200, status)
	secret := "technician" // a login that the list shows
	require.Contains(t, body, secret)
	for _, target := range []string{
		"/office/people", "/office/people/", "//office/people", "/office//people", "/office/./people", "/office/x/../people", "/office/%70eople",
		"/office%2fpeople", "/OFFICE/people", "/office/People", "/office/people;x=1", "/office/people%00", "/office/people%20", "/office/people.csv",
		"/static/../office/people", "/static/%2e%2e/office/people", "/county/../office/people", "/county/..%2f..%2foffice%2fpeople", "/es/office/people",
		"/office/people?role=coordinator", "/office/people?_method=GET", "/office/me/../people", "/office/counter/../people", `/office\people`, "/office/people#x",
		"/office/trail", "/office/trail.csv", "/office/release", "/office/sign-off", "/office/lots", "/office/queue",
	} {
		for _, method := range []string{"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "get", "Get", "PROPFIND", ""} {
			for _, who := range []string{"", "clerk", "educator", "technician"} {
				if method == "" {
					continue // a request without one is GET
				}
				status, body := w.ask(who, method, target, url.Values{"login": {"intruder"}, "name": {"X"}, "role": {"coordinator"}, "_method": {"GET"}},
					"X-HTTP-Method-Override", "GET", "X-Original-URL", "/office/people", "X-Rewrite-URL", "/office/people", "X-Forwarded-User", "boss", "X-Forwarded-For", "127.0.0.1")
				require.True(t, status == 303 || status >= 300 && status < 500, "%s %s as %q: %d", method, target, who, status)
				require.NotContains(t, body, "/office/people/", "%s %s as %q", method, target, who)
			}
		}
	}
	require.Equal(t, people, count())
	// Somebody else's session, a guess, and two cookies.
	var guess account.Token
	copy(guess[:], "bosz a session of the test's own a session")
	w.tokens["guess"] = guess
	status, _ = w.ask("guess", "GET", "/office/people", nil)
	require.Equal(t, 303, status)
	status, _ = w.ask("clerk", "GET", "/office/people", nil, "Cookie", shell.SessionCookie+"="+guess.String())
	require.Contains(t, []int{303, 403}, status)
	// A page of another site cannot make her browser do it.
	status, _ = w.ask("boss", "POST", "/office/people", url.Values{"login": {"intruder"}, "name": {"X"}, "role": {"coordinator"}}, "Origin", "https://elsewhere.example", "Sec-Fetch-Site", "cross-site")
	require.Equal(t, 403, status)
	require.Equal(t, people, count())
}

// An invitation by the command line: a link that opens once, for whom it is, and
// nothing else that could sign in.
func TestStaffInvite(t *testing.T) {
	w := newTwoOffices(t)
	at := "--url=" + w.o.logins.Admin
	code, out, errs := try(t, "", "staff", "invite", at, "newcomer", "--name=New Comer", "--role=clerk", "--county=Amber", "--base-url=https://soil.example/")
	require.Zero(t, code, errs)
	link := strings.TrimSpace(out)
	require.True(t, strings.HasPrefix(link, "https://soil.example/office/welcome/"), link)
	require.Contains(t, errs, "opens once")
	require.NotContains(t, errs, link, "the link is on standard output alone")
	path := strings.TrimPrefix(link, "https://soil.example")
	status, body := w.ask("", "GET", path, nil)
	require.Equal(t, 200, status)
	require.Contains(t, body, "New Comer")
	status, body = w.ask("", "POST", path, url.Values{"password": {"short"}, "again": {"short"}})
	require.Equal(t, 422, status, body)
	const phrase = "seven brown hens at noon"
	status, body = w.ask("", "POST", path, url.Values{"password": {phrase}, "again": {phrase}})
	require.Equal(t, 303, status, body)
	status, _ = w.ask("", "GET", path, nil)
	require.NotEqual(t, 200, status, "once")
	status, _ = w.ask("", "POST", "/office/sign-in", url.Values{"login": {"newcomer"}, "password": {phrase}})
	require.Equal(t, 303, status)

	code, _, errs = try(t, "", "staff", "invite", at, "newcomer", "--name=X", "--role=technician")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "--again")
	code, again, errs := try(t, "", "staff", "invite", at, "newcomer", "--again")
	require.Zero(t, code, errs)
	require.NotEqual(t, link, strings.TrimSpace(again))
	for _, c := range [][]string{{"--again"}, {"--name=X", "--role=clerk"}, {"--name=X", "--role=queen"}, {"--name=X", "--role=clerk", "--county=Plaid"}} {
		code, out, errs = try(t, "", append([]string{"staff", "invite", at, "stranger"}, c...)...)
		require.Equal(t, 1, code, "%v: %s", c, out)
		require.NotEmpty(t, errs)
		require.Empty(t, out)
	}
}
