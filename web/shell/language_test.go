package shell

import (
	"context"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
)

func TestPath(t *testing.T) {
	es := catalog.Spanish().At("/es")
	for address, want := range map[string]string{
		"/": "/es/", "/bags": "/es/bags", "/bags?a=b#c": "/es/bags?a=b#c", "/?show=share": "/es/?show=share",
		"/es": "/es", "/es/bags": "/es/bags", "/en/bags": "/en/bags", "/estate": "/es/estate",
		"/office": "/office", "/office/x": "/office/x", "/offices": "/es/offices", "/static/a.css": "/static/a.css", "/healthz": "/healthz",
		"//elsewhere": "//elsewhere", "https://elsewhere/": "https://elsewhere/", "#here": "#here", "": "",
	} {
		require.Equal(t, want, Path(es, address), address)
		require.Equal(t, address, Path(catalog.English(), address), "an address that says no language stays as it is")
	}
}

func TestTongueOf(t *testing.T) {
	for address, want := range map[string][2]string{
		"/es": {"es", "/"}, "/es/": {"es", "/"}, "/es/bags": {"es", "/bags"}, "/en/answer/x": {"en", "/answer/x"},
		"/": {"", "/"}, "/estate": {"", "/estate"},
	} {
		l, rest := TongueOf(address)
		code := ""
		if l != nil {
			code = l.Code()
		}
		require.Equal(t, want, [2]string{code, rest}, address)
	}
}

// What is localized twice is as it was after once, and nothing but addresses in
// attributes changes.
func FuzzLocalize(f *testing.F) {
	f.Add(`<a href="/x">href="/y"</a>`)
	f.Add(`<a hreflang="x-default" href="/x"><img src="/static/a"><p title="/z" data-a="/b">`)
	f.Add(`="/`)
	f.Fuzz(func(t *testing.T, page string) {
		es := catalog.Spanish().At("/es")
		once := localize(es, []byte(page))
		require.Equal(t, string(once), string(localize(es, once)))
		require.Equal(t, strings.ReplaceAll(page, "/es", ""), strings.ReplaceAll(string(once), "/es", ""))
		require.Equal(t, page, string(localize(catalog.English(), []byte(page))))
	})
}

// A page that was posted offers itself again, to be posted in the other language.
func TestAgain(t *testing.T) {
	es := catalog.Spanish().At("/es")
	p := Page{Lang: es}
	posted := WithTongue(context.Background(), es, "")
	require.Equal(t, []Other{{Code: "en", Tag: "en-US", Name: "English", Href: "/en/send"}}, Again(posted, p, "/send"))
	require.Empty(t, Again(WithTongue(context.Background(), es, "/send"), p, "/send"), "it has a link")
	require.NoError(t, Frame(p).Render(posted, io.Discard))
}
