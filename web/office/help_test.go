package office

import (
	"net/http"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
)

// Every role finds its own guide on its desk, and may read all of them.
func TestEveryRoleHasItsGuide(t *testing.T) {
	w := newWorld(t)
	for _, d := range duties {
		t.Run(d.Name, func(t *testing.T) {
			require.Equal(t, d.Name, dutyOf(d.For))
			desk := w.do(t, d.For, http.MethodGet, "/office", nil)
			require.Equal(t, 1, desk.Find("main a[href='/office/help/"+d.Name+"']").Length())
			for _, other := range duties {
				p := w.do(t, d.For, http.MethodGet, "/office/help/"+other.Name, nil)
				require.Equal(t, http.StatusOK, p.status)
				require.Equal(t, 1, p.Find("h1").Length())
				require.GreaterOrEqual(t, p.Find(".guide h2").Length(), 4)
				require.NotContains(t, p.Find("main").Text(), "[duty")
			}
			index := w.do(t, d.For, http.MethodGet, "/office/help", nil)
			require.Contains(t, index.Find("li:has(.muted)").Text(), w.office.Lang.SayOf("duty.name", d.Name))
		})
	}
	require.Empty(t, dutyOf(account.Role("nobody")))
}

// Guides lead only to pages that there are.
func TestGuidesLeadSomewhere(t *testing.T) {
	w := newWorld(t)
	there := map[string]bool{}
	for _, r := range w.office.routes() {
		there[r.Path] = r.Method == http.MethodGet || there[r.Path]
	}
	seen := 0
	for _, path := range []string{"/office/help", "/office/help/counter", "/office/help/lab", "/office/help/meetings", "/office/help/program", "/office/help/meeting"} {
		w.do(t, account.Coordinator, http.MethodGet, path, nil).Find("main a[href^='/office']").Each(func(_ int, a *goquery.Selection) {
			seen++
			require.True(t, there[a.AttrOr("href", "")], a.AttrOr("href", ""))
		})
	}
	require.Greater(t, seen, 20)
}

// The plan of a meeting comes to 45 minutes without a gap, says what to mind, and
// gives the sheets of the county that is chosen.
func TestMeetingPlan(t *testing.T) {
	w := newWorld(t)
	p := w.do(t, account.Coordinator, http.MethodGet, "/office/help/meeting", nil)
	require.Equal(t, http.StatusOK, p.status)
	at := "0"
	p.Find("table.lesson tbody th").Each(func(_ int, th *goquery.Selection) {
		from, to, _ := strings.Cut(strings.TrimSpace(th.Text()), "–")
		require.Equal(t, at, from)
		at = to
	})
	require.Equal(t, "45", at)
	for _, must := range []string{"no recommendation", "does not mean free of it", "label is the law", "licensed", "land is worth", "Whose field", "out of state"} {
		require.Contains(t, p.Find("main").Text(), must)
	}
	require.Zero(t, p.Find("a[href^='/county/']").Length(), "no county is chosen")

	slug := p.Find("#county option").First().AttrOr("value", "")
	p = w.do(t, account.Coordinator, http.MethodGet, "/office/help/meeting?county="+slug, nil)
	for _, sheet := range []string{"", "/talk", "/meeting.html", "/paper/handout.pdf", "/paper/slides.pdf", "/paper/poster.pdf", "/paper/roots.pdf"} {
		require.Equal(t, 1, p.Find("a[href='/county/"+slug+sheet+"']").Length(), sheet)
	}

	p = w.do(t, account.Coordinator, http.MethodGet, "/office/help/meeting?county=%3Cscript%3E", nil)
	require.Equal(t, http.StatusUnprocessableEntity, p.status)
	require.Equal(t, "true", p.Find("#county").AttrOr("aria-invalid", ""))
	require.NotContains(t, p.Find("main").Text(), "<script>")
}

// An educator's plan starts with her own county.
func TestMeetingPlanOfOnesOwnCounty(t *testing.T) {
	w := newWorld(t)
	p := w.do(t, account.Educator, http.MethodGet, "/office/help/meeting", nil)
	require.Equal(t, 1, p.Find("#county option[selected]").Length())
	require.Equal(t, 11, p.Find(".lesson-sheets a").Length())
}

// Nobody is led to a page that is not among her duties.
func TestGuidesLeadOnlyWhereOneMayGo(t *testing.T) {
	w := newWorld(t)
	for _, d := range duties {
		for _, other := range duties {
			w.do(t, d.For, http.MethodGet, "/office/help/"+other.Name, nil).Find("main a[href^='/office']").Each(func(_ int, a *goquery.Selection) {
				got := w.do(t, d.For, http.MethodGet, a.AttrOr("href", ""), nil)
				require.NotEqual(t, http.StatusForbidden, got.status, "%s reads of %s", d.For, a.AttrOr("href", ""))
			})
		}
	}
}
