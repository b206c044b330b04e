package web

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/a-h/templ"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// spoken is a small site in every language.
func spoken(t *testing.T) http.Handler {
	o := options(io.Discard, nil, route("GET", "/office/x", account.Anyone, nil))
	o.Public = func(l *catalog.Lang) []shell.Route {
		page := func(w http.ResponseWriter, r *http.Request) error {
			p := shell.Page{Lang: l, About: desk.About{Name: "Soil Watch"}, Title: "T"}
			body := templ.Raw(`<a id="in" href="/bags?x=1#y">b</a><a id="office" href="/office/x">o</a><img src="/static/a.svg">` +
				`<a id="out" href="//elsewhere/x">e</a><form action="/send"><button formaction="/send#a">x</button></form>` +
				`<p data-outlines="/places.json">href=&#34;/typed&#34;</p>`)
			return shell.Render(w, r, 200, templ.Join(shell.Frame(p), body))
		}
		onward := func(w http.ResponseWriter, r *http.Request) error {
			http.Redirect(w, r, "/send?done=1", http.StatusSeeOther)
			return nil
		}
		gone := func(http.ResponseWriter, *http.Request) error { return fault.ErrNotFound }
		return []shell.Route{
			{Method: "GET", Path: "/", May: account.Anyone, Handler: page},
			{Method: "GET", Path: "/county/{slug}", May: account.Anyone, Handler: page},
			{Method: "GET", Path: "/gone", May: account.Anyone, Handler: gone},
			{Method: "GET", Path: "/data.json", May: account.Anyone, Handler: func(w http.ResponseWriter, r *http.Request) error {
				fmt.Fprint(w, l.Prefix())
				return nil
			}},
			{Method: "POST", Path: "/send", May: account.Anyone, Handler: onward},
		}
	}
	h, err := New(o)
	require.NoError(t, err)
	return h
}

func browser(path, accept string) *http.Request {
	r := httptest.NewRequest("GET", path, nil)
	r.Header.Set("Accept", "text/html,application/xhtml+xml,*/*;q=0.8")
	if accept != "" {
		r.Header.Set("Accept-Language", accept)
	}
	return r
}

func parsed(t *testing.T, body string) *goquery.Document {
	d, err := goquery.NewDocumentFromReader(strings.NewReader(body))
	require.NoError(t, err)
	return d
}

func TestTheAddressSaysTheLanguage(t *testing.T) {
	h := spoken(t)
	for path, want := range map[string]string{"/": "en-US", "/county/plover": "en-US", "/en/": "en-US", "/es/": "es-US", "/es/county/plover": "es-US"} {
		res, body := ask(t, h, browser(path, ""))
		require.Equal(t, 200, res.StatusCode, path)
		require.Equal(t, want, parsed(t, body).Find("html").AttrOr("lang", ""), path)
		require.Empty(t, res.Header.Get("Set-Cookie"))
	}
	res, _ := ask(t, h, browser("/es", ""))
	require.Equal(t, "/es/", res.Header.Get("Location"))
	res, body := ask(t, h, browser("/es/county/plover", "en-US"))
	require.Equal(t, 200, res.StatusCode, "an address that says its language keeps it")
	require.Equal(t, "es-US", parsed(t, body).Find("html").AttrOr("lang", ""))
	res, _ = ask(t, h, browser("/es/office/x", ""))
	require.Equal(t, 404, res.StatusCode, "the office is in one language")
}

func TestABrowserIsSentToItsLanguage(t *testing.T) {
	h := spoken(t)
	res, _ := ask(t, h, browser("/county/plover?map=A&b=c%20d", "es-MX,es;q=0.9,en;q=0.5"))
	require.Equal(t, 302, res.StatusCode)
	require.Equal(t, "/es/county/plover?map=A&b=c%20d", res.Header.Get("Location"))
	require.Contains(t, res.Header.Get("Vary"), "Accept-Language")
	require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
	for _, accept := range []string{"", "en-US,en;q=0.9,es;q=0.8", "de-DE", "!!"} {
		res, _ = ask(t, h, browser("/county/plover", accept))
		require.Equal(t, 200, res.StatusCode, accept)
		require.Contains(t, res.Header.Get("Vary"), "Accept-Language")
	}
	r := httptest.NewRequest("GET", "/data.json", nil) // a program that fetches figures
	r.Header.Set("Accept", "application/json")
	r.Header.Set("Accept-Language", "es")
	res, _ = ask(t, h, r)
	require.Equal(t, 200, res.StatusCode)
	res, _ = ask(t, h, browser("//elsewhere/x", "es"))
	require.Equal(t, 404, res.StatusCode)
}

func TestLinksKeepTheLanguage(t *testing.T) {
	h := spoken(t)
	for prefix := range map[string]bool{"": true, "/en": true, "/es": true} {
		_, body := ask(t, h, browser(prefix+"/county/plover?map=A", ""))
		d := parsed(t, body)
		at := func(sel, attr string) string { return d.Find(sel).AttrOr(attr, "") }
		require.Equal(t, prefix+"/bags?x=1#y", at("#in", "href"))
		require.Equal(t, prefix+"/", at("a.sign", "href"))
		require.Equal(t, prefix+"/send", at("form", "action"))
		require.Equal(t, prefix+"/send#a", at("form button", "formaction"))
		require.Equal(t, prefix+"/places.json", at("[data-outlines]", "data-outlines"))
		require.Equal(t, "/office/x", at("#office", "href"))
		require.Equal(t, "/static/a.svg", at("main ~ img, img[src='/static/a.svg']", "src"))
		require.Equal(t, "//elsewhere/x", at("#out", "href"))
		require.Equal(t, `href="/typed"`, d.Find("p[data-outlines]").Text(), "a text is no link")
	}
}

// The page itself in the other language, and all of them for search engines.
func TestTheSwitchKeepsThePage(t *testing.T) {
	h := spoken(t)
	for path, want := range map[string]string{"/county/plover?map=A": "/es/county/plover?map=A", "/es/county/plover?map=A": "/en/county/plover?map=A"} {
		_, body := ask(t, h, browser(path, ""))
		d := parsed(t, body)
		require.Equal(t, 1, d.Find(".tongues a").Length())
		require.Equal(t, want, d.Find(".tongues a").AttrOr("href", ""))
		for code, href := range map[string]string{"en": "/en/county/plover?map=A", "es": "/es/county/plover?map=A", "x-default": "/county/plover?map=A"} {
			require.Equal(t, href, d.Find(`link[hreflang="`+code+`"]`).AttrOr("href", ""), code)
		}
	}
}

func TestErrorsAndRedirectsKeepTheLanguage(t *testing.T) {
	h := spoken(t)
	for _, path := range []string{"/es/gone", "/es/nothing-here"} {
		res, body := ask(t, h, browser(path, "en"))
		require.Equal(t, 404, res.StatusCode)
		require.Equal(t, "Aquí no hay nada", parsed(t, body).Find("h1").Text())
	}
	_, body := ask(t, h, browser("/nothing-here", "es"))
	require.Equal(t, "Aquí no hay nada", parsed(t, body).Find("h1").Text())
	res, _ := ask(t, h, httptest.NewRequest("POST", "/es/send", nil))
	require.Equal(t, "/es/send?done=1", res.Header.Get("Location"))
	r := httptest.NewRequest("POST", "/send", nil)
	r.Header.Set("Accept-Language", "es")
	res, _ = ask(t, h, r)
	require.Equal(t, "/send?done=1", res.Header.Get("Location"), "a post is answered where it was sent")
}
