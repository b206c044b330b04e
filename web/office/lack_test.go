package office

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/gazette"
)

// Every page that the menu leads to is there in a program that has just begun, and
// says what is missing and what to do about it.
func TestEveryPageOfAProgramThatHasJustBegun(t *testing.T) {
	w := newWorld(t)
	w.program.seasons, w.program.places = nil, nil
	w.newest.issue.Edition = gazette.Edition{}
	for _, role := range account.Roles {
		desk := w.get(t, role, "/office")
		links := map[string]bool{}
		for _, n := range desk.Find(".office-bar nav a, .tasks a, .checklist a").Nodes {
			href, _ := desk.FindNodes(n).Attr("href")
			if strings.HasPrefix(href, "/office") {
				links[href] = true
			}
		}
		for href := range links {
			page := w.get(t, role, href)
			require.Equal(t, 200, page.status, "%s %s", role, href)
			if lacks := needs[href]; len(lacks) > 0 {
				require.Equal(t, 1, page.Find("main .lack").Length(), "%s %s", role, href)
				require.NotEqual(t, "Not yet", page.text("h1"), href)
			}
		}
	}
}

func TestWhatIsMissingAndWhoDoesIt(t *testing.T) {
	w := newWorld(t)
	w.program.seasons = nil
	page := w.get(t, boss, "/office/trays")
	require.Equal(t, "Trays", page.text("h1"))
	require.Contains(t, page.text(".lack"), "no season has been opened yet")
	require.Contains(t, page.text(".lack code"), "sixmile season 2026 --opens 2026-08-15 --closes 2027-06-30")
	page = w.get(t, account.Technician, "/office/trays/3")
	require.Equal(t, 200, page.status)
	require.Contains(t, page.text(".lack"), "Your coordinator opens one.")
	require.Zero(t, page.Find(".lack code").Length(), "a technician has no command line")
	require.Equal(t, "/office", page.attr(".actions a.tap", "href"))

	w = newWorld(t)
	w.program.places = nil
	page = w.get(t, boss, "/office/lots")
	require.Contains(t, page.text(".lack"), "no counties and townships yet")
	require.Equal(t, "/office/boundaries", page.attr(".actions a.button", "href"))

	w = newWorld(t)
	w.newest.issue.Edition = gazette.Edition{}
	require.Equal(t, "/office/release", w.get(t, boss, "/office/plan").attr(".actions a.button", "href"))
	page = w.get(t, account.Educator, "/office/sheet")
	require.Contains(t, page.text(".lack"), "Your coordinator releases the first map")
	require.Zero(t, page.Find(".actions a.button").Length())
}

func TestEveryNeedIsOfAPage(t *testing.T) {
	w := newWorld(t)
	paths := map[string]bool{}
	for _, r := range w.office.routes() {
		paths[r.Method+" "+r.Path] = true
	}
	for path := range needs {
		require.True(t, paths["GET "+path], path)
	}
}
