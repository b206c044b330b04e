//go:build screens

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// weight is what a page weighs, and when its largest part is painted.
type weight struct {
	Path     string  `json:"path"`
	Bytes    int     `json:"bytes"`    // of the page and all it fetches, as sent
	Requests int     `json:"requests"` // the page's own among them
	Largest  float64 `json:"lcp_ms"`   // largest contentful paint
	Shift    float64 `json:"cls"`      // cumulative layout shift
}

// weighPage notes the page that is open. Times are of this machine, for looking at.
func (l *looker) weighPage(path string) {
	const ask = `new Promise(done => {
		let largest = 0, shift = 0;
		new PerformanceObserver(list => list.getEntries().forEach(e => largest = e.startTime)).observe({type: "largest-contentful-paint", buffered: true});
		new PerformanceObserver(list => list.getEntries().forEach(e => shift += e.value)).observe({type: "layout-shift", buffered: true});
		setTimeout(() => {
			const all = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")].filter(e => !e.name.startsWith("data:"));
			done(JSON.stringify({bytes: all.reduce((n, e) => n + e.transferSize, 0), requests: all.length, lcp_ms: Math.round(largest), cls: Math.round(shift * 1000) / 1000}));
		}, 50);
	})`
	said, err := chromedp.Run(l.ctx, chromedp.Evaluate[string](ask, chromedp.EvalAwaitPromise))
	require.NoError(l.t, err, path)
	at := weight{Path: path}
	require.NoError(l.t, json.Unmarshal([]byte(said), &at))
	if at.Shift > 0.1 { // what Web Vitals still calls good
		l.found = append(l.found, fmt.Sprintf("%s: things jump (%v)", path, at.Shift))
	}
	l.weigh = append(l.weigh, at)
}

// record writes what pages weigh beside their pictures, heaviest first.
func (l *looker) record() {
	slices.SortFunc(l.weigh, func(a, b weight) int { return b.Bytes - a.Bytes })
	var b strings.Builder
	for _, w := range l.weigh {
		line, err := json.Marshal(w)
		require.NoError(l.t, err)
		b.Write(append(line, '\n'))
	}
	require.NoError(l.t, os.WriteFile(l.out+".jsonl", []byte(b.String()), 0o644))
}

// keepMarkup puts the page by as the server sends it.
func (l *looker) keepMarkup(name string) {
	text, err := chromedp.Run(l.ctx, chromedp.Evaluate[string](`fetch(location.href).then(r => r.text())`, chromedp.EvalAwaitPromise))
	require.NoError(l.t, err, name)
	require.NoError(l.t, os.MkdirAll(filepath.Join(l.out, "html"), 0o755))
	require.NoError(l.t, os.WriteFile(filepath.Join(l.out, "html", name+".html"), []byte(text), 0o644))
}

// checkMarkup has the checker of the HTML standard read all that was kept.
func (l *looker) checkMarkup() {
	jar := filepath.Join("..", "..", ".ci", "axe", "node_modules", "vnu-jar", "build", "dist", "vnu.jar")
	require.FileExists(l.t, jar, "run: npm ci --prefix .ci/axe")
	said, err := exec.Command("java", "-jar", jar, "--format", "gnu", "--skip-non-html", filepath.Join(l.out, "html")).CombinedOutput()
	for line := range strings.Lines(string(said)) {
		_, line, _ = strings.Cut(strings.TrimSpace(line), l.out+"/html/")
		l.found = append(l.found, "markup: "+line)
	}
	if err != nil && len(said) == 0 {
		require.NoError(l.t, err, "the checker wants a Java runtime")
	}
}

// follow asks for every address the page links to that nobody asked for yet, and
// looks for the fragments that its own links name. Of files that are made on
// demand one of a kind is enough.
func (l *looker) follow(path string) {
	const links = `JSON.stringify({
		away: [...new Set([...document.querySelectorAll("a[href], link[href], img[src], script[src]")].map(a => (a.getAttribute("href") || a.getAttribute("src")).split("#")[0]).filter(h => h.startsWith("/")))],
		lost: [...document.querySelectorAll('a[href^="#"]')].map(a => a.getAttribute("href")).filter(h => h.length > 1 && !document.getElementById(decodeURIComponent(h.slice(1)))),
	})`
	var at struct{ Away, Lost []string }
	require.NoError(l.t, json.Unmarshal([]byte(l.w.js(l.ctx, links)), &at))
	for _, h := range at.Lost {
		l.found = append(l.found, fmt.Sprintf("%s: its link %s leads nowhere", path, h))
	}
	for _, to := range at.Away {
		key := to
		if page, _, _ := strings.Cut(to, "?"); !strings.HasPrefix(page, "/static/") && (strings.Contains(page, "/paper/") || strings.Contains(filepath.Base(page), ".")) {
			key = filepath.Base(page)
		} else if !strings.HasPrefix(page, "/static/") {
			key = kind(to)
		}
		if l.lead[key] {
			continue
		}
		l.lead[key] = true
		ask := fmt.Sprintf(`fetch(%q, {method: "HEAD"}).then(r => String(r.status), e => String(e))`, to)
		status, err := chromedp.Run(l.ctx, chromedp.Evaluate[string](ask, chromedp.EvalAwaitPromise))
		require.NoError(l.t, err, to)
		if status != "200" {
			l.found = append(l.found, fmt.Sprintf("%s: its link %s answers %s", path, to, status))
		}
	}
}
