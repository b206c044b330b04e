//go:build pictures

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

	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/static"
)

// TestMapShots takes pictures of the pages into the folder SIXMILE_SHOTS, for
// people to look at: go test -tags pictures -run Shots ./web/open.
func TestMapShots(t *testing.T) {
	dir := os.Getenv("SIXMILE_SHOTS")
	require.NotEmpty(t, dir, "SIXMILE_SHOTS names no folder for pictures")
	empty := inventedIssue()
	empty.Tranches, empty.Falls, empty.Edition = nil, nil, gazette.Edition{K: 3}
	coarse := inventedIssue()
	for i := range coarse.Tranches {
		if c := coarse.Tranches[i].Counts; i%2 == 0 {
			coarse.Tranches[i].Coarse, coarse.Tranches[i].Counts = true, []int{c[0], c[1], c[2] + c[3] + c[4]}
		}
	}
	coarse.Edition.Kind = edition.Restated
	for name, issue := range map[string]*gazette.Issue{"": inventedIssue(), "empty-": empty, "coarse-": coarse} {
		mux := http.NewServeMux()
		mux.Handle("/static/", static.Handler())
		mux.Handle("/", newSite(issue))
		ts := httptest.NewServer(mux)
		t.Cleanup(ts.Close)
		for page, path := range map[string]string{"state": "/", "county": "/county/plover", "blank": "/county/wexley"} {
			for view, size := range map[string][2]int64{"wide": {1440, 900}, "phone": {390, 844}} {
				if name != "" && (page == "blank" || view == "phone" && page == "county") {
					continue
				}
				shoot(t, ts.URL+path, size, "", filepath.Join(dir, name+page+"-"+view+".png"))
			}
		}
		if name == "" {
			shoot(t, ts.URL+"/county/plover", [2]int64{1440, 900}, "dark", filepath.Join(dir, "county-dark.png"))
		}
	}
}

func shoot(t *testing.T, url string, size [2]int64, scheme, file string) {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir()))
	if scheme == "dark" {
		opts = append(opts, chromedp.Flag("blink-settings", "preferredColorScheme=0"))
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, 60*time.Second)
	defer cancel()
	actions := []chromedp.Action[chromedp.Void]{chromedp.EmulateViewport(size[0], size[1])}
	if size[0] < 500 {
		actions = []chromedp.Action[chromedp.Void]{chromedp.EmulateViewport(size[0], size[1], chromedp.EmulateMobile, chromedp.EmulateScale(2))}
	}
	require.NoError(t, chromedp.Do(ctx, append(actions, chromedp.Navigate(url))...))
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, png, 0o600))
}
