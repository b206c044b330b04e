package open

import (
	"context"
	"log/slog"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/lookahead"
	"sixmile/web"
	"sixmile/web/shell"
)

type nobody struct{}

func (nobody) Session(context.Context, account.Token, time.Time) (account.Staff, error) {
	return account.Staff{}, fault.ErrNotFound
}

// spokenSite serves the grower's pages and the maps in every language, as the
// server does, over invented stores.
func spokenSite(t *testing.T, office *fakeOffice) string {
	t.Helper()
	d := growerDeps(office)
	d.Ends = fakeEnds{2026: date(2029, time.June, 15)}
	editions := &fakeEditions{}
	issue := inventedIssue()
	editions.issue = func(int) *gazette.Issue { return issue }
	editions.no.Store(int32(issue.Edition.Number))
	looks := NewLooks(LookDeps{About: d.About, Today: d.Today, Outlooks: fakeOutlooks{lookahead.Standard()}, Table: office})
	maps := NewMaps(MapDeps{About: d.About, Editions: editions, Log: d.Log})
	h, err := web.New(web.Options{
		Lang: d.Lang, About: d.About, Sessions: nobody{}, Today: d.Today, Ready: func(context.Context) error { return nil },
		Log: slog.New(slog.DiscardHandler), Unavailable: func(error) bool { return false },
		Public: func(l *catalog.Lang) []shell.Route {
			in := d
			in.Lang, in.Drawings = l, maps
			return slices.Concat(GrowerRoutes(in), maps.Routes(l), looks.Routes(l))
		},
	})
	require.NoError(t, err)
	ts := httptest.NewServer(h)
	t.Cleanup(ts.Close)
	return ts.URL
}

// A grower whose phone speaks Spanish scans the square on a bag, sends the form,
// keeps the receipt and reads the answer, without meeting a word of English.
func TestAGrowerInSpanish(t *testing.T) {
	office := newOffice()
	site := spokenSite(t, office)
	code := testCodes(t, 1)[0]
	ctx := browse(t, true, false, chromedp.Flag("accept-lang", "es-MX,es"))
	js := func(expr string) string {
		t.Helper()
		out, err := chromedp.Run(ctx, chromedp.Evaluate[string](expr))
		require.NoError(t, err)
		return out
	}
	do := func(a ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		require.NoError(t, chromedp.Do(ctx, a...))
	}
	page := func(name, path string) {
		t.Helper()
		// A page may be visible in part before it is whole.
		require.Eventually(t, func() bool { return js(`document.readyState`) == "complete" }, 20*time.Second, 10*time.Millisecond)
		require.Equal(t, path, js(`location.pathname`))
		require.Equal(t, "es-US", js(`document.documentElement.lang`))
		words := strings.Join(strings.Fields(js(`document.querySelector("main").innerText`)), " ")
		for _, o := range office.offices {
			words = strings.NewReplacer(o.Hours, "", o.DropOff, "", o.Address, "").Replace(words)
		}
		spanishOnly(t, name, strings.NewReplacer(office.scheme.Title, "", office.scheme.Source, "").Replace(words))
		require.Equal(t, "true", js(`String(document.documentElement.scrollWidth <= innerWidth)`), "%s fits the phone", name)
		keep(t, ctx, "spanish-"+name)
	}
	do(chromedp.Navigate(site+"/send?bag="+string(code)), chromedp.WaitVisible(`main h1`))
	page("county", "/es/send")
	do(chromedp.Click(`main a[href^="/es/send?"][href*="plover"]`), chromedp.WaitVisible(`form.visit`))
	page("form", "/es/send")
	require.Equal(t, string(code), strings.ReplaceAll(js(`document.getElementById("bag.0.code").value`), "-", ""))

	// What is wrong is said in Spanish, and what was typed stays.
	do(chromedp.Click(`.send-now button`), chromedp.WaitVisible(`.problems`))
	page("problems", "/es/send")
	do(chromedp.SetValue(`[id="bag.0.township"]`, "201"), chromedp.SetValue(`[id="bag.0.day"]`, "2026-11-01"),
		chromedp.Click(`.send-now button`), chromedp.WaitVisible(`.receipt`))
	page("receipt", "/es/send")
	require.Contains(t, js(`document.querySelector(".receipt").innerText`), "15 de junio de 2029")
	address, err := url.Parse(js(`document.querySelector(".receipt .address").innerText`))
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(address.Path, "/es/answer/"), "the square leads to Spanish: %s", address.Path)

	for secret, a := range office.answers { // the lab has counted
		a.Received, a.Result = true, counted(t, 42, false)
		office.answers[secret] = a
	}
	do(chromedp.Click(`.receipt a[href^="/es/answer/"]`), chromedp.WaitVisible(`.result`))
	page("answer", address.Path)
	require.Contains(t, js(`document.querySelector(".result-count").innerText`), "2,100 huevos por 100 cm³")

	// The county's map is there, as everybody has it, the one for a phone.
	require.Equal(t, "true", js(`String(document.querySelector(".answer-map .map-narrow svg").getBoundingClientRect().width > 200)`))
	require.Equal(t, "0", js(`String(document.querySelectorAll(".answer-map svg a").length)`), "places lead nowhere")
	keep(t, ctx, "spanish-answer-map")

	// From the count to rotations, and onto paper.
	do(chromedp.Click(`#ahead`), chromedp.WaitVisible(`.look-chart, main figure svg, main svg`))
	page("ahead", "/es/look-ahead")
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF())
	require.NoError(t, err)
	spanishPaper(t, pdf)

	do(chromedp.Navigate(site+address.Path), chromedp.WaitVisible(`.result`))
	// The same page in English, and it stays English although the phone would not.
	do(chromedp.Click(`.tongues a`), chromedp.WaitVisible(`html[lang="en-US"] .result`))
	require.Equal(t, "/en"+strings.TrimPrefix(address.Path, "/es"), js(`location.pathname`))
	do(chromedp.Click(`.masthead nav a[href="/en/bags"]`), chromedp.WaitVisible(`html[lang="en-US"] main`))
	require.Equal(t, "/en/bags", js(`location.pathname`))
}

// spanishPaper reads what was printed with a reader that knows nothing of the page.
func spanishPaper(t *testing.T, pdf []byte) {
	t.Helper()
	words := strings.Join(strings.Fields(poppler(t, "pdftotext", onDisk(t, pdf), "-")), " ")
	require.Contains(t, words, catalog.Spanish().Say("look.title"))
	require.Contains(t, words, "2,100")
	require.Contains(t, words, catalog.Spanish().Say("look.cautions"))
}
