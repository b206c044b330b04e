package web

import (
	"io"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
)

func TestAFormOutlivesItsSession(t *testing.T) {
	h, err := New(options(io.Discard, nil, route("POST", "/office/x", account.KeyCounts, nil), route("POST", "/office/me", account.OwnAccount, nil)))
	require.NoError(t, err)
	post := func(path, kind, body string) (int, *goquery.Document, string) {
		r := httptest.NewRequest("POST", path, strings.NewReader(body))
		r.Header.Set("Content-Type", kind)
		res, html := ask(t, h, r)
		doc, err := goquery.NewDocumentFromReader(strings.NewReader(html))
		require.NoError(t, err)
		require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
		return res.StatusCode, doc, res.Header.Get("Location")
	}
	const form = "application/x-www-form-urlencoded"
	status, doc, _ := post("/office/x", form, "note=%3Cscript%3Ealert(1)%3C/script%3E&eggs=24&eggs=31&do=save")
	require.Equal(t, 403, status)
	require.Equal(t, "/office/x", doc.Find("main form").AttrOr("action", ""))
	got := map[string][]string{}
	doc.Find("main form input[type=hidden]").Each(func(_ int, i *goquery.Selection) {
		got[i.AttrOr("name", "")] = append(got[i.AttrOr("name", "")], i.AttrOr("value", ""))
	})
	require.Equal(t, map[string][]string{"note": {"<script>alert(1)</script>"}, "eggs": {"24", "31"}, "do": {"save"}}, got)
	require.Zero(t, doc.Find("main script").Length())
	require.Equal(t, "_blank", doc.Find("main a[href='/office/sign-in']").AttrOr("target", ""))

	// A password does not go back, and a file cannot.
	status, doc, to := post("/office/me", form, "now=secret-words&new=other-words")
	require.Equal(t, 303, status)
	require.Equal(t, "/office/sign-in", to)
	require.NotContains(t, doc.Text(), "secret-words")
	status, doc, _ = post("/office/x", "multipart/form-data; boundary=b", "--b--")
	require.Equal(t, 403, status)
	require.Contains(t, doc.Find("main").Text(), "choose the file again")
	require.Equal(t, "/office/sign-in?to=/office/x", doc.Find("main a.button").AttrOr("href", ""))
	require.Zero(t, doc.Find("main form").Length())
}

// A route that takes files takes no more of a stranger than any form may have.
func TestAStrangersFormIsBounded(t *testing.T) {
	files := route("POST", "/office/files", account.KeyCounts, nil)
	files.MaxBody = 100 * maxBody
	h, err := New(options(io.Discard, nil, files))
	require.NoError(t, err)
	r := httptest.NewRequest("POST", "/office/files", strings.NewReader("note="+strings.Repeat("a", maxBody)))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	res, _ := ask(t, h, r)
	require.Equal(t, 413, res.StatusCode)
}
