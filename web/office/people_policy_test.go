package office

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// path is a route's address with something in its holes.
func (w *world) path(route shell.Route) string {
	id := idText(w.lots.lots[0].ID)
	if strings.HasPrefix(route.Path, "/office/people/") {
		id = personPath(account.ID{7})[len("/office/people/"):]
	}
	return strings.NewReplacer("{id}", id, "{link}", account.Link{7}.String()).Replace(route.Path)
}

// Every route of the office, walked by everybody: the policy's table is what
// happens, and a page that is refused asks no store for anything.
func TestWalkEveryRoute(t *testing.T) {
	people := map[account.Role]account.Staff{
		"":         {},
		otherClerk: {Role: account.Clerk, Counties: []place.ID{2}},
		owing:      {Role: account.Coordinator, Owes: true},
	}
	for _, r := range account.Roles {
		people[r] = staffOf(r)
	}
	for who, staff := range people {
		for _, route := range newWorld(t).office.routes() {
			w := newWorld(t)
			got := w.do(t, who, route.Method, w.path(route), nil)
			name := fmt.Sprintf("%s %s as %q", route.Method, route.Path, who)
			switch {
			case route.May == account.Anyone:
				require.NotEqual(t, http.StatusForbidden, got.status, name)
				continue
			case who == "":
				require.Equal(t, http.StatusSeeOther, got.status, name)
			case staff.May(route.May):
				require.NotEqual(t, http.StatusForbidden, got.status, name)
				continue
			case staff.Owes:
				require.Equal(t, http.StatusSeeOther, got.status, name)
			default:
				require.Equal(t, http.StatusForbidden, got.status, name)
			}
			require.Zero(t, w.touched(), "%s asked a store", name)
		}
	}
}

// Bags of another county, at every page that takes a code at the counter: the
// same answer as for a code that no bag has, whoever's the code is.
func TestOtherCountiesBagsAreNobodys(t *testing.T) {
	own := map[account.Role][]bag.Code{account.Clerk: codes[:6], otherClerk: codes[6:8], account.Coordinator: codes[:8]}
	pages := []struct {
		path string
		form func(c bag.Code) []string
	}{
		{"/office/counter", func(c bag.Code) []string { return []string{"scan", string(c)} }},
		{"/office/counter", func(c bag.Code) []string { return []string{"do", "back", "code", string(c)} }},
		{"/office/counter", func(c bag.Code) []string {
			return []string{"do", "same", "person", string(c) + ".1 " + string(c) + ".2"}
		}},
		{"/office/counter/answer", func(c bag.Code) []string { return []string{"code", string(c), "present", "yes"} }},
	}
	for who, mine := range own {
		for _, p := range pages {
			unknown := newWorld(t).post(t, who, p.path, p.form(codes[11])...)
			for _, c := range codes[:8] {
				w := newWorld(t)
				got := w.post(t, who, p.path, p.form(c)...)
				if slices.Contains(mine, c) {
					require.Equal(t, http.StatusOK, got.status, "%s %s", who, p.path)
					continue
				}
				require.Equal(t, http.StatusUnprocessableEntity, got.status, "%s %s", who, p.path)
				require.Equal(t, strings.NewReplacer(codes[11].String(), "", string(codes[11]), "").Replace(unknown.body),
					strings.NewReplacer(c.String(), "", string(c), "").Replace(got.body))
				for _, b := range w.counter.bundles {
					require.Equal(t, bag.Issued, b.Bags[0].State)
				}
			}
		}
	}
}

// Tricks with methods and addresses open nothing: to a stranger and to a clerk
// every variant of a page that is not theirs is refused, unknown, or leads to
// the sign-in, and no store is asked.
func TestTricksOpenNothing(t *testing.T) {
	w := newWorld(t)
	for _, route := range w.office.routes() {
		if route.May == account.Anyone || route.May == account.OwnAccount || route.May == account.SignedIn {
			continue
		}
		for _, who := range []account.Role{"", account.Clerk} {
			if s := staffOf(account.Clerk); who != "" && s.May(route.May) {
				continue
			}
			for _, target := range tricks(w.path(route)) {
				for name, change := range disguises {
					r := request(route.Method, target, who)
					change(r)
					answer := httptest.NewRecorder()
					w.handler.ServeHTTP(answer, r)
					what := fmt.Sprintf("%s %q as %q, %s", route.Method, target, who, name)
					require.Contains(t, []int{301, 303, 307, 308, 400, 403, 404, 405}, answer.Code, what)
					if answer.Code < 400 {
						require.True(t, strings.HasPrefix(answer.Header().Get("Location"), "/office/sign-in"), what)
					}
					require.Zero(t, w.touched(), what)
				}
			}
		}
	}
}

// tricks are ways to write an address that some server somewhere has taken for
// the same.
func tricks(p string) []string {
	cut := strings.LastIndex(p, "/")
	head, tail := p[:cut], p[cut+1:]
	return []string{
		p, p + "/", "/" + p, head + "//" + tail, head + "/./" + tail, head + "/x/../" + tail, "/send/.." + p, "/static/.." + p,
		p + ".", p + "/.", p + "..;/", p + ";", p + ";x=1", p + "%20", p + "%00", p + "%2f", p + "?x=1", p + "#x", p + "%3f",
		head + "%2f" + tail, head + "%5c" + tail, head + "/..;/" + tail, head + "/%2e%2e/" + tail,
		strings.ToUpper(p), fmt.Sprintf("%s/%%%02x%s", head, tail[0], tail[1:]), p + ".json", p + "~", "/." + p, "http://other.example" + p,
	}
}

// disguises are ways to claim another method, address or person.
var disguises = map[string]func(r *http.Request){
	"plain": func(*http.Request) {},
	"method override": func(r *http.Request) {
		for _, h := range []string{"X-HTTP-Method-Override", "X-HTTP-Method", "X-Method-Override"} {
			r.Header.Set(h, map[string]string{"GET": "POST", "POST": "GET"}[r.Method])
		}
	},
	"rewritten": func(r *http.Request) {
		for _, h := range []string{"X-Original-URL", "X-Rewrite-URL", "X-Forwarded-Prefix", "X-Forwarded-Path"} {
			r.Header.Set(h, "/office/sign-in")
		}
	},
	"claimed": func(r *http.Request) {
		for _, h := range []string{"X-Remote-User", "X-Forwarded-User", "Remote-User", "X-Role", "Authorization"} {
			r.Header.Set(h, "coordinator")
		}
		r.Header.Set("X-Forwarded-For", "127.0.0.1")
		r.Header.Set("X-Real-IP", "127.0.0.1")
	},
	"head":    func(r *http.Request) { r.Method = "HEAD" },
	"options": func(r *http.Request) { r.Method = "OPTIONS" },
	"lower":   func(r *http.Request) { r.Method = strings.ToLower(r.Method) },
	"made up": func(r *http.Request) { r.Method = "PLOW" },
	"two cookies": func(r *http.Request) {
		r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: "coordinator"})
		r.AddCookie(&http.Cookie{Name: "role", Value: "coordinator"})
	},
}

// request is a request to an address written just so: as a line of HTTP would
// carry it.
func request(method, target string, who account.Role) *http.Request {
	r := httptest.NewRequest(method, "/", strings.NewReader(url.Values{"_method": {"GET"}, "role": {"coordinator"}}.Encode()))
	if u, err := url.ParseRequestURI(target); err == nil {
		r.URL, r.RequestURI = u, target
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if who != "" {
		r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: tokenOf(who).String()})
	}
	return r
}
