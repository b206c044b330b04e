package open

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

func date(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

// fakeOffice stands for the stores behind the grower's pages.
type fakeOffice struct {
	places  []place.Place
	seasons []sample.Season
	offices []desk.Office
	scheme  assay.Scheme
	methods map[int]assay.Method
	answers map[sample.Secret]sample.Answer

	taken  []sample.Visit
	err    error // what Take answers
	ground error // what Places answers
}

func (f *fakeOffice) Places(context.Context) ([]place.Place, error)    { return f.places, f.ground }
func (f *fakeOffice) Seasons(context.Context) ([]sample.Season, error) { return f.seasons, nil }
func (f *fakeOffice) Offices(context.Context) ([]desk.Office, error)   { return f.offices, nil }
func (f *fakeOffice) Scheme(context.Context) (assay.Scheme, error)     { return f.scheme, nil }
func (f *fakeOffice) Methods(context.Context) (map[int]assay.Method, error) {
	return f.methods, nil
}

func (f *fakeOffice) Take(_ context.Context, v sample.Visit, _ time.Time) error {
	if f.err != nil {
		return f.err
	}
	f.taken = append(f.taken, v)
	for _, s := range v.Senders {
		for _, b := range s.Bags {
			f.answers[v.Token.Secret(b.Code)] = sample.Answer{Season: b.Season, County: 2}
		}
	}
	return nil
}

func (f *fakeOffice) Answer(_ context.Context, s sample.Secret) (sample.Answer, error) {
	a, ok := f.answers[s]
	if !ok {
		return sample.Answer{}, fault.ErrNotFound
	}
	return a, nil
}

func newOffice() *fakeOffice {
	last := date(2026, time.December, 4)
	f := &fakeOffice{
		seasons: []sample.Season{{Year: 2026, Opens: date(2026, time.August, 15), Closes: date(2027, time.June, 15)}},
		scheme:  assay.DefaultScheme(), methods: map[int]assay.Method{1: assay.DefaultMethod()},
		answers: map[sample.Secret]sample.Answer{},
	}
	for i, name := range []string{"Sedge", "Plover", "Bittern", "Cattail", "Dunlin", "Esker", "Fescue", "Gentian", "Harrier", "Kestrel"} {
		id := place.ID(i + 1)
		f.places = append(f.places, place.Place{ID: id, Kind: place.County, Name: name, Slug: strings.ToLower(name), Code: name})
		for t := range 12 {
			code := "T" + strconv.Itoa(8+t/3) + "N R" + strconv.Itoa(8+t%3+3*i) + "E"
			f.places = append(f.places, place.Place{ID: id*100 + place.ID(t), Kind: place.Township, Code: code, Name: code, County: id})
		}
		if name != "Kestrel" {
			f.offices = append(f.offices, desk.Office{
				County: id, Address: "12 Elevator Road, " + name, Hours: "Monday to Friday, 8 to 4:30",
				DropOff: "Box beside the side door, day and night", LastDay: &last,
			})
		}
	}
	return f
}

var fakeToday = date(2026, time.November, 14)

func growerDeps(f *fakeOffice) GrowerDeps {
	return GrowerDeps{
		Lang: catalog.English(), About: desk.About{Name: "Sixmile", State: "Tamarack", Invented: true},
		Today: func() time.Time { return fakeToday }, Log: slog.New(slog.DiscardHandler),
		Random: &counting{}, Intake: f, Ground: f, Offices: f, Levels: f,
	}
}

// counting is a source of bytes that never repeats a token.
type counting struct{ n byte }

func (c *counting) Read(p []byte) (int, error) {
	for i := range p {
		c.n++
		p[i] = c.n
	}
	return len(p), nil
}

// handlerOf serves the routes the way package web does, errors as bare statuses.
func handlerOf(d GrowerDeps) http.Handler {
	r := chi.NewRouter()
	for _, route := range GrowerRoutes(d) {
		r.Method(route.Method, route.Path, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if err := route.Handler(w, r); err != nil {
				status := http.StatusInternalServerError
				if err == fault.ErrNotFound {
					status = http.StatusNotFound
				}
				http.Error(w, "failed", status)
			}
		}))
	}
	return r
}

