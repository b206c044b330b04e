package open

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"sixmile/internal/sample"
	"sixmile/static"
)

// browse opens a browser of the size of a phone or a desk.
func browse(t *testing.T, phone, dark bool, more ...chromedp.ExecAllocatorOption) context.Context {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir()))
	opts = append(opts, more...)
	if dark {
		opts = append(opts, chromedp.Flag("blink-settings", "preferredColorScheme=0"))
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(cancel)
	size := chromedp.EmulateViewport(1440, 900)
	if phone {
		size = chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateScale(2))
	}
	require.NoError(t, chromedp.Do(ctx, size))
	return ctx
}

// growerSite serves the pages over invented stores, under the same policy as
// package web.
func growerSite(t *testing.T, office *fakeOffice) string {
	t.Helper()
	mux := http.NewServeMux()
	mux.Handle("/static/", static.Handler())
	mux.Handle("/", handlerOf(growerDeps(office)))
	ts := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		w.Header().Set("Referrer-Policy", "no-referrer")
		mux.ServeHTTP(w, r)
	}))
	t.Cleanup(ts.Close)
	return ts.URL
}

func answersOf(t *testing.T, office *fakeOffice) map[string]sample.Secret {
	all := map[string]sample.Answer{
		"counted":     {Received: true, Result: counted(t, 42, false)},
		"high":        {Received: true, Result: counted(t, 300, true)},
		"none":        {Received: true, Result: counted(t, 0, false)},
		"unconfirmed": {Received: true, Result: counted(t, 3, false)},
		"held":        {Held: true},
		"waiting":     {},
	}
	out, n := map[string]sample.Secret{}, byte(1)
	for name, a := range all {
		a.Season, a.County = 2026, 2
		office.answers[secretOf(n)] = a
		out[name] = secretOf(n)
		n++
	}
	return out
}

// keep writes a picture into the folder SIXMILE_SHOTS, for people to look at;
// without the variable the pages are walked all the same and no picture is kept.
func keep(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("SIXMILE_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o600))
}

// TestGrowerInABrowser goes through the grower's pages at the size of a phone
// and of a desk, and walks the form by hand.
func TestGrowerInABrowser(t *testing.T) {
	office := newOffice()
	answers := answersOf(t, office)
	site := growerSite(t, office)
	for view, phone := range map[string]bool{"wide": false, "phone": true} {
		ctx := browse(t, phone, false)
		shot := func(name string) {
			t.Helper()
			keep(t, ctx, "grower-"+name+"-"+view)
		}
		for name, path := range map[string]string{"counties": "/send?bag=ABCD-2345", "bags": "/bags", "help": "/help"} {
			require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(site+path)))
			shot(name)
		}
		for name, s := range answers {
			require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(site+"/answer/"+s.String())))
			shot("answer-" + name)
		}
		walkTheForm(t, ctx, site, shot)
	}
	ctx := browse(t, true, true)
	for name, path := range map[string]string{"dark-send": "/send?county=plover", "dark-answer": "/answer/" + answers["high"].String()} {
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(site+path)))
		keep(t, ctx, "grower-"+name)
	}
}

// walkTheForm goes from the form to the receipt by hand and looks at what the
// script does on the way.
func walkTheForm(t *testing.T, ctx context.Context, site string, shot func(string)) {
	codes := testCodes(t, 2)
	js := func(expr string) string {
		t.Helper()
		out, err := chromedp.Run(ctx, chromedp.Evaluate[string](expr))
		require.NoError(t, err)
		return out
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(site+"/send?county=plover&bag="+codes[0].String())))
	shot("send-first")
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`.send-now button`), chromedp.WaitVisible(`.problems`)))
	require.Equal(t, "problems", js(`document.activeElement.className`), "the summary has the focus")
	shot("send-refused")

	// The list of townships follows the county.
	js(`(() => { const c = document.getElementById("bag.0.county"); c.value = "3"; c.dispatchEvent(new Event("change")); return "" })()`)
	require.Eventually(t, func() bool {
		return js(`document.getElementById("bag.0.township").options[1].value`) == "300"
	}, 5*time.Second, 50*time.Millisecond)
	require.Equal(t, "none", js(`getComputedStyle(document.querySelector(".show-townships")).display`), "the button is for browsers without a script")
	js(`(() => { document.getElementById("bag.0.township").value = "301"; document.getElementById("bag.0.day").value = "2026-10-31";
		document.getElementById("bag.0.crop").value = "soybean"; document.querySelector("input[value=first]").checked = true; return "" })()`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`button[value=bag]`), chromedp.WaitVisible(`[id="bag.1.code"]`)))
	require.Equal(t, "bag.1.code", js(`document.activeElement.id`), "the new block's code has the focus")
	shot("send-second")
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(`[id="bag.1.code"]`, string(codes[1])),
		chromedp.Click(`button[value=grower]`), chromedp.WaitVisible(`[id="bag.2.code"]`)))
	shot("send-grower")
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`button[value="remove.2"]`), chromedp.WaitNotPresent(`[id="bag.2.code"]`),
		chromedp.Click(`.send-now button`), chromedp.WaitVisible(`.receipt`)))
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(`.keep-note input`, "Behind the old school"), chromedp.Click(`[data-keep]`)))
	require.Equal(t, "Kept on this device only.", js(`document.querySelector(".keep-note [role=status]").textContent`))
	require.Equal(t, "1", js(`String(localStorage.length)`))
	shot("receipt")
	// The note is there again on the answer's page of the same browser.
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(js(`document.querySelector(".receipt a").href`)),
		chromedp.WaitVisible(`[data-note-text]`)))
	require.Equal(t, "Behind the old school", js(`document.querySelector("[data-note-text]").textContent`))
	shot("answer-noted")
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`[data-forget]`)))
	require.Equal(t, "0", js(`String(localStorage.length)`))
}
