package open

import (
	"net/http"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
)

// The table of levels is ISU's of 2008 (IPM 63, soybean next): low to 2,000,
// moderate 2,001 to 12,000, high over 12,000.
func TestHelpLevels(t *testing.T) {
	res, doc := get(t, growerDeps(newOffice()), "/help")
	require.Equal(t, http.StatusOK, res.StatusCode)
	rows := doc.Find("table.levels tbody tr")
	clean := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	got := rows.Map(func(_ int, s *goquery.Selection) string {
		return clean(s.Find("th").Text()) + ": " + clean(s.Find("td").Last().Text())
	})
	require.Len(t, got, 5)
	require.Contains(t, got[0], "none found: No eggs seen")
	require.Contains(t, got[1], "no more than 200")
	require.Equal(t, []string{"low: Up to 2,000", "moderate: Over 2,000, up to 12,000", "high: Over 12,000"}, got[2:])
	require.Equal(t, 7, rows.Find("path").Length(), "one broken line, then one, two and three")
	require.Contains(t, doc.Find("main").Text(), "Iowa State University")
}

func TestViewLevelsOfOneClass(t *testing.T) {
	s := assay.DefaultScheme()
	s.Classes = append(s.Classes[:2:2], assay.Class{Rank: 2, Name: "high", Upper: s.Classes[4].Upper, Kind: assay.Found})
	require.NoError(t, s.Check())
	got := viewLevels(s)
	require.Equal(t, "any", got[2].Range)
}

// What release rule 9 accepts stands on the help page and, in short, above the
// button that sends.
func TestWhatCannotBePromisedIsSaid(t *testing.T) {
	_, doc := get(t, growerDeps(newOffice()), "/help")
	cannot := doc.Find("#cannot").Text()
	for _, s := range []string{"come out alike", "compare notes", "Staff", "made secret again", "open-records"} {
		require.Contains(t, cannot, s)
	}
	_, doc = get(t, growerDeps(newOffice()), "/send?county=plover")
	for _, s := range []string{"come out alike", "made secret again", "three or more senders"} {
		require.Contains(t, doc.Find(".send-now").Text(), s)
	}
	require.Equal(t, "/help#promise", doc.Find(".send-now a").AttrOr("href", ""))
}
