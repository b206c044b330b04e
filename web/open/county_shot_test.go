//go:build pictures

package open

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/static"
)

// bagsIssue is the invented state with so many bags in Plover County: none, one
// alone, few, or many over three maps. One bag cannot be published by itself;
// the page must not break on it all the same.
func bagsIssue(n int) *gazette.Issue {
	issue := inventedIssue()
	c := issue.Counties[5]
	issue.Tranches = slices.DeleteFunc(issue.Tranches, func(t edition.Tranche) bool { return t.County == c.ID })
	issue.Falls = slices.DeleteFunc(issue.Falls, func(f edition.FallFigure) bool { return f.County == c.ID && n < 5 })
	for i := 0; n > 0; i++ {
		take := min(n, max(1, min(4000/60, n/3+1)))
		at := (i * 7) % len(c.Townships)
		t := edition.Tranche{ID: i + 1, Edition: 10 + i%3, County: c.ID, Kind: edition.KindTownship, Places: []place.ID{c.Townships[at].ID},
			Senders: 3, Samples: take, Counts: make([]int, 5), Window: edition.Window{ThisFall: i%2 == 0, Through: 2024 + i%3}}
		for k := range take {
			heat := (at*3 + k*k) % 11
			if at < 10 {
				heat /= 4
			}
			t.Counts[[]int{0, 0, 0, 1, 2, 2, 2, 3, 3, 3, 4}[heat]]++
		}
		issue.Tranches = append(issue.Tranches, t)
		n -= take
	}
	return issue
}

// TestCountyShots takes pictures of county pages with 0, 1, 3, 40 and 4,000 bags
// and prints one, into the folder SIXMILE_SHOTS: go test -tags pictures -run
// CountyShots ./web/open.
func TestCountyShots(t *testing.T) {
	dir := os.Getenv("SIXMILE_SHOTS")
	require.NotEmpty(t, dir, "SIXMILE_SHOTS names no folder for pictures")
	for _, n := range []int{0, 1, 3, 40, 4000} {
		mux := http.NewServeMux()
		mux.Handle("/static/", static.Handler())
		mux.Handle("/", newSite(bagsIssue(n)))
		ts := httptest.NewServer(mux)
		t.Cleanup(ts.Close)
		name := filepath.Join(dir, fmt.Sprintf("county-%d", n))
		shoot(t, ts.URL+"/county/plover", [2]int64{1440, 900}, "", name+".png")
		if n == 0 || n == 40 {
			shoot(t, ts.URL+"/county/plover", [2]int64{390, 844}, "", name+"-phone.png")
		}
		if n >= 40 {
			printed(t, ts.URL+"/county/plover", name+".pdf")
		}
	}
}

// printed prints a page on letter paper as a browser does.
func printed(t *testing.T, url, file string) {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, 60*time.Second)
	defer cancel()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(url)))
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
}
