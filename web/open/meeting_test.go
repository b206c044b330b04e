package open

import (
	"context"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

func TestTalkPage(t *testing.T) {
	s := newSite(inventedIssue())
	d := s.dom(t, "/county/plover/talk")
	all := d.Find(`input[name="points"]`)
	require.GreaterOrEqual(t, all.Length(), 8)
	require.LessOrEqual(t, all.Length(), 12)
	require.Equal(t, all.Length(), all.Filter("[checked]").Length(), "all of them until somebody chooses")
	lines := strings.Split(d.Find("#text").Text(), "\n")
	require.Len(t, lines, all.Length())

	// The county's page has the same sentences, under their ids.
	page := s.dom(t, "/county/plover")
	page.Find("ol.points li").Each(func(i int, li *goquery.Selection) {
		require.Equal(t, "say-"+all.Eq(i).AttrOr("value", ""), li.AttrOr("id", ""))
		require.Equal(t, lines[i], text(li))
	})

	for _, query := range []string{"?points=bags,share", "?points=share&points=bags", "?points=bags&points=share,nonsense"} {
		d = s.dom(t, "/county/plover/talk"+query)
		require.Equal(t, 2, d.Find(`input[name="points"][checked]`).Length(), query)
		require.Len(t, strings.Split(d.Find("#text").Text(), "\n"), 2)
		require.Equal(t, "/county/plover/meeting.html?points=share,bags", d.Find("a[download]").AttrOr("href", ""))
		paper := d.Find("#paper").Text()
		require.Contains(t, paper, "on the map of January 2027")
		require.Contains(t, paper, lines[1])
		require.Contains(t, paper, "K7QF-2M")
	}
	d = s.dom(t, "/county/plover/talk?points=%3Cscript%3Ealert(1)%3C/script%3E")
	require.Zero(t, d.Find("textarea").Length())
	require.Zero(t, d.Find("main script").Length())
	require.Equal(t, http.StatusNotFound, s.get("/county/nowhere/talk").Code)
}

// outside finds anything in a page that a browser would ask somebody for.
var outside = regexp.MustCompile(`(?i)(?:src|href|action|poster|data|srcset)\s*=\s*"([^"]*)"|url\(([^)]*)\)|@import`)

func TestMeetingFile(t *testing.T) {
	s := newSite(inventedIssue())
	w := s.get("/county/plover/meeting.html")
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, `attachment; filename="plover-2026.html"`, w.Header().Get("Content-Disposition"))
	policy := w.Header().Get("Content-Security-Policy")
	require.Contains(t, policy, "default-src 'none'")
	require.NotContains(t, policy, "self")
	require.NotContains(t, policy, "script-src 'unsafe-inline'")
	body := w.Body.String()
	for _, m := range outside.FindAllStringSubmatch(body, -1) {
		to := m[1] + m[2]
		require.True(t, strings.HasPrefix(to, "#") || strings.HasPrefix(to, "data:"), "leads outside: %.80s", m[0])
	}
	t.Logf("%d bytes", len(body))

	d, err := goquery.NewDocumentFromReader(strings.NewReader(body))
	require.NoError(t, err)
	require.Equal(t, 1, d.Find("meta[http-equiv=Content-Security-Policy]").Length())
	slides := d.Find("section.slide")
	require.Equal(t, 13, slides.Length())
	slides.Each(func(i int, slide *goquery.Selection) {
		require.Equal(t, 1, slide.Find("h1, h2").Length())
		require.NotEmpty(t, text(slide.Find(".notes p:not(.notes-head)")), "every slide has notes")
		for _, a := range []string{"prev", "next"} { // the links alone lead through it
			to := slide.Find("nav a[rel=" + a + "]")
			if edge := i == 0 && a == "prev" || i == slides.Length()-1 && a == "next"; edge {
				require.Zero(t, to.Length())
				continue
			}
			other := i + map[string]int{"prev": -1, "next": 1}[a]
			require.Equal(t, "#"+slides.Eq(other).AttrOr("id", ""), to.AttrOr("href", ""))
		}
	})
	ids := map[string]bool{}
	d.Find("[id]").Each(func(_ int, e *goquery.Selection) {
		require.False(t, ids[e.AttrOr("id", "")], "%s stands twice", e.AttrOr("id", ""))
		ids[e.AttrOr("id", "")] = true
	})
	d.Find(`a[href^="#"]`).Each(func(_ int, a *goquery.Selection) {
		require.True(t, ids[a.AttrOr("href", "#")[1:]], "%s leads nowhere", a.AttrOr("href", ""))
	})
	require.Equal(t, text(s.dom(t, "/county/plover").Find("table.figures")), text(d.Find("table.figures")), "it says what the page says")
	require.Equal(t, http.StatusNotFound, s.get("/county/nowhere/meeting.html").Code)
	require.Equal(t, 22, d.Find("#map [data-place]").Length())
	require.Equal(t, 3*22, d.Find("#history [data-place]").Length(), "three maps so far")

	few, err := goquery.NewDocumentFromReader(s.get("/county/plover/meeting.html?points=bags,share").Body)
	require.NoError(t, err)
	require.Equal(t, 2, few.Find("#say ol li").Length())
}

