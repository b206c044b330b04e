package open

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/atlas"
	"sixmile/internal/press"
)

func TestChoicesAreOfAList(t *testing.T) {
	s := newSite(inventedIssue())
	for _, question := range []string{"show=depth", "map=AAAA-22", "paper=a4", "paper=screen", "paper=poster+panel", "look=sepia",
		"without=canals", "without=rivers&without=canals", "show=measure+9"} {
		for _, path := range []string{"/county/plover/print", "/county/plover/paper/map.pdf", "/county/plover/years"} {
			require.Equal(t, http.StatusNotFound, s.get(path+"?"+question).Code, path+"?"+question)
		}
	}
	for _, path := range []string{"/county/nowhere/print", "/county/nowhere/paper/map.pdf", "/county/nowhere/years",
		"/county/plover/paper/map.gif", "/county/plover/paper/..%2fmap.pdf", "/county/plover/paper/"} {
		require.Equal(t, http.StatusNotFound, s.get(path).Code, path)
	}
}

// Whatever asks for the same is sent to one address, so that nobody can fill the
// memory with the same map under many names.
func TestOneAddressEach(t *testing.T) {
	s := newSite(inventedIssue())
	for from, to := range map[string]string{
		"/county/plover/print?": "",
		"/county/plover/print?show=highest&map=K7QF-2M&paper=letter-wide&look=color":    "/county/plover/print",
		"/county/plover/print?look=ink&show=share":                                      "/county/plover/print?show=share&look=ink",
		"/county/plover/print?without=towns&without=neighbors&without=towns":            "/county/plover/print?without=neighbors&without=towns",
		"/county/plover/print?x=1&show=share":                                           "/county/plover/print?show=share",
		"/county/plover/print?show=share&show=samples":                                  "/county/plover/print?show=share",
		"/county/plover/print?show=%73hare":                                             "/county/plover/print?show=share",
		"/county/plover/paper/map.pdf":                                                  "/county/plover/paper/map.pdf?map=K7QF-2M",
		"/county/plover/paper/poster.pdf?map=K7QF-2M&paper=slide&show=share":            "/county/plover/paper/poster.pdf?map=K7QF-2M",
		"/county/plover/paper/newspaper.txt?map=W4TR-7H&look=dark":                      "/county/plover/paper/newspaper.txt?map=W4TR-7H",
		"/county/plover/years?map=K7QF-2M":                                              "/county/plover/years",
		"/county/plover/years?paper=slide&map=W4TR-7H":                                  "/county/plover/years?map=W4TR-7H",
		"/county/plover/paper/map.png?map=W4TR-7H&show=new&paper=slide&without=rivers&": "/county/plover/paper/map.png?show=new&map=W4TR-7H&without=rivers&paper=slide",
	} {
		w := s.get(from)
		if to == "" {
			require.Equal(t, http.StatusOK, w.Code, from)
			continue
		}
		require.Equal(t, http.StatusFound, w.Code, from)
		require.Equal(t, to, w.Header().Get("Location"), from)
		again := s.get(to)
		require.Equal(t, http.StatusOK, again.Code, "no chain of ways: %s", to)
	}
}

// An address says a choice whole, and each choice has one.
func TestChoiceThereAndBack(t *testing.T) {
	issue := inventedIssue()
	rapid.Check(t, func(t *rapid.T) {
		c := choice{
			measure: rapid.SampledFrom(atlas.Measures()).Draw(t, "measure"),
			code:    rapid.SampledFrom([]string{"3M8C-QP", "W4TR-7H", "K7QF-2M"}).Draw(t, "edition"),
			without: layer(rapid.IntRange(0, 15).Draw(t, "without")),
			paper:   rapid.SampledFrom(sheetPapers).Draw(t, "paper"),
			theme:   rapid.SampledFrom(press.Themes()).Draw(t, "look"),
		}
		newest := rapid.SampledFrom([]string{"", "K7QF-2M"}).Draw(t, "as file or page")
		question := strings.TrimPrefix(c.query(newest), "?")
		q, err := url.ParseQuery(question)
		require.NoError(t, err)
		got, err := readChoice(q, issue.Editions)
		require.NoError(t, err)
		require.Equal(t, c, got)
		require.True(t, got.canonical(question, newest))
		require.LessOrEqual(t, len(question), 120)
	})
}

// What the form sends leads to the page that it stands on.
func TestFormSendsTheChoice(t *testing.T) {
	s := newSite(inventedIssue())
	for _, path := range []string{"/county/plover/print", "/county/plover/print?show=share&map=W4TR-7H&without=rivers&without=towns&paper=tabloid-tall&look=dark"} {
		d := s.dom(t, path)
		form := d.Find("form.paper-form")
		q := url.Values{}
		form.Find("select").Each(func(_ int, sel *goquerySelection) {
			q.Add(sel.AttrOr("name", ""), sel.Find("option[selected]").AttrOr("value", "?"))
		})
		form.Find("input[checked]").Each(func(_ int, in *goquerySelection) { q.Add(in.AttrOr("name", ""), in.AttrOr("value", "?")) })
		w := s.get(form.AttrOr("action", "") + "?" + q.Encode())
		require.Equal(t, http.StatusFound, w.Code)
		require.Equal(t, path, w.Header().Get("Location"))
		require.Equal(t, 1, form.Find("button").Length(), "it works without a script")
		require.Equal(t, form.Find("select").Length(), form.Find("label[for]").Length())
	}
}
