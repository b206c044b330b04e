package office

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/tray"
	"sixmile/internal/virulence"
	"sixmile/web/shell"
)

// sortedTable is a table of a page whose heads sort it.
type sortedTable struct {
	page, param string
	at          string // a selector of what it stands in
	columns     string // that it is sorted by, in their order; "=" is how it comes
	ready       func(*testing.T, *world)
}

func sortedTables() []sortedTable {
	savedPlan := func(t *testing.T, w *world) {
		form := w.get(t, boss, "/office/plan").fields("form.plan-form")
		w.post(t, boss, "/office/plan", append(form, "do", "save")...)
	}
	return []sortedTable{
		{page: "/office/lots?season=2026", param: "sort", at: "section:has(#lots)", columns: "county = bags bundles forms soil counted voided",
			ready: func(_ *testing.T, w *world) {
				w.lots.lots = []desk.Lot{
					{ID: desk.ID{9}, County: 1, Season: 2026, Issued: date(2026, 8, 19), Bags: 60, Bundles: 30, FormsIn: 12, SoilIn: 9, Counted: 9},
					{ID: desk.ID{8}, County: 2, Season: 2026, Issued: date(2026, 8, 3), Bags: 300, Bundles: 130, FormsIn: 210, SoilIn: 180, Counted: 122, Voided: 2}}
			}},
		{page: "/office/people", param: "sort", at: "#people", columns: "= login role counties state second used"},
		{page: "/office/analysis", param: "sort", at: "[aria-labelledby=coverage]", columns: "= townships never long recent results waiting within"},
		{page: "/office/analysis?county=plover", param: "sort", at: "#towns", columns: "= last results waiting senders"},
		{page: "/office/queue?soil=code", param: "sort", at: "#codes", columns: "code reason = county"},
		{page: "/office/queue?sort=county", param: "soil", at: "[aria-labelledby=strays]", columns: "code reason ="},
		{page: "/office/trays", param: "sort", at: "[aria-labelledby=waiting]", columns: "= code seat", ready: func(_ *testing.T, w *world) {
			w.trays.idle = append(w.trays.idle, desk.Idle{Code: codes[0], Received: date(2026, 11, 25), Seat: tray.Seat{Tray: 1, Cup: 3}, HasForm: true})
		}},
		{page: "/office/trays?sort=seat", param: "trays", at: "section:has(#trays)", columns: "= bags counted"},
		{page: "/office/release?cutoff=2026-11-30", param: "sort", at: "section:has(#waiting)", columns: "= place waiting uncounted senders reasons"},
		{page: "/office/release?cutoff=2026-11-30&sort=place", param: "joined", at: "section:has(#joined)", columns: "= bags senders"},
		{page: "/office/plan/1", param: "sort", at: "section:has(#lots-planned)", columns: "= bags byacres before acres expected issued", ready: savedPlan},
		{page: "/office/lookback?plan=1", param: "sort", at: "[aria-labelledby=seen]", columns: "= suggested bags chance found",
			ready: func(t *testing.T, w *world) { savedPlan(t, w); w.planning.number = 2 }},
		{page: "/office/edge", param: "sort", at: "[aria-label]:has(.edge-windows)", columns: "= place after looked by"},
		{page: "/office/quality", param: "sort", at: "[aria-labelledby=twins]", columns: "code = kind first second relative expected", ready: func(_ *testing.T, w *world) {
			m := assay.DefaultMethod()
			w.twins.twins = []desk.Twin{
				{Code: codes[3], Day: date(2026, 11, 3), Kind: assay.SameBag, First: m.Count(40), Second: m.Count(52), Method: m},
				{Code: codes[1], Day: date(2026, 11, 4), Kind: assay.SameSuspension, First: m.Count(90), Second: m.Count(41), Method: m},
				{Code: codes[2], Day: date(2026, 11, 9), Kind: assay.SameBag, First: m.Count(3), Second: m.Count(0), Method: m}}
		}},
		{page: "/office/indicator", param: "sort", at: "[aria-label]:has(table.ledger)", columns: "code type =", ready: func(_ *testing.T, w *world) {
			for i, c := range codes[:2] {
				test := virulence.Test{Check: []int{100, 120, 110}}
				for line := range test.Pots {
					test.Pots[line] = []int{30 * (i + line%2), 30, 28}
				}
				w.indicators.tests[c] = desk.Indicator{ID: desk.ID{byte(i + 1)}, Code: c, Season: 2026, Day: date(2026, 11, 20-i), Test: test}
			}
		}},
		{page: "/office/sign-off", param: "sort", at: "form table:last-of-type", columns: "code density level place ="},
		{page: "/office/recall?county=1", param: "sort", at: "section:has(#groups)", columns: "what = bags"},
	}
}

