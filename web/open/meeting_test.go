package open

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// The meeting file stands alone: nothing in it is fetched from anywhere.
func TestTheMeetingFileStandsAlone(t *testing.T) {
	w := newSite(inventedIssue()).get("/county/plover/meeting.html")
	require.Equal(t, http.StatusOK, w.Code)
	require.Contains(t, w.Header().Get("Content-Disposition"), `attachment; filename="plover-2026.html"`)
	d, err := goquery.NewDocumentFromReader(strings.NewReader(w.Body.String()))
	require.NoError(t, err)
	d.Find("[src], link[href], [href]").Each(func(_ int, s *goquery.Selection) {
		for _, name := range []string{"src", "href"} {
			if v, ok := s.Attr(name); ok {
				require.True(t, strings.HasPrefix(v, "#") || strings.HasPrefix(v, "data:"), "%s=%s", name, v)
			}
		}
	})
	slides := d.Find("section.slide")
	require.Greater(t, slides.Length(), 8)
	slides.Each(func(i int, s *goquery.Selection) {
		require.Equal(t, 1, s.Find("h1, h2").Length(), "slide %d has one heading", i+1)
		require.NotEmpty(t, strings.TrimSpace(s.Find(".notes p").Text()), "slide %d has a note", i+1)
	})
	// It says the same as the page: every row of the page's table is in it.
	page := newSite(inventedIssue()).dom(t, "/county/plover")
	require.Equal(t, text(page.Find("table.figures").First()), text(d.Find("table.figures").First()))
}

// A reader's choice of sentences goes into the text, the paragraph and the file.
func TestChosenSentences(t *testing.T) {
	s := newSite(inventedIssue())
	all := s.dom(t, "/county/plover/talk").Find("input[name=points]")
	require.Greater(t, all.Length(), 5)
	id, ok := all.First().Attr("value")
	require.True(t, ok)
	one := s.dom(t, "/county/plover/talk?points="+id)
	require.Equal(t, 1, one.Find("input[name=points][checked]").Length())
	require.Len(t, strings.Split(strings.TrimSpace(one.Find("textarea").First().Text()), "\n"), 1)
	// What is no sentence of ours is not repeated.
	strange := s.get("/county/plover/talk?points=%3Cscript%3E")
	require.NotContains(t, strange.Body.String(), "<script>%")
	require.NotContains(t, strange.Body.String(), "points=<")
	require.Equal(t, http.StatusNotFound, s.get("/county/nowhere/meeting.html").Code)
	require.Equal(t, http.StatusNotFound, s.get("/county/nowhere/talk").Code)
}

// It runs from a stick, with no network: every look-up fails, and the keys turn
// the slides.
func TestTheMeetingFileRunsWithoutANetwork(t *testing.T) {
	file := filepath.Join(t.TempDir(), "meeting.html")
	require.NoError(t, os.WriteFile(file, newSite(inventedIssue()).get("/county/plover/meeting.html").Body.Bytes(), 0o600))
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.NoFirstRun,
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND"), chromedp.Flag("proxy-server", "127.0.0.1:1"),
		chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 60*time.Second)
	t.Cleanup(cancel)
	js := func(expr string) string {
		t.Helper()
		out, err := chromedp.Run(ctx, chromedp.Evaluate[string](expr))
		require.NoError(t, err)
		return out
	}
	shown := `document.querySelector("section.slide.shown").id`
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1920, 1080), chromedp.Navigate("file://"+file)))
	first := js(shown)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.ArrowRight)))
	require.NotEqual(t, first, js(shown))
	require.Equal(t, "true", js(`String(document.querySelector("section.slide.shown svg") !== null)`), "the map is drawn")
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.End)))
	require.Equal(t, js(`[...document.querySelectorAll("section.slide")].at(-1).id`), js(shown))
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("n")))
	require.Equal(t, "true", js(`String(document.documentElement.classList.contains("with-notes"))`))
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.Home)))
	require.Equal(t, first, js(shown))
	require.Equal(t, "", js(`performance.getEntriesByType("resource").map(e => e.name).filter(n => !n.startsWith("data:")).join(" ")`), "nothing is asked for")
}
