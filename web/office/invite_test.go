package office

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
)

func TestALinkSetsAPasswordOnce(t *testing.T) {
	w := newWorld(t)
	path := "/office/welcome/" + account.Link{7}.String()
	page := w.get(t, "", path)
	require.Equal(t, http.StatusOK, page.status)
	require.Equal(t, "no-store", page.header.Get("Cache-Control"))
	require.Contains(t, page.text("main"), "Welcome, Front desk. Your login name is “front.desk”.")

	for name, c := range map[string]struct{ password, again, field, say string }{
		"short":     {"nine char", "nine char", "password", "at least 10"},
		"simple":    {"aaaaaaaaaaaa", "aaaaaaaaaaaa", "password", "more different"},
		"the login": {"Front.Desk", "Front.Desk", "password", "other than your login"},
		"two":       {"six miles square", "six miles round", "again", "not the same"},
	} {
		got := w.post(t, "", path, "password", c.password, "again", c.again)
		require.Equal(t, http.StatusUnprocessableEntity, got.status, name)
		require.Equal(t, "#"+c.field, got.attr(".problems a", "href"), name)
		require.NotContains(t, got.body, c.password, "%s: a password is not shown again", name)
	}
	require.Empty(t, w.staff.password)

	got := w.post(t, "", path, "password", "six miles square", "again", "six miles square")
	require.Equal(t, "/office/sign-in?set", got.header.Get("Location"))
	require.Equal(t, "stored form of six miles square", w.staff.password)
	require.Contains(t, w.get(t, "", "/office/sign-in?set").text(".saved"), "Your password is set.")
	// Used, made up and malformed links are one answer.
	var bodies []string
	for _, p := range []string{path, "/office/welcome/" + account.Link{9}.String(), "/office/welcome/x"} {
		require.Equal(t, http.StatusNotFound, w.post(t, "", p, "password", "six miles square", "again", "six miles square").status)
		page := w.get(t, "", p)
		require.Equal(t, http.StatusNotFound, page.status, p)
		require.Contains(t, page.text("main"), "ask your coordinator for a new link")
		bodies = append(bodies, page.body)
	}
	require.Equal(t, bodies[0], bodies[1])
	require.Equal(t, bodies[0], bodies[2])
	require.NotContains(t, strings.Join(bodies, ""), account.Link{7}.String())
}