// Tables of the staff's pages are sorted by links in their heads, without a
// script. Sorted, they hold the same rows, say by what they are sorted, and keep
// what else the page was asked.
func TestStaffTablesSortByLink(t *testing.T) {
	for _, c := range sortedTables() {
		t.Run(c.page+" "+c.param, func(t *testing.T) {
			w := newWorld(t)
			if c.ready != nil {
				c.ready(t, w)
			}
			plain := w.get(t, boss, c.page)
			require.Equal(t, http.StatusOK, plain.status)
			table := plain.Find(c.at).Find("table:has(a.sort)").Last()
			if table.Length() == 0 {
				table = plain.Find(c.at).Last()
			}
			links := table.Find("thead a.sort")
			want := strings.Fields(c.columns)
			require.Equal(t, len(want), links.Length(), "heads that sort")
			for i, by := range want {
				c.follow(t, w, table, links.Eq(i), strings.TrimPrefix(by, "="))
			}
			for _, bad := range []string{"weather", "-weather", "-", "<script>alert(1)</script>", "bags; DROP TABLE"} {
				at, err := url.Parse(c.page)
				require.NoError(t, err)
				q := at.Query()
				q.Set(c.param, bad)
				at.RawQuery = q.Encode()
				got := w.get(t, boss, at.String())
				require.Equal(t, http.StatusOK, got.status, bad)
				if bad != "-" { // the other way round, where the table knows one
					require.Equal(t, rowsOf(table), rowsOf(c.table(got)), bad)
				}
				require.Equal(t, 1, c.table(got).Find("th[aria-sort]").Length(), bad)
			}
		})
	}
}

// table is the table on another page like it.
func (c sortedTable) table(a answer) *goquery.Selection {
	if t := a.Find(c.at).Find("table:has(a.sort)").Last(); t.Length() > 0 {
		return t
	}
	return a.Find(c.at).Last()
}

// follow takes a head's link, and the link that stands there then.
func (c sortedTable) follow(t *testing.T, w *world, plain, link *goquery.Selection, by string) {
	t.Helper()
	for turn := range 2 {
		href := link.AttrOr("href", "")
		at, err := url.Parse(href)
		require.NoError(t, err)
		page, err := url.Parse(c.page)
		require.NoError(t, err)
		q := at.Query()
		asked := q.Get(c.param)
		if q.Del(c.param); asked != "" {
			require.Contains(t, []string{by, "-" + by}, asked)
		}
		require.Equal(t, page.Path, at.Path)
		require.Equal(t, page.Query(), q, "%s keeps what else was asked", href)

		got := w.get(t, boss, at.RequestURI())
		require.Equal(t, http.StatusOK, got.status, href)
		require.Equal(t, 1, got.Find("#"+at.Fragment).Length(), "%s leads to the table", href)
		table := c.table(got)
		require.ElementsMatch(t, rowsOf(plain), rowsOf(table), href)
		require.Equal(t, plain.Find("tfoot").Text(), table.Find("tfoot").Text())
		head := table.Find("th[aria-sort]")
		require.Equal(t, 1, head.Length(), href)
		require.Equal(t, link.Text(), head.Text(), "%s says by what it is sorted", href)
		c.inOrder(t, table, head, href)
		link = head.Find("a.sort")
		if turn == 1 {
			require.Equal(t, href != link.AttrOr("href", ""), strings.Contains(link.AttrOr("href", "")+href, "=-"), "turned, it turns back")
		}
	}
}

