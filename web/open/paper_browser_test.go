package open

import (
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"sixmile/static"
)

// In a browser a choice is drawn at once, under the site's own policy, and arrow
// keys step through the years.
func TestPaperInABrowser(t *testing.T) {
	mux := http.NewServeMux()
	mux.Handle("/static/", static.Handler())
	mux.Handle("/", newSite(inventedIssue()))
	ts := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		mux.ServeHTTP(w, r)
	}))
	t.Cleanup(ts.Close)
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 60*time.Second)
	t.Cleanup(cancel)
	look := func(js string) string {
		out, err := chromedp.Run(ctx, chromedp.Evaluate[string](js))
		require.NoError(t, err)
		return out
	}
	at := func(end string) func() bool {
		return func() bool { return strings.HasSuffix(look(`location.pathname + location.search`), end) }
	}

	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(ts.URL+"/county/plover/print"), chromedp.WaitVisible(`#paper-now svg`)))
	require.NotContains(t, look(`document.querySelector("#paper-now svg").textContent`), "33%")
	look(`(s => { s.value = "share"; s.dispatchEvent(new Event("change", {bubbles: true})); return "" })(document.querySelector("#show"))`)
	require.Eventually(t, at("/county/plover/print?show=share"), 10*time.Second, 20*time.Millisecond)
	require.Contains(t, look(`document.querySelector("#paper-now svg").textContent`), "33%")
	require.Contains(t, look(`document.querySelector("#paper-says").textContent`), "how many of a hundred bags")
	require.Contains(t, look(`document.querySelector(".paper-files a").getAttribute("href")`), "show=share&map=K7QF-2M")
	look(`document.querySelector("input[value=dark]").click(), ""`)
	require.Eventually(t, at("?show=share&look=dark"), 10*time.Second, 20*time.Millisecond)
	require.Equal(t, "1", look(`String(document.querySelectorAll(".paper-sheet.dark svg").length)`))

	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(ts.URL+"/county/plover/years"), chromedp.WaitVisible(`.stepper`)))
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.ArrowLeft)))
	require.Eventually(t, at("/county/plover/years?map=W4TR-7H"), 10*time.Second, 20*time.Millisecond)
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(`.stepper`), chromedp.KeyEvent(kb.ArrowRight)))
	require.Eventually(t, at("/county/plover/years"), 10*time.Second, 20*time.Millisecond)
}
