package office

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/place"
)

const boss = account.Coordinator

func mustDay(t *testing.T, s string) time.Time {
	t.Helper()
	d, err := time.Parse(time.DateOnly, s)
	require.NoError(t, err)
	return d
}

func TestIssueALot(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/lots")
	require.Equal(t, []string{"300", "130", "210", "180", "122", "2"}, cells(page, "#lots ~ .scroll tfoot td.num"))
	form := page.fields("form.issue")
	require.Equal(t, "2026", asMap(form)["season"])
	form = with(form, "county", "1", "bags", "100")

	// 100 bags in turns of 4, 2 and 1: fourteen rounds of seven make 98, and the
	// last two are one more bundle of two.
	shown := w.post(t, boss, "/office/lots", with(form, "do", "show")...)
	require.Equal(t, http.StatusOK, shown.status)
	require.Equal(t, "14 bundles of 4 bags 15 bundles of 2 bags 14 bundles of 1 bag", shown.text("form.issue .note ul"))
	require.Equal(t, asMap(form), asMap(shown.fields("form.issue")), "ready to be issued")
	require.Empty(t, w.lots.sizes)

	for range 2 { // pressed twice
		done := w.post(t, boss, "/office/lots", with(form, "do", "issue")...)
		require.Equal(t, http.StatusSeeOther, done.status)
		after := w.get(t, boss, done.header.Get("Location"))
		require.Contains(t, after.text(".saved"), "100 bags issued to Plover County.")
		require.Equal(t, 1, after.Find("#lots ~ .scroll tr.new").Length())
		require.Equal(t, "400", cells(after, "#lots ~ .scroll tfoot td.num")[0])
	}
	require.Len(t, w.lots.sizes, 1)
	require.Len(t, w.lots.sizes[0], 43)

	again := w.get(t, boss, "/office/lots")
	require.NotEqual(t, asMap(form)["token"], asMap(again.fields("form.issue"))["token"])
}

func cells(a answer, selector string) []string {
	var out []string
	for _, n := range a.Find(selector).Nodes {
		out = append(out, a.FindNodes(n).Text())
	}
	return out
}

func TestRefusedLotsKeepWhatWasTyped(t *testing.T) {
	w := newWorld(t)
	form := with(w.get(t, boss, "/office/lots").fields("form.issue"), "county", "2", "bags", "30")
	for name, c := range map[string]struct{ field, typed, say string }{
		"no county":       {"county", "", "Pick the county"},
		"not a county":    {"county", "11", "Pick the county"},
		"no season":       {"season", "1999", "Pick the fall"},
		"no bags":         {"bags", "", "1 to 20,000"},
		"none":            {"bags", "0", "1 to 20,000"},
		"too many":        {"bags", "20001", "1 to 20,000"},
		"half a bag":      {"bags", "2.5", "1 to 20,000"},
		"no sizes":        {"sizes", " ,", "1 to 6 bags"},
		"a bundle of 7":   {"sizes", "7, 1", "1 to 6 bags"},
		"sizes in words":  {"sizes", "four", "1 to 6 bags"},
		"very many sizes": {"sizes", "1 1 1 1 1 1 1 1 1 1 1 1 1", "1 to 6 bags"},
	} {
		t.Run(name, func(t *testing.T) {
			page := w.post(t, boss, "/office/lots", with(form, c.field, c.typed, "do", "issue")...)
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			require.Contains(t, page.text("#"+c.field+"-wrong"), c.say)
			require.Equal(t, "#"+c.field, page.attr(".problems a", "href"))
			require.Equal(t, "true", page.attr("#"+c.field, "aria-invalid"))
			if page.Find("#"+c.field).Is("input") && c.field != "sizes" {
				require.Equal(t, c.typed, page.attr("#"+c.field, "value"))
			}
			if c.field != "bags" {
				require.Equal(t, "30", page.attr("#bags", "value"))
			}
		})
	}
	require.Equal(t, http.StatusUnprocessableEntity, w.post(t, boss, "/office/lots", with(form, "token", "x")...).status)
	require.Empty(t, w.lots.sizes)
}

func TestSheetsArePrinted(t *testing.T) {
	w := newWorld(t)
	got := w.get(t, boss, sheetsPath(w.lots.lots[0].ID))
	require.Equal(t, http.StatusOK, got.status)
	require.Equal(t, "application/pdf", got.header.Get("Content-Type"))
	require.Equal(t, `inline; filename="bags-sedge-2026.pdf"`, got.header.Get("Content-Disposition"))
	require.Equal(t, "%PDF-", got.body[:5])
	for _, path := range []string{"/office/lots/00/sheets.pdf", "/office/lots/x/sheets.pdf", sheetsPath(desk.ID{77})} {
		require.Equal(t, http.StatusNotFound, w.get(t, boss, path).status)
	}
	sheets := bundleSheets(catalog.English(), [][]bag.Code{codes[:4], codes[4:5]}, map[bag.Code]bag.Words{codes[1]: 7}, "Sedge", 2026, "https://scn.example.org/")
	require.Len(t, sheets, 2)
	require.Equal(t, "4 bags · Sedge County · fall of 2026", sheets[0].Head)
	require.Equal(t, "1 bag · Sedge County · fall of 2026", sheets[1].Head)
	require.Equal(t, "https://scn.example.org/send?bag="+string(codes[4]), sheets[1].Bags[0].URL)
	// What the square code says is read back by the lab's pages.
	require.Equal(t, string(codes[4]), scanned(sheets[1].Bags[0].URL))
}

func TestLotsKeepToACounty(t *testing.T) {
	w := newWorld(t)
	form := with(w.get(t, boss, "/office/lots").fields("form.issue"), "county", "2", "bags", "30")
	lot, bad := readOrder(catalog.English(), typedLot{asMap(form)["token"], "2", "30", "4, 2, 1", "2026"}, mustForm(t, w))
	require.Empty(t, bad)
	require.Equal(t, place.ID(2), lot.county)
	require.Equal(t, 2026, lot.season)
}

func mustForm(t *testing.T, w *world) lotForm {
	t.Helper()
	v, err := w.office.lots(t.Context(), typedLot{}, nil)
	require.NoError(t, err)
	return v.Form
}

func FuzzReadSizes(f *testing.F) {
	f.Add("4, 2, 1")
	f.Add("4;;4 1")
	f.Fuzz(func(t *testing.T, s string) {
		got, ok := readSizes(s)
		for _, n := range got {
			if !ok || n < 1 || n > bag.MaxBundle || len(got) > maxSizes {
				t.Fatalf("%q gave %v", s, got)
			}
		}
	})
}