// inOrder looks whether what stands under a head is in the order that it says.
// What is sorted by more than is written there is not looked at.
func (c sortedTable) inOrder(t *testing.T, table, head *goquery.Selection, href string) {
	t.Helper()
	cells := cellsUnder(table, head)
	for _, by := range []string{"sort=level", "sort=-level", "sort=place", "sort=-place"} {
		if c.page == "/office/sign-off" && strings.Contains(href, by) {
			return // by rank, and by county first
		}
	}
	if c.page == "/office/people" && !strings.Contains(href, "=") {
		return // closed accounts last
	}
	filled := slices.DeleteFunc(slices.Clone(cells), func(s string) bool { return s == "" || s == "never" })
	for i, s := range cells {
		require.True(t, i >= len(filled) == (s == "" || s == "never") || c.param == "sort" && strings.HasPrefix(c.page, "/office/edge"), "%s: rows without come last: %v", href, cells)
	}
	if strings.HasPrefix(c.page, "/office/edge") || strings.Contains(href, "sort=found") || strings.Contains(href, "sort=-found") {
		return // words stand where a fall is not known
	}
	down := head.AttrOr("aria-sort", "") == "descending"
	require.True(t, slices.IsSortedFunc(filled, func(a, b string) int {
		if down {
			a, b = b, a
		}
		return compareCells(a, b)
	}), "%s, %s: %v", href, head.AttrOr("aria-sort", ""), cells)
}

// cellsUnder are the words under a head, from top to bottom, without what only
// screen readers are told.
func cellsUnder(table, head *goquery.Selection) (out []string) {
	column := head.PrevAll().Length()
	table.Find("tbody tr").Each(func(_ int, tr *goquery.Selection) {
		cell := tr.Children().Eq(column).Clone()
		cell.Find(".unseen").Remove()
		out = append(out, strings.Join(strings.Fields(cell.Text()), " "))
	})
	return out
}

// compareCells compares days, numbers and words as what they are.
func compareCells(a, b string) int {
	day := func(s string) (time.Time, error) { return time.Parse("January 2, 2006", s) }
	if x, err := day(a); err == nil {
		if y, err := day(b); err == nil {
			return x.Compare(y)
		}
	}
	number := func(s string) (float64, error) {
		return strconv.ParseFloat(strings.TrimSpace(strings.Trim(strings.ReplaceAll(s, ",", ""), "%Tray ")), 64)
	}
	if x, err := number(a); err == nil {
		if y, err := number(b); err == nil {
			return cmp.Compare(x, y)
		}
	}
	return cmp.Compare(strings.ToLower(a), strings.ToLower(b))
}

// rowsOf are a table's rows as words, from top to bottom.
func rowsOf(table *goquery.Selection) (out []string) {
	table.Find("tbody tr").Each(func(_ int, tr *goquery.Selection) { out = append(out, strings.Join(strings.Fields(tr.Text()), " ")) })
	return out
}

// A plan just worked out is the answer to a form, which no link can ask for again.
func TestAnAnswerToAFormIsNotSorted(t *testing.T) {
	w := newWorld(t)
	form := w.get(t, boss, "/office/plan").fields("form.plan-form")
	page := w.post(t, boss, "/office/plan", append(form, "do", "show")...)
	require.Equal(t, http.StatusOK, page.status)
	require.NotZero(t, page.Find(".plan-lots tbody tr").Length())
	require.Zero(t, page.Find("a.sort").Length())
	require.Zero(t, page.Find("[aria-sort]").Length())
}

