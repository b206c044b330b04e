package main

import (
	"context"
	"os"
	"time"

	"github.com/chromedp/chromedp"
)

// measureBrowser opens a county's page in Chromium, with nothing kept, and adds up
// what came over the wire and what moved.
func measureBrowser(ctx context.Context, put func(row), base string) error {
	dir, err := os.MkdirTemp("", "sixmile-browser")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // a temporary folder
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.UserDataDir(dir))
	ctx, cancel := chromedp.NewExecAllocator(ctx, opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, time.Minute)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile), chromedp.Navigate(base+"/county/quillmere"),
		chromedp.Sleep(1500*time.Millisecond)); err != nil {
		return err
	}
	got, err := chromedp.Run(ctx, chromedp.Evaluate[[]float64](`new Promise(done => {
		let moved = 0;
		new PerformanceObserver(l => { for (const e of l.getEntries()) if (!e.hadRecentInput) moved += e.value }).observe({type: "layout-shift", buffered: true});
		setTimeout(() => {
			const all = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")];
			done([all.reduce((n, e) => n + e.transferSize, 0), all.length, moved]);
		}, 300);
	})`, chromedp.EvalAwaitPromise))
	if err != nil {
		return err
	}
	put(within("county page on a phone, everything", "kB", got[0]/1000, 120))
	put(within("its requests", "requests", got[1], 6))
	put(row{Name: "its layout shift", Unit: "score", Ours: got[2], Aim: 0, Met: got[2] == 0})
	return nil
}
