//go:build screens

package main

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// screen is one way of looking at the program.
type screen struct {
	name          string
	width, height int64
	login         string // whom to be; empty: a visitor
	dark          bool
}

var screens = []screen{
	{name: "visitor-wide", width: 1440, height: 900},
	{name: "visitor-phone", width: 390, height: 844},
	{name: "visitor-dark", width: 1440, height: 900, dark: true},
	// As wide as WCAG 1.4.10 asks: 1,280 pixels at 400 percent.
	{name: "visitor-narrow", width: 320, height: 640},
	{name: "visitor-projector", width: 1920, height: 1080},
	{name: "coordinator-wide", width: 1440, height: 900, login: "coordinator"},
	{name: "coordinator-phone", width: 390, height: 844, login: "coordinator"},
	{name: "coordinator-dark", width: 1440, height: 900, login: "coordinator", dark: true},
	{name: "coordinator-narrow", width: 320, height: 640, login: "coordinator"},
	{name: "lab-wide", width: 1440, height: 900, login: "lab"},
	{name: "educator-phone", width: 390, height: 844, login: "educator"},
	{name: "counter-wide", width: 1440, height: 900, login: "counter"},
}

// TestScreens looks at one page of every kind that links and forms lead to, as
// each person and on each screen: nothing sticks out sideways, nothing is
// reported by axe-core or, of the markup, by the Nu Html Checker (npm, versions in
// .ci/axe; the checker wants a Java runtime), every link leads somewhere, fragment
// and all. It leaves pictures, contact sheets and a record of what each page
// weighs and when it stands still in dist/screens.
//
//	npm ci --prefix .ci/axe
//	go test -tags screens -run TestScreens ./cmd/sixmile
//
// It is behind a tag because it takes minutes and wants npm.
func TestScreens(t *testing.T) {
	axe, err := os.ReadFile(filepath.Join("..", "..", ".ci", "axe", "node_modules", "axe-core", "axe.min.js"))
	require.NoError(t, err, "run: npm ci --prefix .ci/axe")
	w := startWalk(t)
	for _, s := range screens {
		t.Run(s.name, func(t *testing.T) {
			out := filepath.Join("..", "..", "dist", "screens", s.name)
			require.NoError(t, os.RemoveAll(out))
			require.NoError(t, os.MkdirAll(out, 0o755))
			ctx := w.browseFor(15*time.Minute, s.width, s.height)
			if s.dark {
				_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
					Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}})
				require.NoError(t, err)
			}
			look := &looker{w: w, t: t, ctx: ctx, axe: string(axe), out: out, width: s.width, lead: map[string]bool{}}
			start := "/"
			if s.login != "" {
				w.signIn(look.ctx, s.login)
				start = "/office"
			}
			look.walk(start)
			t.Logf("%d kinds of page", len(look.seen))
			contactSheet(t, out)
			look.record()
			look.checkMarkup()
			for _, found := range look.found {
				t.Error(found)
			}
		})
	}
}

// looker goes from page to page.
type looker struct {
	w     *walk
	t     *testing.T
	ctx   context.Context
	axe   string
	out   string
	width int64
	seen  map[string]bool // kinds of page
	found []string
	lead  map[string]bool // addresses that links led to and that are there
	weigh []weight
}

// aLetterALine finds words broken into a column too narrow for them.
const aLetterALine = `[...document.querySelectorAll("main *")].filter(e => {
	if (e.closest("svg, select, textarea, .unseen") || ![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim().length > 6)) return false;
	const r = document.createRange();
	r.selectNodeContents(e);
	const box = r.getBoundingClientRect(), em = parseFloat(getComputedStyle(e).fontSize);
	return box.height > 6 * em && box.width < 3 * em;
}).slice(0, 3).map(e => e.outerHTML.slice(0, 90)).join(" | ")`

// headsAstray finds heads of one row of a table whose last lines do not stand in one line.
const headsAstray = `[...document.querySelectorAll("main thead tr")].filter(row => {
	const feet = [...row.cells].filter(c => c.rowSpan === 1 && getComputedStyle(c).verticalAlign === "bottom").map(c => {
		const words = document.createTreeWalker(c, NodeFilter.SHOW_TEXT, n => n.data.trim() && !n.parentElement.closest(".unseen") ? NodeFilter.FILTER_ACCEPT : NodeFilter.FILTER_REJECT);
		let foot = 0;
		for (let n; n = words.nextNode();) {
			const r = document.createRange();
			r.selectNodeContents(n);
			foot = Math.max(foot, r.getBoundingClientRect().bottom);
		}
		return foot;
	}).filter(foot => foot > 0);
	return feet.length > 0 && Math.max(...feet) - Math.min(...feet) > 2;
}).slice(0, 3).map(row => row.innerText.slice(0, 90)).join(" | ")`