func get(t *testing.T, d GrowerDeps, path string) (*http.Response, *goquery.Document) {
	t.Helper()
	return serve(t, d, httptest.NewRequest(http.MethodGet, path, nil))
}

func post(t *testing.T, d GrowerDeps, form url.Values) (*http.Response, *goquery.Document) {
	t.Helper()
	r := httptest.NewRequest(http.MethodPost, "/send", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return serve(t, d, r)
}

// serve answers a request and holds the page to what every page must be.
func serve(t *testing.T, d GrowerDeps, r *http.Request) (*http.Response, *goquery.Document) {
	t.Helper()
	w := httptest.NewRecorder()
	handlerOf(d).ServeHTTP(w, r)
	res := w.Result()
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	doc, err := goquery.NewDocumentFromReader(strings.NewReader(string(body)))
	require.NoError(t, err)
	if doc.Find("main").Length() == 1 {
		checkPage(t, doc)
	}
	return res, doc
}

// checkPage holds a page to the rules that hold for all of them.
func checkPage(t *testing.T, doc *goquery.Document) {
	t.Helper()
	require.Equal(t, 1, doc.Find("h1").Length())
	require.Zero(t, doc.Find("[style], style, main script, [onclick]").Length(), "nothing inline")
	require.NotRegexp(t, `\[[a-z]+\.[a-z_.]+\]`, doc.Find("main").Text(), "a sentence is missing")
	require.NotRegexp(t, `\{[a-z]+\}`, doc.Find("main").Text(), "an argument is missing")
	ids := map[string]bool{}
	doc.Find("[id]").Each(func(_ int, s *goquery.Selection) {
		id := s.AttrOr("id", "")
		require.False(t, ids[id], "id %q stands twice", id)
		ids[id] = true
	})
	doc.Find("[aria-describedby]").Each(func(_ int, s *goquery.Selection) {
		for _, id := range strings.Fields(s.AttrOr("aria-describedby", "")) {
			require.True(t, ids[id], "nothing has the id %q", id)
		}
	})
	doc.Find("main label[for]").Each(func(_ int, s *goquery.Selection) {
		require.True(t, ids[s.AttrOr("for", "")], "a label for nothing: %q", s.AttrOr("for", ""))
	})
	doc.Find(`main a[href^="#"]`).Each(func(_ int, s *goquery.Selection) {
		require.True(t, ids[s.AttrOr("href", "#")[1:]], "a link to nothing: %q", s.AttrOr("href", ""))
	})
	doc.Find("main input:not([type=hidden]):not([type=radio]), main select").Each(func(_ int, s *goquery.Selection) {
		require.Equal(t, 1, doc.Find(`label[for="`+s.AttrOr("id", "?")+`"]`).Length(), "an input without a label")
	})
	level := 1
	doc.Find("main h1, main h2, main h3, main h4").Each(func(_ int, s *goquery.Selection) {
		at := int(goquery.NodeName(s)[1] - '0')
		require.LessOrEqual(t, at, level+1, "a heading is skipped before %q", s.Text())
		level = at
	})
}

// filled is what a browser would send of the form on the page.
func filled(doc *goquery.Document) url.Values {
	out := url.Values{}
	doc.Find("form.visit input, form.visit select").Each(func(_ int, s *goquery.Selection) {
		name, named := s.Attr("name")
		switch {
		case !named:
		case goquery.NodeName(s) == "select":
			chosen := s.Find("option[selected]")
			if chosen.Length() == 0 {
				chosen = s.Find("option").First()
			}
			out.Set(name, chosen.AttrOr("value", ""))
		case s.AttrOr("type", "") == "radio":
			if _, on := s.Attr("checked"); on {
				out.Set(name, s.AttrOr("value", ""))
			}
		default:
			out.Set(name, s.AttrOr("value", ""))
		}
	})
	return out
}

// testCodes draws n codes as the office would.
func testCodes(t *testing.T, n int) []bag.Code {
	t.Helper()
	var out []bag.Code
	source := &counting{n: 40}
	for len(out) < n {
		c, err := bag.Draw(source)
		require.NoError(t, err)
		out = append(out, c)
		source.n += byte(7 * len(out))
	}
	require.Len(t, out, n)
	return out
}
