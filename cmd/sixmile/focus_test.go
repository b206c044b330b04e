//go:build screens

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// focusStop judges where the focus is, against where it was: "" where it follows
// the page. Boxes are compared where the two ways down the tree part, so that
// columns are read one after the other; the next is below, or beside to the right.
// WCAG 2.2: 2.4.3 Focus Order, 2.4.7 Focus Visible, 2.4.11 Focus Not Obscured.
const focusStop = `(() => {
  const now = document.activeElement, was = window.wasFocused;
  if (!now || now === document.body) return JSON.stringify({end: true});
  if (now === window.firstFocused) return JSON.stringify({end: true});
  window.firstFocused ??= now;
  window.wasFocused = now;
  const name = (e) => (e.tagName + (e.id ? "#" + e.id : "") + " " + (e.getAttribute("aria-label") || e.textContent || e.value || "")).replace(/\s+/g, " ").slice(0, 60);
  const found = [], box = now.getBoundingClientRect(), drawn = now.closest("svg");
  if (was === now) return JSON.stringify({});
  if (box.width < 2 || box.height < 2) found.push("has no size");
  if (box.bottom < 1 || box.top > innerHeight - 1 || box.right < 1 || box.left > innerWidth - 1) found.push("is out of sight");
  const rects = [...now.getClientRects()].filter((r) => r.width > 1), some = rects[0] ?? box;
  const x = Math.max(1, Math.min(innerWidth - 2, some.left + Math.min(some.width, innerWidth) / 2)), y = (Math.max(1, some.top) + Math.min(innerHeight - 2, some.bottom)) / 2; // the middle of what is in sight
  const top = document.elementFromPoint(x, y);
  if (!drawn && top && !now.contains(top) && !top.contains(now) && !top.closest("label")?.contains(now)) found.push("lies under " + name(top));
  const seen = getComputedStyle(now), mark = drawn && now.querySelector("use, path");
  const lined = seen.outlineStyle !== "none" && parseFloat(seen.outlineWidth) >= 2;
  const stroked = mark && now.matches(":focus-visible") && parseFloat(getComputedStyle(mark).strokeWidth) >= 4 && getComputedStyle(mark).stroke !== "none";
  if (!lined && !stroked) found.push("shows no outline");
  if (was && was.isConnected && !(was.compareDocumentPosition(now) & 16)) {
    let a = was, b = now;
    while (!a.parentElement.contains(now)) a = a.parentElement;
    while (!b.parentElement.contains(was)) b = b.parentElement;
    const from = [...a.getClientRects()].filter((r) => r.width > 0).at(-1) ?? a.getBoundingClientRect();
    const to = [...b.getClientRects()].filter((r) => r.width > 0)[0] ?? b.getBoundingClientRect();
    // Shapes of a map have no straight edges: a row is what lies beside.
    const give = drawn && was.closest("svg") === drawn ? Math.min(from.height, to.height) * 0.6 : 4;
    const below = to.top >= from.bottom - give, beside = to.bottom > from.top + give && to.left >= from.right - (give === 4 ? 4 : Math.min(from.width, to.width) * 0.6);
    if (a !== b && !below && !beside) found.push("comes after " + name(was) + ", which stands below or to the right of it");
  }
  return JSON.stringify({name: name(now), found});
})()`

// TestFocusFollowsThePage walks the public pages with the tabulator key, on a phone
// and on a laptop: the focus goes down the page and along its rows, nothing lies
// over what has it, and it can be seen.
//
//	go test -tags screens -run TestFocusFollowsThePage ./cmd/sixmile
func TestFocusFollowsThePage(t *testing.T) {
	w := startWalk(t)
	pages := []string{"/", "/county/brackwater", "/county/brackwater/worth", "/county/brackwater/years",
		"/county/brackwater/print", "/county/brackwater/talk", "/send", "/send?county=brackwater", "/send/map?county=brackwater",
		"/bags", "/answer", "/help", "/help/grower", "/help/words", "/look-ahead", "/season", "/how-to-sample", "/region",
		"/annual", "/features?f=html", "/nothing-here", "/es/", "/es/send?county=brackwater"}
	for _, size := range [][2]int64{{390, 844}, {1440, 900}} {
		ctx := w.browseFor(5*time.Minute, size[0], size[1])
		for _, page := range pages {
			t.Run(fmt.Sprintf("%d%s", size[0], page), func(t *testing.T) {
				require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.base+page)))
				w.waitFor(ctx, `document.fonts.status === "loaded" && document.readyState === "complete"`)
				stops, found := tabThrough(t, ctx)
				require.Greater(t, stops, 8, "nothing was walked")
				require.Empty(t, found, strings.Join(found, "\n"))
			})
		}
	}
}

// tabThrough presses the tabulator until the page has been walked, and returns how
// often it stopped and what was wrong on the way.
func tabThrough(t *testing.T, ctx context.Context) (stops int, found []string) {
	for range 500 {
		require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab)))
		said, err := chromedp.Run(ctx, chromedp.Evaluate[string](focusStop))
		require.NoError(t, err)
		var stop struct {
			End   bool
			Name  string
			Found []string
		}
		require.NoError(t, json.Unmarshal([]byte(said), &stop))
		if stop.End {
			return stops, found
		}
		stops++
		for _, f := range stop.Found {
			found = append(found, stop.Name+": "+f)
		}
	}
	t.Fatal("the page has no end")
	return stops, found
}
