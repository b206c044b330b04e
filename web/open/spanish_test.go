package open

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
)

// english finds what can only be English: words that are no word in Spanish and
// stand in no name of the test's data.
var english = regexp.MustCompile(`(?i)(^|[^\p{L}])(the|of|and|with|eggs?|soil|bags?|map of|falls?|counties|none|found|level|highest|this|which|townships? with)([^\p{L}]|$)`)

// spanishOnly holds a page's words to one language. Sources keep their titles.
func spanishOnly(t *testing.T, what, words string) {
	t.Helper()
	for _, title := range []string{inventedIssue().Scheme.Source, inventedIssue().Scheme.Title} {
		words = strings.ReplaceAll(words, title, "")
	}
	for _, m := range english.FindAllStringIndex(words, 3) {
		t.Errorf("%s: English in %q", what, words[max(0, m[0]-40):min(len(words), m[1]+40)])
	}
	require.NotRegexp(t, `\[[a-z]+\.[a-z_.]+\]|\{[a-z]+\}`, words, what)
}

func TestMapPagesInSpanish(t *testing.T) {
	s := newSiteIn(inventedIssue(), catalog.English(), catalog.Spanish().At("/es"))
	for _, path := range []string{"/", "/county/plover", "/county/plover/talk", "/county/plover/print?show=share", "/county/plover/years", "/county/plover/meeting.html"} {
		before := s.get(path)
		for before.Code == http.StatusFound {
			path = before.Header().Get("Location")
			before = s.get(path)
		}
		d := s.dom(t, "/es"+path)
		require.Equal(t, "es-US", d.Find("html").AttrOr("lang", ""), path)
		d.Find("script, style, .kind").Remove()
		spanishOnly(t, path, text(d.Find("body")))
		d.Find("svg").Each(func(_ int, svg *goquery.Selection) {
			spanishOnly(t, path+" drawing", text(svg.Find("title, desc, text")))
		})
		d.Find("[aria-label], [alt]").Each(func(_ int, e *goquery.Selection) {
			spanishOnly(t, path+" label", e.AttrOr("aria-label", "")+" "+e.AttrOr("alt", ""))
		})
		d.Find("a[href^='/'], form[action^='/']").Each(func(_ int, e *goquery.Selection) {
			to := e.AttrOr("href", e.AttrOr("action", ""))
			if _, other := e.Attr("hreflang"); !other && !strings.HasPrefix(to, "/office") {
				require.True(t, strings.HasPrefix(to, "/es/"), "%s leads to %s", path, to)
			}
		})
		// What is kept for one language is not given in the other.
		again := s.get(path)
		require.Equal(t, before.Body.String(), again.Body.String())
		require.NotEqual(t, before.Header().Get("ETag"), s.get("/es"+path).Header().Get("ETag"))
	}
}

func TestPapersInSpanish(t *testing.T) {
	s := newSiteIn(inventedIssue(), catalog.English(), catalog.Spanish().At("/es"))
	for _, c := range []struct{ file, says string }{
		{"map.pdf", "Condado de Plover"}, {"map.pdf?show=recent&map=K7QF-2M&paper=half-letter", "huevos"}, {"poster.pdf", "Este invierno"}, {"handout.pdf", "Todo el condado"},
		{"slides.pdf", "Antes de actuar"}, {"years.pdf", "enero de 2027"}, {"roots.pdf", "Saque una raíz en julio"},
	} {
		t.Run(c.file, func(t *testing.T) {
			if !strings.Contains(c.file, "?") {
				c.file += "?map=K7QF-2M"
			}
			body, _ := s.take(t, "/es/county/plover/paper/"+c.file)
			file := onDisk(t, body)
			words := poppler(t, "pdftotext", file, "-")
			require.Contains(t, squeezed(words), squeezed(c.says))
			spanishOnly(t, c.file, strings.Join(strings.Fields(words), " "))
		})
	}
	svg := s.get("/es/county/plover/map.svg").Body.String()
	require.Contains(t, svg, `lang="es-US"`)
	require.Contains(t, svg, "Nivel más alto")
	news, _ := s.take(t, "/es/county/plover/paper/newspaper.txt?map=K7QF-2M")
	spanishOnly(t, "newspaper", string(news))
}

func TestGrowerPagesInSpanish(t *testing.T) {
	f := newOffice()
	d := growerDeps(f)
	d.Lang = catalog.Spanish().At("/es")
	for _, path := range []string{"/send", "/send?county=plover", "/bags", "/help", "/answer"} {
		_, doc := get(t, d, path)
		doc.Find("main .address, script").Remove()
		words := text(doc.Find("main"))
		for _, o := range f.offices { // as the office wrote them
			words = strings.NewReplacer(o.Address, "", o.Hours, "", o.DropOff, "").Replace(words)
		}
		words = strings.NewReplacer(f.scheme.Title, "", f.scheme.Source, "").Replace(words)
		spanishOnly(t, path, words)
	}
}
