package office

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/place"
)

func TestInviteAPerson(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/people")
	require.Equal(t, 6, page.Find("tbody tr").Length())
	require.Equal(t, "Front desk front.desk counter Sedge invited; the link opens until December 9, 2026 no", page.text("tbody tr:nth-child(5)"))
	require.Contains(t, page.text("tbody tr.closed"), "Ash Moor")

	got := w.post(t, boss, "/office/people", "name", " Sam Field ", "login", "Sam.Field", "role", "educator", "county", "2", "county", "1", "county", "11", "do", "invite")
	require.Equal(t, http.StatusOK, got.status)
	link := got.text("[data-link]")
	require.True(t, strings.HasPrefix(link, "https://scn.example.org/office/welcome/"), link)
	l, err := account.ParseLink(strings.TrimPrefix(link, "https://scn.example.org/office/welcome/"))
	require.NoError(t, err)
	require.Contains(t, w.staff.links, l)
	require.Contains(t, got.text("#given + p"), "December 15, 2026")
	require.Contains(t, got.attr("#given ~ .enroll svg path", "d"), "M4 4.5h7m", "a square code, four modules in")
	invited := w.staff.people[len(w.staff.people)-1]
	require.Equal(t, "sam.field", invited.Login)
	require.Equal(t, []place.ID{2}, invited.Counties[len(invited.Counties)-1:], "a township is no county")
	require.NotContains(t, w.get(t, boss, "/office/people").body, l.String(), "shown once")
}

func TestRefusedInvitationsKeepWhatWasTyped(t *testing.T) {
	w := newWorld(t)
	fine := []string{"name", "Sam", "login", "sam", "role", "clerk", "county", "2", "do", "invite"}
	for name, c := range map[string]struct{ field, typed, say string }{
		"no name":    {"name", " ", "Write a name"},
		"no login":   {"login", "", "lowercase letters"},
		"odd login":  {"login", "Säm!", "lowercase letters"},
		"taken":      {"login", "clerk", "already"},
		"no role":    {"role", "", "Pick what"},
		"other role": {"role", "owner", "Pick what"},
		"no county":  {"county", "11", "exactly one"},
	} {
		t.Run(name, func(t *testing.T) {
			page := w.post(t, boss, "/office/people", with(fine, c.field, c.typed)...)
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			id := strings.Replace(c.field, "county", "counties", 1)
			require.Contains(t, page.text("#"+id+"-wrong"), c.say)
			require.Equal(t, "#"+id, page.attr(".problems a", "href"))
			if c.field != "name" {
				require.Equal(t, "Sam", page.attr("#name", "value"))
			}
			if c.field == "login" {
				require.Equal(t, c.typed, page.attr("#login", "value"))
				require.Equal(t, 1, page.Find("input[name=county][value='2'][checked]").Length())
			}
			require.Zero(t, page.Find("[data-link]").Length())
		})
	}
	require.Len(t, w.staff.people, 6)
}

func TestChangeAPerson(t *testing.T) {
	w := newWorld(t)
	path := personPath(account.ID{7})
	page := w.get(t, boss, path)
	require.Equal(t, "Front desk", page.attr("#name", "value"))
	require.Equal(t, "clerk", page.attr("#role option[selected]", "value"))
	require.Equal(t, 1, page.Find("input[name=county][value='2'][checked]").Length())
	require.Zero(t, page.Find("input[name=login]").Length(), "a login stays what it is")

	got := w.post(t, boss, path, "do", "save", "name", "Back desk", "role", "clerk", "county", "1", "login", "other")
	require.Equal(t, path+"?done=save", got.header.Get("Location"))
	require.Equal(t, account.Staff{ID: account.ID{7}, Login: "front.desk", Name: "Back desk", Role: account.Clerk, Counties: []place.ID{1}}, w.staff.people[4].Staff)
	bad := w.post(t, boss, path, "do", "save", "name", "Back desk", "role", "clerk")
	require.Equal(t, http.StatusUnprocessableEntity, bad.status)
	require.Contains(t, bad.text("#counties-wrong"), "exactly one")

	link := w.post(t, boss, path, "do", "link")
	require.Equal(t, http.StatusOK, link.status)
	require.Contains(t, link.text("#given + p"), "December 15, 2026", "an invitation's fourteen days")
	link = w.post(t, boss, personPath(staffOf(account.Educator).ID), "do", "link")
	require.Contains(t, link.text("#given + p"), "December 4, 2026", "a reset's three")
	require.Equal(t, http.StatusNotFound, w.post(t, boss, personPath(account.ID{8}), "do", "link").status, "closed")

	for _, do := range []string{"close", "reopen", "end"} {
		got := w.post(t, boss, path, "do", do)
		require.Equal(t, path+"?done="+do, got.header.Get("Location"))
		require.NotEmpty(t, w.get(t, boss, got.header.Get("Location")).text(".saved"), do)
	}
	require.Equal(t, 100, w.staff.ended)

	w.staff.last = true
	for _, form := range [][]string{{"do", "close"}, {"do", "save", "name", "X", "role", "technician"}} {
		got := w.post(t, boss, personPath(staffOf(boss).ID), form...)
		require.Equal(t, http.StatusConflict, got.status)
		require.Contains(t, got.text(".problems"), "no coordinator")
	}
	for _, odd := range []string{"/office/people/0", "/office/people/" + strings.Repeat("0", 32), "/office/people/" + strings.Repeat("5", 32)} {
		require.Equal(t, http.StatusNotFound, w.get(t, boss, odd).status, odd)
	}
}

func TestTheSecondStepIsAskedOfEverybody(t *testing.T) {
	w := newWorld(t)
	got := w.post(t, boss, "/office/people", "do", "require")
	require.Equal(t, http.StatusSeeOther, got.status)
	require.True(t, w.staff.required)
	require.Equal(t, 1, w.get(t, boss, "/office/people").Find("button[value=relax]").Length())
	w.staff.second[staffOf(account.Clerk).ID] = account.Second{On: true}
	require.Zero(t, w.get(t, account.Clerk, "/office/me").Find("button[value=off]").Length(), "nobody may remove it now")
	w.post(t, boss, "/office/people", "do", "relax")
	require.False(t, w.staff.required)

	// Who owes one is led to it from everywhere, and may do nothing else but leave.
	for _, route := range w.office.routes() {
		path := strings.NewReplacer("{id}", strings.Repeat("0", 31)+"1", "{link}", account.Link{7}.String()).Replace(route.Path)
		got := w.do(t, owing, route.Method, path, nil)
		switch route.May {
		case account.Anyone, account.OwnAccount:
			require.NotEqual(t, "/office/me/second", got.header.Get("Location"), path)
		default:
			require.Equal(t, http.StatusSeeOther, got.status, path)
			require.Equal(t, "/office/me/second", got.header.Get("Location"), path)
		}
	}
	require.Contains(t, w.get(t, owing, "/office/me/second").text("main"), "Nothing else opens")
}
