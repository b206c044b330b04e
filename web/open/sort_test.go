package open

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
	"sixmile/web/shell"
)

// numbersOf are the figures of a table's column from top to bottom; -1 where
// there is none.
func numbersOf(t *testing.T, table *goquery.Selection, column int) (out []int) {
	table.Find("tbody tr").Each(func(_ int, tr *goquery.Selection) {
		words := strings.Fields(strings.ReplaceAll(text(tr.Children().Eq(column)), ",", ""))
		n := -1
		if len(words) > 0 && words[0] != "–" {
			var err error
			n, err = strconv.Atoi(words[0])
			require.NoError(t, err)
		}
		out = append(out, n)
	})
	return out
}

// Tables of places are sorted by links in their heads, without a script; sorted,
// they hold the same rows and say by what they are sorted.
func TestTablesSortByLink(t *testing.T) {
	s := newSiteIn(inventedIssue(), catalog.English(), catalog.Choose("es").At("/es"))
	for _, page := range []struct {
		path    string
		columns []shell.Column
		numbers map[shell.Column]int // where they stand
	}{
		{"/county/plover", countyColumns, map[shell.Column]int{byBags: 2, byFinds: 3, byUnconfirmed: 4}},
		{"/", stateColumns, map[shell.Column]int{byBags: 4, byFinds: 5}},
		{"/?by=townships", stateColumns, map[shell.Column]int{byFinds: 5}},
		{"/es/county/plover", countyColumns, map[shell.Column]int{byFinds: 3}},
	} {
		plain := s.dom(t, page.path)
		table := plain.Find("table.figures thead:has(a.sort)").Closest("table")
		require.Equal(t, 1, table.Length(), page.path)
		require.Equal(t, "ascending", table.Find("th[aria-sort]").AttrOr("aria-sort", ""))
		rows := func(d *goquery.Selection) (out []string) {
			d.Find("tbody tr").Each(func(_ int, tr *goquery.Selection) { out = append(out, text(tr)) })
			slices.Sort(out)
			return out
		}
		links := table.Find("thead a.sort")
		require.Equal(t, len(page.columns), links.Length(), page.path)
		for i, by := range page.columns {
			href := links.Eq(i).AttrOr("href", "")
			require.Equal(t, shell.SortedAddress(page.path, by)+"#table", href)
			at, _, _ := strings.Cut(href, "#")
			d := s.dom(t, at)
			clean(t, d)
			require.Equal(t, 1, d.Find("#table").Length(), "the link leads to the table")
			sorted := d.Find("table.figures thead:has(a.sort)").Closest("table")
			require.Equal(t, rows(table), rows(sorted), href)
			require.Equal(t, text(table.Find("tfoot")), text(sorted.Find("tfoot")))
			if column, ok := page.numbers[by]; ok {
				got := numbersOf(t, sorted, column)
				require.True(t, slices.IsSortedFunc(got, func(a, b int) int { return b - a }), "%s: %v", href, got)
				require.NotEqual(t, numbersOf(t, table, column), got, "the example tells sorted from unsorted")
				require.Equal(t, "descending", sorted.Find("th[aria-sort]").AttrOr("aria-sort", ""))
			}
		}
		require.Equal(t, http.StatusNotFound, s.get(shell.SortedAddress(page.path, "weather")).Code)
	}
	require.Zero(t, s.dom(t, "/county/plover/meeting.html").Find("a.sort").Length(), "a file cannot ask again")
}
