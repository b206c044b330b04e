package office

import (
	"encoding/csv"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
)

func someEntries() []account.Entry {
	return []account.Entry{
		{Day: today, Who: "coordinator", Deed: account.DidLot, Detail: account.Detail{County: 1, Season: 2026}},
		{Day: today, Who: "clerk", Deed: account.DidHandOut, Detail: account.Detail{County: 1, Season: 2026, Number: 4}},
		{Day: today, Deed: account.DidInvite, Detail: account.Detail{Person: "front.desk", Role: account.Clerk}},
		{Day: date(2026, 11, 20), Who: "coordinator", Deed: account.DidRelease, Detail: account.Detail{Edition: 11}},
	}
}

func TestTrailPage(t *testing.T) {
	w := newWorld(t)
	w.trail.entries = someEntries()
	page := w.get(t, boss, "/office/trail")
	require.Equal(t, http.StatusOK, page.status)
	require.Equal(t, 4, page.Find("tbody tr").Length())
	require.Equal(t, "December 1, 2026 clerk handed out a bundle Plover 4 bags, fall of 2026", page.text("tbody tr:nth-child(2)"))
	require.Equal(t, "December 1, 2026 command line invited a person login front.desk, counter", page.text("tbody tr:nth-child(3)"))
	require.Zero(t, page.Find("form[method=post]").Not("[action='/office/sign-out']").Length(), "nothing here changes anything")

	page = w.get(t, boss, "/office/trail?from=2026-11-01&to=2026-12-01&who=clerk&deed=hand-out&county=2")
	require.Equal(t, account.Query{From: date(2026, 11, 1), To: date(2026, 12, 1), Who: "clerk", Deed: account.DidHandOut, County: 2},
		w.trail.queries[len(w.trail.queries)-1])
	require.Equal(t, "clerk", page.attr("#who option[selected]", "value"))
	require.Equal(t, "/office/trail.csv?county=2&deed=hand-out&from=2026-11-01&to=2026-12-01&who=clerk", page.attr("a[href*='.csv']", "href"))
	// What the page does not offer is not asked for.
	w.get(t, boss, "/office/trail?who=nobody&deed=plow&county=11&page=-3")
	require.Equal(t, account.Query{}, w.trail.queries[len(w.trail.queries)-1])

	asked := len(w.trail.queries)
	for _, path := range []string{"/office/trail?from=yesterday", "/office/trail.csv?from=yesterday"} {
		page = w.get(t, boss, path)
		require.Equal(t, http.StatusUnprocessableEntity, page.status)
		require.Equal(t, "#from", page.attr(".problems a", "href"))
		require.Equal(t, "yesterday", page.attr("#from", "value"))
	}
	require.Len(t, w.trail.queries, asked)
	w.trail.entries = nil
	require.Contains(t, w.get(t, boss, "/office/trail").text("main"), "No line fits.")
}

func TestTheTrailSaysWhatANumberIs(t *testing.T) {
	l := catalog.English()
	for _, deed := range account.Deeds {
		text := trailDetail(l, deed, account.Detail{Number: 2027})
		require.NotContains(t, text, "[", deed)
		if deed == account.DidBudget {
			require.Equal(t, "fiscal year 2027", text)
		}
	}
	require.Equal(t, "version 2", trailDetail(l, account.DidMethod, account.Detail{Number: 2}))
	require.Equal(t, "1 bag", trailDetail(l, account.DidHandOut, account.Detail{Number: 1}))
	require.Equal(t, "2,027 results", trailDetail(l, account.DidHistory, account.Detail{Number: 2027}))
	require.Equal(t, "number 7", trailDetail(l, "of-a-newer-program", account.Detail{Number: 7}))
}

func TestTrailHasPages(t *testing.T) {
	w := newWorld(t)
	for range trailPage + 1 {
		w.trail.entries = append(w.trail.entries, someEntries()[0])
	}
	page := w.get(t, boss, "/office/trail?deed=lot")
	require.Equal(t, trailPage, page.Find("tbody tr").Length())
	next := page.attr("a.button[href*='page=1']", "href")
	require.Contains(t, next, "deed=lot")
	page = w.get(t, boss, next)
	require.Equal(t, 1, page.Find("tbody tr").Length())
	require.Equal(t, "/office/trail?deed=lot", page.attr("a.button", "href"))
}

func TestTrailFile(t *testing.T) {
	w := newWorld(t)
	w.trail.entries = append(someEntries(), account.Entry{Day: today, Who: "=cmd|' /C calc'!A0", Deed: "something.new", Detail: account.Detail{Person: "@SUM(A1)"}})
	got := w.get(t, boss, "/office/trail.csv")
	require.Equal(t, http.StatusOK, got.status)
	require.Equal(t, "text/csv; charset=utf-8; header=present", got.header.Get("Content-Type"))
	require.Equal(t, `attachment; filename="trail-2026-12-01.csv"`, got.header.Get("Content-Disposition"))
	require.Equal(t, strings.Count(got.body, "\n"), strings.Count(got.body, "\r\n"), "RFC 4180: lines end with CRLF")
	rows, err := csv.NewReader(strings.NewReader(got.body)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 6)
	require.Equal(t, []string{"day", "who", "deed", "what", "county", "season", "n", "edition", "person", "role"}, rows[0])
	require.Equal(t, []string{"2026-12-01", "clerk", "hand-out", "handed out a bundle", "Plover", "2026", "4", "", "", ""}, rows[2])
	require.Equal(t, []string{"2026-12-01", "'=cmd|' /C calc'!A0", "something.new", "something.new", "", "", "", "", "'@SUM(A1)", ""}, rows[5])
}

func TestHarmless(t *testing.T) {
	for cell, want := range map[string]string{
		"": "", "Robin": "Robin", "2026-12-01": "2026-12-01", "a=b": "a=b",
		"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\t=1": "'\t=1", "\r=1": "'\r=1", "  =1": "'  =1", "\u00a0=1": "'\u00a0=1", "＝1": "'＝1",
	} {
		require.Equal(t, want, harmless(cell), "%q", cell)
	}
}

func TestEveryDeedHasItsSentence(t *testing.T) {
	for _, d := range account.Deeds {
		require.True(t, catalog.English().Has("trail.deed."+string(d)), d)
	}
}
