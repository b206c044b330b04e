package open

import (
	"archive/zip"
	"bytes"
	"image/png"
	"log/slog"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
)

type goquerySelection = goquery.Selection

// poppler runs one of poppler's readers, which know nothing of what wrote the
// file. They are among the packages that DEVELOPERS.md asks for.
func poppler(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	require.NoError(t, err, name)
	return string(out)
}

func (s *site) take(t *testing.T, path string) (body []byte, name string) {
	t.Helper()
	w := s.get(path)
	require.Equal(t, http.StatusOK, w.Code, "%s: %s", path, w.Body.String())
	name = regexp.MustCompile(`^attachment; filename="([A-Za-z0-9.-]+)"$`).FindStringSubmatch(w.Header().Get("Content-Disposition"))[1]
	return w.Body.Bytes(), name
}

func onDisk(t *testing.T, b []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "file.pdf")
	require.NoError(t, os.WriteFile(file, b, 0o600))
	return file
}

// squeezed is the letters of a text without the spaces in which readers differ.
func squeezed(s string) string { return strings.Join(strings.Fields(s), "") }

func TestEveryFileHasItsSentences(t *testing.T) {
	for _, f := range paperFiles {
		for _, key := range []string{"paper.get." + plainName(f.name), "paper.get.note." + plainName(f.name), "paper.kind." + f.ext()} {
			require.True(t, catalog.English().Has(key), key)
		}
	}
}

func TestDocuments(t *testing.T) {
	s := newSite(inventedIssue())
	const source = "Soil pulled by volunteers"
	for path, want := range map[string]struct {
		name, title string
		pages       string // how many, and the first one's size in points
		says        []string
	}{
		"map.pdf?map=K7QF-2M": {"plover-K7QF-2M-map-letter-wide.pdf", "Highest level, all falls", "1 792 x 612",
			[]string{"Plover County", source, "K7QF-2M", "bags received by December 31, 2026", "5 miles", "none found"}},
		"map.pdf?show=share&map=K7QF-2M&without=rivers&paper=tabloid-tall&look=ink": {"plover-K7QF-2M-map-share-no-rivers-tabloid-tall-ink.pdf",
			"Share of bags with eggs", "1 792 x 1224", []string{"11% to 25%", source, "K7QF-2M"}},
		"map.pdf?show=new&map=K7QF-2M&paper=half-letter&look=dark": {"plover-K7QF-2M-map-new-half-letter-dark.pdf", "What this map adds", "1 396 x 611.97",
			[]string{"first find", "K7QF-2M"}},
		"poster.pdf?map=K7QF-2M": {"plover-K7QF-2M-poster.pdf", "Poster", "1 792 x 1224",
			[]string{"Soybean cyst nematode in Plover County", "12 Main Street, Plover", "This is not a recommendation", "K7QF-2M", source}},
		"handout.pdf?map=K7QF-2M": {"plover-K7QF-2M-handout.pdf", "Handout", "2 612 x 792",
			[]string{"Eggs found in 11 of 11", "the product label, which is the law", "Whole county", "K7QF-2M", source, "Kell, T19N R13E"}},
		"slides.pdf?map=K7QF-2M": {"plover-K7QF-2M-slides.pdf", "Slides", "12 959.98 x 540", []string{"This winter", "K7QF-2M", source, "Before you act on it"}},
		"years.pdf?map=K7QF-2M": {"plover-K7QF-2M-years-letter-wide.pdf", "Map by map", "1 792 x 612",
			[]string{"January 2025", "January 2026", "January 2027", source, "K7QF-2M"}},
		"roots.pdf?map=K7QF-2M": {"plover-K7QF-2M-roots.pdf", "Dig a root in July", "1 612 x 792", []string{"Iowa State University", "drawn ten times life size", "No females is not proof"}},
	} {
		t.Run(path, func(t *testing.T) {
			b, name := s.take(t, "/county/plover/paper/"+path)
			require.Equal(t, want.name, name)
			file := onDisk(t, b)
			info := poppler(t, "pdfinfo", "-isodates", file)
			require.Contains(t, info, "Plover County: "+want.title+" (map of January 2027, K7QF-2M)")
			require.Contains(t, info, "CreationDate:    2027-01-14", "the edition's day")
			require.NotContains(t, info, "Author")
			pages, size, _ := strings.Cut(want.pages, " ")
			require.Regexp(t, `Pages: +`+pages+`\n`, info)
			require.Regexp(t, `Page size: +`+regexp.QuoteMeta(size)+` pts`, info)
			require.Contains(t, string(b), "/Lang (en-US)")
			for _, line := range strings.Split(strings.TrimSpace(poppler(t, "pdffonts", file)), "\n")[2:] {
				f := strings.Fields(line)
				require.Equal(t, "yes", f[len(f)-5], "embedded: %s", line)
			}
			text := poppler(t, "pdftotext", "-raw", file, "-")
			require.NotRegexp(t, `\[[a-z]+\.`, text, "no bare key of a sentence")
			for _, words := range want.says {
				require.Contains(t, squeezed(text), squeezed(words))
			}
		})
	}
}

