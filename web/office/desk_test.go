package office

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/sample"
)

func TestDeskSaysWhatIsNext(t *testing.T) {
	w := newWorld(t)
	for role, hrefs := range map[account.Role][]string{
		account.Technician:  {"/office/count", "/office/login-bags", "/office/trays"},
		account.Coordinator: {"/office/queue", "/office/count", "/office/login-bags", "/office/trays", "/office/lots", "/office/sign-off", "/office/release", "/office/counter"},
		account.Clerk:       {"/office/counter", "/bags", "/"},
		account.Educator:    {"/office/help/meeting", "/"},
	} {
		page := w.get(t, role, "/office")
		require.Equal(t, 200, page.status)
		var got []string
		for _, n := range page.Find(".tasks a").Nodes {
			href, _ := page.FindNodes(n).Attr("href")
			got = append(got, href)
		}
		require.Equal(t, hrefs, got, role)
		require.Contains(t, page.text("main"), "Bags of fall 2026")
		require.Equal(t, "210", page.text("table.steps tbody tr:nth-child(2) td.num"))
		require.Equal(t, "52.5", page.attr("table.steps tbody tr:nth-child(2) rect.come", "width"))
	}
	require.Contains(t, w.get(t, account.Coordinator, "/office").text(".tasks"), "4 forms carry codes that need a person.")
	require.Contains(t, w.get(t, account.Technician, "/office").text(".tasks"), "43 bags have their soil and their form")
	require.Contains(t, w.get(t, account.Technician, "/office").text(".tasks"), "15 bags have come without their forms.")

	w.program.seasons = nil
	require.Contains(t, w.get(t, account.Clerk, "/office").text("main"), "No season is open yet.")
}

func TestStepsOfAnEmptySeason(t *testing.T) {
	for _, s := range steps(catalog.English(), desk.Progress{}) {
		require.Equal(t, "0", s.Width)
	}
}

func TestCurrentSeason(t *testing.T) {
	seasons := []sample.Season{{Year: 2026, Opens: date(2026, 8, 1)}, {Year: 2024, Opens: date(2024, 8, 1)}, {Year: 2025, Opens: date(2025, 8, 1)}}
	for day, want := range map[string]int{"2026-08-01": 2026, "2026-07-31": 2025, "2030-01-01": 2026, "2020-01-01": 2024} {
		at, ok := currentSeason(seasons, mustDay(t, day))
		require.True(t, ok)
		require.Equal(t, want, at.Year, day)
	}
	_, ok := currentSeason(nil, today)
	require.False(t, ok)
}
