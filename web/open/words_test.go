package open

import (
	"net/http"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
)

// Every word of the glossary has a meaning of a sentence or three in both
// languages, under an anchor of its own.
func TestWords(t *testing.T) {
	for _, lang := range []*catalog.Lang{catalog.English(), catalog.Spanish()} {
		t.Run(lang.Code(), func(t *testing.T) {
			d := growerDeps(newOffice())
			d.Lang = lang
			res, doc := get(t, d, "/help/words")
			require.Equal(t, http.StatusOK, res.StatusCode)
			require.NotContains(t, doc.Find("main").Text(), "[word")
			n := 0
			for _, part := range words {
				for _, w := range part.Words {
					n++
					entry := doc.Find("dl.words #" + w.Name)
					require.Equal(t, 1, entry.Length(), w.Name)
					require.NotEmpty(t, text(entry.Find("dt")), w.Name)
					entry.Find(".word-office").Remove()
					require.LessOrEqual(t, strings.Count(text(entry.Find("dd"))+" ", ". "), 3, w.Name)
				}
			}
			require.Equal(t, n, doc.Find("dl.words dt").Length())
		})
	}
}

// Links into the help pages, the glossary among them, lead to something.
func TestHelpAnchorsAreThere(t *testing.T) {
	d := growerDeps(newOffice())
	pages := map[string]*goquery.Document{}
	for _, path := range []string{"/help", "/help/words", "/help/grower", "/help/mapping"} {
		res, doc := get(t, d, path)
		require.Equal(t, http.StatusOK, res.StatusCode, path)
		pages[path] = doc
	}
	checked := 0
	for from, doc := range pages {
		doc.Find("main a[href]").Each(func(_ int, a *goquery.Selection) {
			page, anchor, has := strings.Cut(a.AttrOr("href", ""), "#")
			if page == "" {
				page = from
			}
			if to := pages[page]; has && to != nil {
				checked++
				require.Equal(t, 1, to.Find("#"+anchor).Length(), "%s leads to %s#%s", from, page, anchor)
			}
		})
	}
	require.Greater(t, checked, len(words))
	require.Equal(t, 1, pages["/help"].Find("a[href='/help/words']").Length())
}

// The guide for people with mapping programs names fields as the service does,
// and the address as readers reach it.
func TestMappingGuideSpeaksTheServicesNames(t *testing.T) {
	d := growerDeps(newOffice())
	d.BaseURL = "https://soil.example.org"
	_, doc := get(t, d, "/help/mapping")
	require.Equal(t, "https://soil.example.org/features", text(doc.Find(".guide-address")))
	s, _ := gisSite(inventedIssue())
	page := s.get("/features/collections/townships/items?limit=1").Body.String()
	for _, names := range doc.Find(".guide-fields dt").Map(func(_ int, dt *goquery.Selection) string { return text(dt) }) {
		for _, name := range strings.Split(names, ", ") {
			require.Contains(t, page, name)
		}
	}
	for _, must := range []string{"parcels", "not a cause", "land is worth", "not as clean", "level"} {
		require.Contains(t, doc.Find("main").Text(), must)
	}
}

// A grower's page says what to mind where it could hurt.
func TestGrowerGuideCautions(t *testing.T) {
	_, doc := get(t, growerDeps(newOffice()), "/help/grower")
	said := text(doc.Find("main"))
	for _, must := range []string{"does not mean free of it", "out of state", "label, which is the law", "come out alike", "nobody can find it for you"} {
		require.Contains(t, said, must)
	}
}