var aName = regexp.MustCompile(`^(/e[ns])?/(county|bags|send)/[^/]+`)

// kind tells pages apart by what they are, not by whose: numbers, codes and
// counties do not count, nor do the values of what was chosen.
func kind(path string) string {
	page, query, _ := strings.Cut(path, "?")
	page = aName.ReplaceAllString(page, "$1/$2/*")
	parts := strings.Split(page, "/")
	for i, p := range parts {
		if len(p) > 0 && strings.ContainsAny(p, "0123456789") && !strings.Contains(p, ".") {
			parts[i] = "*"
		}
	}
	values, _ := url.ParseQuery(query)
	keys := make([]string, 0, len(values))
	for k := range values {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	if strings.Contains(page, "/print") || strings.Contains(page, "/years") {
		keys = nil
	}
	return strings.Join(parts, "/") + "?" + strings.Join(keys, "&")
}

// skip is what is not a page.
func skip(path string) bool {
	page, _, _ := strings.Cut(path, "?")
	return !strings.HasPrefix(page, "/") || strings.HasPrefix(page, "/static/") || strings.Contains(page, "/paper/") || strings.HasSuffix(page, "/text") || strings.Contains(filepath.Base(page), ".")
}

func (l *looker) walk(start string) {
	l.seen = map[string]bool{}
	queue := []string{start}
	for len(queue) > 0 && len(l.seen) < 120 {
		path := queue[0]
		queue = queue[1:]
		if skip(path) || l.seen[kind(path)] || (start == "/office") != strings.HasPrefix(path, "/office") {
			continue
		}
		l.seen[kind(path)] = true
		queue = append(queue, l.look(path)...)
	}
}

// look opens a page, judges and pictures it, and returns the addresses it links to.
func (l *looker) look(path string) []string {
	if err := chromedp.Do(l.ctx, chromedp.Navigate(l.w.base+path)); err != nil {
		// A download is no page.
		l.t.Logf("%s: %v", path, err)
		return nil
	}
	l.w.waitFor(l.ctx, `document.fonts.status === "loaded" && document.readyState === "complete"`)
	if l.w.js(l.ctx, `document.contentType`) != "text/html" {
		return nil // a drawing
	}
	l.weighPage(path) // before anything changes the page
	if l.w.js(l.ctx, `String(document.documentElement.scrollWidth > window.innerWidth + 1)`) == "true" {
		l.found = append(l.found, fmt.Sprintf("%s sticks out sideways: %s", path, l.w.js(l.ctx, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > window.innerWidth + 1 && getComputedStyle(e).position !== "fixed").slice(0, 3).map(e => e.outerHTML.slice(0, 90)).join(" | ")`)))
	}
	if thin := l.w.js(l.ctx, aLetterALine); thin != "" {
		l.found = append(l.found, path+" sets a letter a line: "+thin)
	}
	if crooked := l.w.js(l.ctx, headsAstray); crooked != "" {
		l.found = append(l.found, path+" has heads of a table at different heights: "+crooked)
	}
	require.NoError(l.t, chromedp.Do(l.ctx, chromedp.Evaluate[chromedp.Void](l.axe+";0")))
	broken, err := chromedp.Run(l.ctx, chromedp.Evaluate[string](`axe.run({runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => r.violations.map(v => v.id + " (" + v.impact + "): " + v.nodes.slice(0, 3).map(n => n.target.join(" ") + " " + (n.any[0]?.message || n.all[0]?.message || n.none[0]?.message || "")).join("; ") + ", " + v.nodes.length + " in all").join("\n"))`, chromedp.EvalAwaitPromise))
	require.NoError(l.t, err, path)
	if broken != "" {
		l.found = append(l.found, path+": "+broken)
	}
	shot, err := chromedp.Run(l.ctx, chromedp.FullScreenshot(80))
	require.NoError(l.t, err, path)
	name := strings.Trim(strings.NewReplacer("/", "_", "?", "_", "*", "x", "&", "_").Replace(kind(path)), "_")
	require.NoError(l.t, os.WriteFile(filepath.Join(l.out, name+".jpg"), shot, 0o644))
	l.keepMarkup(name)
	l.follow(path)
	links := l.w.js(l.ctx, `[...document.querySelectorAll("main a[href], nav a[href], header a[href], footer a[href]")].map(a => a.getAttribute("href").split("#")[0]).filter(h => h.startsWith("/")).join("\n")`)
	return strings.Split(links, "\n")
}