// A form in a sorted table comes back to it as it was sorted.
func TestFormsKeepTheOrder(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/queue?sort=-county")
	require.Equal(t, "/office/queue?sort=-county", page.attr("#codes", "action"))
	again := w.post(t, boss, page.attr("#codes", "action"))
	require.Equal(t, http.StatusUnprocessableEntity, again.status)
	require.Equal(t, rowsOf(page.Find("#codes table")), rowsOf(again.Find("#codes table")))
	require.Equal(t, "descending", again.attr("#codes th[aria-sort]", "aria-sort"))
	sign := w.get(t, boss, "/office/sign-off?sort=density")
	again = w.post(t, boss, sign.attr("#results", "action"))
	require.Equal(t, "descending", again.attr("#results th[aria-sort]", "aria-sort"))
}

func TestArrange(t *testing.T) {
	type row struct {
		name string
		n    int
		day  time.Time
	}
	columns := []sortColumn[row]{
		inOrder[row]("Name", false, false),
		byMost("n", "N", func(r row) (float64, bool) { return float64(r.n), r.n >= 0 }),
		byDay("day", "Day", func(r row) time.Time { return r.day }),
		inStore[row]("kept", "Kept"),
		notSorted[row]("Note", false),
	}
	for _, c := range []struct {
		by    shell.Column
		back  bool
		want  string
		sorts []string
		leads string // of the first three heads
	}{
		{"", false, "a b c d", []string{"ascending", "", "", "", ""}, "/x#t /x?sort=n#t /x?sort=day#t"},
		{"", true, "a b c d", []string{"ascending", "", "", "", ""}, "/x#t /x?sort=n#t /x?sort=day#t"},
		{"n", false, "c a d b", []string{"", "descending", "", "", ""}, "/x#t /x?sort=-n#t /x?sort=day#t"},
		{"n", true, "a d c b", []string{"", "ascending", "", "", ""}, "/x#t /x?sort=n#t /x?sort=day#t"},
		{"day", false, "b a c d", []string{"", "", "descending", "", ""}, "/x#t /x?sort=n#t /x?sort=-day#t"},
		{"kept", true, "a b c d", []string{"", "", "", "ascending", ""}, "/x#t /x?sort=n#t /x?sort=day#t"},
		{"Note", false, "a b c d", []string{"ascending", "", "", "", ""}, "/x#t /x?sort=n#t /x?sort=day#t"},
	} {
		rows := []row{{"a", 2, date(2026, 1, 1)}, {"b", -1, date(2026, 2, 1)}, {"c", 7, time.Time{}}, {"d", 2, time.Time{}}}
		s := sorting{path: "/x", param: "sort", anchor: "t", by: c.by, back: c.back}
		heads := arrange(&s, rows, columns...)
		var names, sorts, leads []string
		for _, r := range rows {
			names = append(names, r.name)
		}
		for i, h := range heads {
			if sorts = append(sorts, h.Sort); i < 3 {
				leads = append(leads, h.Href)
			}
		}
		require.Equal(t, c.want, strings.Join(names, " "), c)
		require.Equal(t, c.sorts, sorts, c)
		require.Equal(t, c.leads, strings.Join(leads, " "), c)
		require.Empty(t, heads[4].Href)
	}
}

// The list of waiting bags says what it is sorted by only where that is so, and
// that it is not all of them where it is not.
func TestWaitingBagsSayTheirOrder(t *testing.T) {
	w := newWorld(t)
	says := func(path string) string { return w.get(t, tech, path).text("#waiting + p") }
	require.Equal(t, "Those without a form first, then those that have waited longest.", says("/office/trays"))
	require.Empty(t, says("/office/trays?sort=seat"))
	for range mostIdle - 2 {
		w.trays.idle = append(w.trays.idle, desk.Idle{Code: codes[4], Received: date(2026, 11, 20), HasForm: true})
	}
	require.Equal(t, "The list holds the first 200.", says("/office/trays?sort=code"))
}
