package static

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// A browser reads the same rules, in the same order, from a stylesheet as it is
// written and as it goes out.
func TestStylesheetsGoOutAsTheyAreWritten(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch name := strings.TrimPrefix(r.URL.Path, "/"); {
		case name == "":
			w.Header().Set("Content-Type", "text/html")
			fmt.Fprint(w, "<!doctype html><title>.</title>")
		case strings.HasPrefix(name, "static/"):
			Handler().ServeHTTP(w, r)
		default:
			w.Header().Set("Content-Type", "text/css; charset=utf-8")
			w.Write(File(name)) //nolint:errcheck // the browser would miss it
		}
	}))
	defer server.Close()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(server.URL)))
	for _, name := range []string{"site.css", "office.css", "meeting.css"} {
		require.NotContains(t, string(all[name].body), "/*")
		var read [2][]string
		for i, at := range []string{"/" + name, "/static/" + name} {
			var err error
			read[i], err = chromedp.Run(ctx, chromedp.Evaluate[[]string](fmt.Sprintf(`new Promise(done => {
				const link = document.createElement("link");
				link.rel = "stylesheet"; link.href = %q;
				link.onload = () => done([...link.sheet.cssRules].map(r => r.cssText.replace(/\s+/g, " ")));
				document.head.append(link);
			})`, at), chromedp.EvalAwaitPromise))
			require.NoError(t, err)
			require.Greater(t, len(read[i]), 20, name)
		}
		require.Equal(t, read[0], read[1], name)
	}
}
