//go:build screens

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestGuidesPrint prints every guide as a reader would: each comes out on one
// letter page, the plan of a meeting too, in both languages where there are two. It leaves the pages and pictures of them in dist/guides.
//
//	go test -tags screens -run TestGuidesPrint ./cmd/sixmile
func TestGuidesPrint(t *testing.T) {
	w := startWalk(t)
	out := filepath.Join("..", "..", "dist", "guides")
	require.NoError(t, os.RemoveAll(out))
	require.NoError(t, os.MkdirAll(out, 0o755))
	wide, phone := w.browse(1440, 900), w.browse(390, 844)
	w.signIn(wide, "educator")
	w.signIn(phone, "educator")
	for path, pages := range map[string]string{
		"/en/help/grower": "1", "/es/help/grower": "1", "/en/help/mapping": "1", "/es/help/mapping": "1",
		"/office/help/counter": "1", "/office/help/lab": "1", "/office/help/meetings": "1", "/office/help/program": "1",
		"/office/help/meeting?county=brackwater": "1",
		"/office/help":                           "", "/en/help/words": "", "/es/help/words": "", "/en/help": "", "/office": "", // only to look at
	} {
		t.Run(path, func(t *testing.T) {
			name := filepath.Join(out, strings.NewReplacer("/", "-", "?", "-").Replace(strings.Trim(path, "/")))
			require.NoError(t, chromedp.Do(wide, chromedp.Navigate(w.base+path)))
			w.waitFor(wide, `document.fonts.status === "loaded" && document.readyState === "complete"`)
			pdf, err := chromedp.Run(wide, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(name+".pdf", pdf, 0o644))
			shot, err := chromedp.Run(wide, chromedp.FullScreenshot(80))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(name+"-wide.jpg", shot, 0o644))
			require.NoError(t, chromedp.Do(phone, chromedp.Navigate(w.base+path)))
			w.waitFor(phone, `document.fonts.status === "loaded" && document.readyState === "complete"`)
			require.Equal(t, "false", w.js(phone, `String(document.documentElement.scrollWidth > window.innerWidth + 1)`), "sticks out sideways")
			shot, err = chromedp.Run(phone, chromedp.FullScreenshot(80))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(name+"-phone.jpg", shot, 0o644))
			if pages == "" {
				return
			}
			info, err := exec.Command("pdfinfo", name+".pdf").Output()
			require.NoError(t, err)
			require.Regexp(t, regexp.MustCompile(`Page size:\s+612 x 792 pts \(letter\)`), string(info))
			require.Regexp(t, regexp.MustCompile(`Pages:\s+`+pages+`\n`), string(info))
		})
	}
}
