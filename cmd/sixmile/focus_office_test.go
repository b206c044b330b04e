//go:build screens

package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// TestFocusFollowsTheOffice walks the pages of the office with the tabulator key, as
// those whose pages they are: from the top of the page, whatever field a page starts
// in.
//
//	go test -tags screens -run TestFocusFollowsTheOffice ./cmd/sixmile
func TestFocusFollowsTheOffice(t *testing.T) {
	w := startWalk(t)
	for login, pages := range map[string][]string{
		"counter":  {"", "/counter", "/counter/answer", "/me"},
		"educator": {"", "/sheet", "/edge", "/help/meeting?county=brackwater"},
		"lab":      {"/login-bags", "/trays", "/trays/3", "/slip", "/count", "/upload", "/reported", "/bag", "/quality", "/indicator", "/methods"},
		"coordinator": {"", "/queue", "/sign-off", "/release", "/recall?county=1", "/editions", "/history", "/analysis?county=1", "/lots", "/plan", "/plan/1",
			"/lookback", "/money", "/annual", "/boundaries", "/look-ahead", "/people", "/trail", "/help"},
	} {
		for _, size := range [][2]int64{{390, 844}, {1440, 900}} {
			ctx := w.browseFor(5*time.Minute, size[0], size[1])
			w.signIn(ctx, login)
			for _, page := range pages {
				t.Run(fmt.Sprintf("%s%d%s", login, size[0], page), func(t *testing.T) {
					require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.base+"/office"+page)))
					w.waitFor(ctx, `document.fonts.status === "loaded" && document.readyState === "complete"`)
					w.js(ctx, `(() => { document.querySelector("a.skip").focus(); return "" })()`)
					stops, found := tabThrough(t, ctx)
					require.Greater(t, stops, 8, "nothing was walked")
					require.Empty(t, found, strings.Join(found, "\n"))
				})
			}
		}
	}
}

// TestRefusedFormsLeadToTheirFirstProblem: Tab reaches the summary of what was wrong,
// and its first link the field itself.
func TestRefusedFormsLeadToTheirFirstProblem(t *testing.T) {
	w := startWalk(t)
	ctx := w.browseFor(2*time.Minute, 1440, 900)
	w.signIn(ctx, "coordinator")
	for _, form := range [][2]string{
		{"/office/methods", `document.querySelector('main form button')`},
		{"/office/people", `document.querySelector('form.invite button')`},
		{"/office/money", `document.querySelector('main .two form button')`},
		{"/office/look-ahead", `document.querySelector('main form button')`},
		{"/office/slip", `document.querySelector('main form button')`},
		{"/office/lots", `document.querySelector('main form[method=post] button[value=issue]')`},
	} {
		page, submit := form[0], form[1]
		t.Run(page, func(t *testing.T) {
			require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.base+page)))
			w.waitFor(ctx, `document.readyState === "complete"`)
			w.js(ctx, `(() => { for (const i of document.querySelectorAll('main form[method=post] input:not([type=hidden]):not([type=checkbox]):not([type=radio]), main form[method=post] textarea')) { i.value = ""; i.required = false }; setTimeout(() => `+submit+`.click(), 0); return "" })()`)
			w.waitFor(ctx, `document.querySelector('.problems a') !== null && document.readyState === "complete"`)
			w.js(ctx, `(() => { document.querySelector("a.skip").focus(); return "" })()`)
			w.tabTo(ctx, `document.querySelector('.problems a')`)
			w.js(ctx, `(() => { document.activeElement.click(); return "" })()`)
			w.waitFor(ctx, `location.hash !== ""`)
			// The field has the focus, or the next Tab gives it.
			wanted := `document.getElementById(decodeURIComponent(location.hash.slice(1)))`
			require.Equal(t, "true", w.js(ctx, `String(`+wanted+` !== null)`), w.js(ctx, `location.hash + " " + document.querySelector(".problems a")?.outerHTML`))
			if w.js(ctx, `String(document.activeElement === `+wanted+`)`) != "true" {
				w.typed(ctx, kb.Tab)
			}
			require.Equal(t, "true", w.js(ctx, `String(document.activeElement === `+wanted+` || `+wanted+`.contains(document.activeElement))`))
			require.Equal(t, "true", w.js(ctx, `document.activeElement.getAttribute("aria-invalid")`))
		})
	}
}