// The newest of the small maps says what the large one says.
func TestHistoryEndsInNow(t *testing.T) {
	d, err := goquery.NewDocumentFromReader(newSite(inventedIssue()).get("/county/plover/meeting.html").Body)
	require.NoError(t, err)
	changed := 0
	d.Find("#map [data-place]").Each(func(_ int, g *goquery.Selection) {
		then := d.Find(`#history [data-place="` + g.AttrOr("data-place", "") + `"]`)
		require.Equal(t, g.AttrOr("data-mark", ""), then.Eq(2).AttrOr("data-mark", ""))
		if then.Eq(0).AttrOr("data-mark", "") != then.Eq(2).AttrOr("data-mark", "") {
			changed++
		}
	})
	require.Positive(t, changed, "the first map showed less")
}

// From a stick: the file is opened from a folder in a browser that is offline,
// asks for nothing but itself, and is led through by keys.
func TestMeetingFromAStick(t *testing.T) {
	file := filepath.Join(t.TempDir(), "plover.html")
	require.NoError(t, os.WriteFile(file, newSite(inventedIssue()).get("/county/plover/meeting.html").Body.Bytes(), 0o600))
	ctx := offline(t)
	var mu sync.Mutex
	var asked, wrong []string
	require.NoError(t, chromedp.Listen(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := ev.(type) {
		case *network.EventRequestWillBeSent:
			if !strings.HasPrefix(e.Request.URL, "data:") { // what a page carries in itself is not asked for
				asked = append(asked, e.Request.URL)
			}
		case *network.EventLoadingFailed:
			wrong = append(wrong, e.ErrorText)
		}
	}))
	address := (&url.URL{Scheme: "file", Path: file}).String()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(address)))
	at := func() string {
		id, err := chromedp.Run(ctx, chromedp.Evaluate[string](`[...document.querySelectorAll("section.slide")].filter(s => s.offsetParent !== null || s.getClientRects().length).map(s => s.id).join(",")`))
		require.NoError(t, err)
		return id
	}
	require.Equal(t, "cover", at())
	for _, step := range []struct{ key, want string }{
		{kb.ArrowRight, "map"}, {kb.PageDown, "short"}, {kb.ArrowRight, "levels"}, {kb.ArrowLeft, "short"}, {kb.PageUp, "map"},
		{kb.End, "places"}, {kb.ArrowRight, "places"}, {kb.Home, "cover"}, {kb.ArrowLeft, "cover"},
	} {
		require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(step.key)))
		require.Equal(t, step.want, at())
	}
	notes := func() bool {
		seen, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`document.querySelector("#cover .notes").getClientRects().length > 0`))
		require.NoError(t, err)
		return seen
	}
	require.False(t, notes(), "the room does not read them")
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("n")))
	require.True(t, notes())
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`#cover a[rel=next]`)))
	require.Eventually(t, func() bool { return at() == "map" }, 5*time.Second, 50*time.Millisecond, "the links work too")
	fonts, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`document.fonts.check('600 20px "Sixmile Serif"')`))
	require.NoError(t, err)
	require.True(t, fonts)
	if dir := os.Getenv("SIXMILE_SHOTS"); dir != "" {
		for _, id := range []string{"cover", "map", "short", "levels", "where", "history", "years", "near", "trust", "say", "winter", "bags", "places"} {
			_, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.hash = "#`+id+`"`))
			require.NoError(t, err)
			require.Eventually(t, func() bool { return at() == id }, 5*time.Second, 50*time.Millisecond)
			png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, "meeting-"+id+".png"), png, 0o600))
		}
	}
	mu.Lock()
	defer mu.Unlock()
	require.Equal(t, []string{address}, asked, "the file, once, and nothing else")
	require.Empty(t, wrong)
}

// offline is a browser without a network.
func offline(t *testing.T) context.Context {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()), chromedp.WindowSize(1280, 720),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND"), chromedp.Flag("proxy-server", "127.0.0.1:1"))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 60*time.Second)
	t.Cleanup(cancel)
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 720)))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	_, err = chromedp.Call(ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{Offline: true, DownloadThroughput: -1, UploadThroughput: -1}}})
	require.NoError(t, err)
	return ctx
}
