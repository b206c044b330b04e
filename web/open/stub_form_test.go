package open

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
)

// fakeStubs opens one answer; every other try is counted.
type fakeStubs struct {
	code  bag.Code
	words bag.Words
	a     sample.Answer
	err   error
}

func (f *fakeStubs) StubAnswer(_ context.Context, c bag.Code, w bag.Words, _ time.Time) (sample.Answer, error) {
	if f.err != nil {
		return sample.Answer{}, f.err
	}
	if c != f.code || w != f.words {
		return sample.Answer{}, fault.ErrNotFound
	}
	return f.a, nil
}

func stubbed(t *testing.T) (GrowerDeps, *fakeStubs) {
	f := newOffice()
	d := growerDeps(f)
	stubs := &fakeStubs{code: testCodes(t, 1)[0], words: 0x123456789ab, a: sample.Answer{Season: 2026, County: 2, Received: true, Result: counted(t, 42, false)}}
	d.Stubs = stubs
	return d, stubs
}

func postStub(t *testing.T, d GrowerDeps, code, words string) (*http.Response, *goquery.Document) {
	r := httptest.NewRequest(http.MethodPost, "/answer", strings.NewReader(url.Values{"code": {code}, "words": {words}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return serve(t, d, r)
}

func TestStubOpensItsAnswer(t *testing.T) {
	d, stubs := stubbed(t)
	res, doc := get(t, d, "/answer")
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, 2, doc.Find("form.narrow input").Length())
	res, doc = postStub(t, d, strings.ToLower(stubs.code.String()), "DIBO-NINA  romo,gefe")
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
	require.Contains(t, doc.Find(".result-count").Text(), "2,100 eggs per 100 cm³")
	require.Zero(t, doc.Find("[data-note]").Length(), "no note: there is no link it could belong to")
	require.Contains(t, doc.Find("main").Text(), "no address of its own")
}

// A wrong word, a code that nobody has, and a code that is shut get the same
// bytes, but for what was typed.
func TestWrongAndUnknownGetTheSamePage(t *testing.T) {
	d, stubs := stubbed(t)
	page := func(code, words string) string {
		res, doc := postStub(t, d, code, words)
		require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
		require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
		require.Equal(t, code, doc.Find("#code").AttrOr("value", ""), "what was typed is kept")
		html, err := doc.Html()
		require.NoError(t, err)
		return strings.NewReplacer(code, "CODE", words, "WORDS").Replace(html)
	}
	unknown := testCodes(t, 2)[1].String()
	wrong := page(stubs.code.String(), bag.Words(5).String())
	require.Equal(t, wrong, page(unknown, bag.Words(5).String()))
	require.Equal(t, wrong, page(unknown, stubs.words.String()))
	require.Contains(t, wrong, "After 10 tries in a day")
}

func TestStubProblems(t *testing.T) {
	d, stubs := stubbed(t)
	for name, c := range map[string]struct{ code, words, field string }{
		"code":   {"ABC", stubs.words.String(), "code"},
		"words":  {stubs.code.String(), "one two three four", "words"},
		"markup": {"<script>", "<script>alert(1)</script>", "code"},
	} {
		t.Run(name, func(t *testing.T) {
			res, doc := postStub(t, d, c.code, c.words)
			require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
			in := doc.Find("#" + c.field)
			require.Equal(t, "true", in.AttrOr("aria-invalid", ""))
			require.Equal(t, 1, doc.Find("#"+c.field+"-wrong").Length())
			require.Equal(t, 1, doc.Find(`.problems a[href="#`+c.field+`"]`).Length())
			require.Zero(t, doc.Find("main script").Length())
		})
	}
	stubs.err = errors.New("away")
	res, _ := postStub(t, d, stubs.code.String(), stubs.words.String())
	require.Equal(t, http.StatusInternalServerError, res.StatusCode)
}

func TestStubPageInSpanish(t *testing.T) {
	d, _ := stubbed(t)
	d.Lang = catalog.Spanish().At("/es")
	_, doc := get(t, d, "/answer")
	require.Equal(t, "Leer una respuesta con el talón", doc.Find("h1").Text())
	require.Equal(t, "/es/answer", doc.Find("form.narrow").AttrOr("action", ""))
}