func TestPictures(t *testing.T) {
	s := newSite(inventedIssue())
	for path, size := range map[string][2]int{
		"map.png?map=K7QF-2M&paper=slide":         {1920, 1080},
		"map.png?map=K7QF-2M&paper=tabloid-tall":  {1068, 1650},
		"map-large.png?map=K7QF-2M&look=ink":      {3300, 2550},
		"map.png?show=samples&map=W4TR-7H":        {1650, 1275},
		"map-large.png?map=W4TR-7H&paper=slide":   {3300, 1856},
		"map.png?map=3M8C-QP&paper=half-letter":   {1068, 1650},
		"map.png?map=K7QF-2M&paper=letter-tall":   {1275, 1650},
		"map.png?map=K7QF-2M&without=towns":       {1650, 1275},
		"map-large.png?map=K7QF-2M&paper=tabloid": {},
	} {
		if size == [2]int{} {
			require.Equal(t, http.StatusNotFound, s.get("/county/plover/paper/"+path).Code)
			continue
		}
		b, name := s.take(t, "/county/plover/paper/"+path)
		c, err := png.DecodeConfig(bytes.NewReader(b))
		require.NoError(t, err)
		require.Equal(t, size, [2]int{c.Width, c.Height}, path)
		require.True(t, strings.HasSuffix(name, ".png"))
	}
}

func TestSlidesAsPictures(t *testing.T) {
	t.Parallel()
	s := newSite(inventedIssue())
	b, name := s.take(t, "/county/plover/paper/slides.zip?map=K7QF-2M&look=dark")
	require.Equal(t, "plover-K7QF-2M-slides-dark.zip", name)
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	require.Len(t, z.File, 12)
	r, err := z.File[1].Open()
	require.NoError(t, err)
	c, err := png.DecodeConfig(r)
	require.NoError(t, err)
	require.Equal(t, []int{1920, 1080}, []int{c.Width, c.Height})
}

func TestSlidesAsDrawings(t *testing.T) {
	t.Parallel()
	b, name := newSite(inventedIssue()).take(t, "/county/plover/paper/slides-drawn.zip?map=K7QF-2M")
	require.Equal(t, "plover-K7QF-2M-slides-drawn.zip", name)
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	require.Len(t, z.File, 12, "as many as the slides to show")
	r, err := z.File[1].Open()
	require.NoError(t, err)
	d, err := goquery.NewDocumentFromReader(r)
	require.NoError(t, err)
	require.Equal(t, 22, d.Find("[data-place]").Length(), "every township is a shape of its own")
	require.Contains(t, d.Find("text").Text(), "T20N R9E")
}

// The same address makes the same bytes, in another process too, and says so.
func TestSameAddressSameBytes(t *testing.T) {
	first, second := newSite(inventedIssue()), newSite(inventedIssue())
	paths := []string{"/county/plover/print?show=new&look=ink", "/county/plover/years?map=W4TR-7H"}
	for _, f := range paperFiles {
		if f.name == "slides.zip" { // its slides are those of slides.pdf, its pictures those of map.png: too slow to do twice
			continue
		}
		paths = append(paths, "/county/plover/paper/"+f.name+"?map=K7QF-2M")
	}
	for _, path := range paths {
		a, b, again := first.get(path), second.get(path), first.get(path)
		require.Equal(t, http.StatusOK, a.Code, path)
		require.True(t, bytes.Equal(a.Body.Bytes(), b.Body.Bytes()), path)
		require.True(t, bytes.Equal(a.Body.Bytes(), again.Body.Bytes()), path)
		tag := a.Header().Get("ETag")
		require.Equal(t, tag, b.Header().Get("ETag"))
		require.Contains(t, tag, "K7QF-2M")
		require.Equal(t, "no-cache", a.Header().Get("Cache-Control"))
		not := first.get(path, "If-None-Match", tag)
		require.Equal(t, http.StatusNotModified, not.Code, path)
		require.Zero(t, not.Body.Len())
	}
}

// Names out of a boundary file and an office's address stay words in whatever is
// made of them.
func TestNamesStayWords(t *testing.T) {
	const attack = `</text><script>alert(1)</script>"&)Tj`
	issue := inventedIssue()
	for i := range issue.Counties {
		c := &issue.Counties[i]
		c.Name += attack
		for k := range c.Townships {
			c.Townships[k].Name, c.Townships[k].Code = attack, attack
		}
	}
	issue.Towns[5].Name, issue.Rivers[0].Name, issue.Scheme.Source = attack, attack, attack
	s := newSite(issue)
	(*s.offices)[0].Address = attack
	for _, path := range []string{"/county/plover/print", "/county/plover/years", "/county/plover/paper/map.svg?map=K7QF-2M"} {
		w := s.get(path)
		require.Equal(t, http.StatusOK, w.Code, path)
		d, err := goquery.NewDocumentFromReader(w.Body)
		require.NoError(t, err)
		d.Find("script").Each(func(_ int, x *goquery.Selection) {
			require.True(t, strings.HasPrefix(x.AttrOr("src", ""), "/static/"), path)
			require.Empty(t, x.Text())
		})
		require.Contains(t, d.Text(), "<script>alert(1)</script>", path)
	}
	for _, f := range []string{"map.pdf", "poster.pdf", "handout.pdf", "slides.pdf", "years.pdf"} {
		b, _ := s.take(t, "/county/plover/paper/"+f+"?map=K7QF-2M")
		require.NotContains(t, string(b), "/JavaScript")
		file := onDisk(t, b)
		require.Contains(t, squeezed(poppler(t, "pdftotext", "-raw", file, "-")), "<script>alert(1)</script>", f)
		require.Regexp(t, `Pages: +\d+\n`, poppler(t, "pdfinfo", file))
	}
	b, _ := s.take(t, "/county/plover/paper/newspaper.txt?map=K7QF-2M")
	require.Contains(t, string(b), "alert(1)", "plain text is served as such")
	require.Equal(t, textKind, s.get("/county/plover/paper/newspaper.txt?map=K7QF-2M").Header().Get("Content-Type"))
	require.Equal(t, "a-b1", plainName("a\r\n\"/\\-b1é;"))
}

// An earlier edition can be drawn again with its own figures; one that is
// withdrawn cannot.
func TestEarlierEdition(t *testing.T) {
	all := inventedIssue()
	s := newSite(all)
	s.store.issue = func(no int) *gazette.Issue {
		i := inventedIssue()
		i.Editions = i.Editions[:no-9]
		i.Edition = i.Editions[no-10]
		n := 0
		for _, t := range i.Tranches {
			if t.Edition <= no {
				i.Tranches[n], n = t, n+1
			}
		}
		i.Tranches = i.Tranches[:n]
		return i
	}
	now, _ := s.take(t, "/county/plover/paper/map.svg?map=K7QF-2M")
	old, name := s.take(t, "/county/plover/paper/map.svg?map=W4TR-7H")
	require.Equal(t, "plover-W4TR-7H-map-letter-wide.svg", name)
	require.Contains(t, string(now), "182 bags, falls up to 2026")
	require.Contains(t, string(old), "100 bags, falls up to 2025")
	require.Contains(t, string(old), "Map of January 2026 · W4TR-7H")
	require.Contains(t, text(s.dom(t, "/county/plover/print?map=W4TR-7H").Find("#edition")), "A newer map is out: that of January 2027.")
	require.EqualValues(t, 2, s.store.loaded.Load(), "an earlier edition is loaded once")

	gone := s.store.issue
	s.store.issue = func(no int) *gazette.Issue {
		i := gone(no)
		if no == 12 {
			i.Editions = append(i.Editions[:1:1], i.Editions[2:]...)
		}
		return i
	}
	s.store.gone.Store(1)
	require.Equal(t, http.StatusNotFound, s.get("/county/plover/paper/map.svg?map=W4TR-7H").Code)
	require.Equal(t, http.StatusOK, s.get("/county/plover/paper/map.svg?map=3M8C-QP").Code)
}

// Before the first map there is one all the same: a blank one.
func TestPaperBeforeTheFirstMap(t *testing.T) {
	empty := inventedIssue()
	empty.Tranches, empty.Falls, empty.Edition, empty.Editions = nil, nil, gazette.Edition{K: 3}, nil
	s := newSite(empty)
	for _, f := range paperFiles {
		if f.name == "slides.zip" || f.name == "map-large.png" {
			continue
		}
		b, name := s.take(t, "/county/plover/paper/"+f.name)
		require.NotEmpty(t, b)
		require.True(t, strings.HasPrefix(name, "plover-"+strings.SplitN(f.name, ".", 2)[0]), name)
	}
	d := s.dom(t, "/county/plover/print")
	require.Zero(t, d.Find("select[name=map]").Length())
	require.NotContains(t, d.Text(), "[paper.")
	require.NotContains(t, s.dom(t, "/county/plover/years").Text(), "[paper.")
}

// The office's own words stand on its map, and change nothing else of it.
func TestOwnSheet(t *testing.T) {
	s := newSite(inventedIssue())
	maps := NewMaps(MapDeps{About: desk.About{Name: "Sixmile", State: "Aldermark"}, Editions: s.store, Log: slog.New(slog.DiscardHandler)})
	file, err := maps.OwnSheet(t.Context(), catalog.English(), desk.SheetOrder{County: "plover", Kind: "pdf", Title: "Grange hall, December 3", Footnote: "Ask at the office."})
	require.NoError(t, err)
	at := filepath.Join(t.TempDir(), "own.pdf")
	require.NoError(t, os.WriteFile(at, file.Body, 0o600))
	words := poppler(t, "pdftotext", "-raw", at, "-")
	require.Contains(t, words, "Grange hall, December 3")
	require.Contains(t, words, "Ask at the office.")
	require.Contains(t, words, "K7QF-2M", "the edition's code")
	for _, o := range []desk.SheetOrder{{County: "plover", Kind: "svg"}, {County: "plover", Kind: "pdf", Paper: "napkin"}, {County: "nowhere", Kind: "pdf"}} {
		_, err := maps.OwnSheet(t.Context(), catalog.English(), o)
		require.ErrorIs(t, err, fault.ErrNotFound)
	}
}
