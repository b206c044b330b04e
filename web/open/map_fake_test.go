package open

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/web/shell"
	"sixmile/web/shell/markuptest"
)

var countyNames = [...]string{
	"Wexley", "Tamarind", "Corlan", "Brule Point", "Osier", "Plover", "Quillan", "Saint Aldric",
	"Marrow", "Teasel", "Upper Fenn", "Voss",
}

var townshipNames = [...]string{
	"Alder", "Brome", "Cobb", "Dunmore", "Elder Fork", "Farrow", "Gant", "Hask", "Ivers", "Juniper", "Kell",
	"Lorne", "Mott", "North Pell", "Orrin", "Pike Prairie", "Quince", "Rill", "South Pell", "Thorne", "Umber", "Vail",
}

// inventedIssue is an edition of an invented state of 12 counties of 22
// townships each, whose county lines are ragged, with figures that grow toward
// the southeast. County n has id 100n; Wexley, the first, has no figures.
func inventedIssue() *gazette.Issue {
	g := fixture.NewGrid(22, 12, 140, 5)
	day := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
	issue := &gazette.Issue{
		Edition: gazette.Edition{Number: 12, Code: "K7QF-2M", Kind: edition.Release, Season: 2026,
			Cutoff: day(2026, 12, 31), Released: day(2027, 1, 14), K: 3},
		Scheme:  assay.DefaultScheme(),
		Methods: assay.PresetMethods(),
		Outline: g.Union(g.Cells()...),
	}
	for i, code := range []string{"3M8C-QP", "W4TR-7H"} {
		issue.Editions = append(issue.Editions, gazette.Edition{Number: 10 + i, Code: code, Kind: edition.Release, Season: 2024 + i,
			Cutoff: day(2024+i, 12, 31), Released: day(2025+i, 1, 14), K: 3})
	}
	issue.Editions = append(issue.Editions, issue.Edition)
	cells := make([][]fixture.Cell, len(countyNames))
	for _, c := range g.Cells() {
		// Counties lie in pairs of eleven columns, the first of a pair six
		// columns wide in even rows and five in odd ones.
		n, width := c.Row/4*4+c.Col/11*2, 6-c.Row%2
		if c.Col%11 >= width {
			n++
		}
		cells[n] = append(cells[n], c)
	}
	for n, name := range countyNames {
		issue.Counties = append(issue.Counties, inventedCounty(g, n, name, cells[n]))
		if n > 0 {
			issue.Tranches = append(issue.Tranches, inventedTranches(issue.Counties[n], cells[n])...)
		}
		if n > 1 {
			issue.Falls = append(issue.Falls, edition.FallFigure{County: place.ID(100 * (n + 1)), Season: 2026,
				Samples: 20 + 5*n, Finds: 5 * (n / 2), Highest: edition.NotTold})
		}
	}
	meetCells(issue, cells)
	at := func(x, y float64) atlas.Point {
		return atlas.Point{X: 400000 + int32(x*9656), Y: 4600000 - int32(y*9656)}
	}
	var river []atlas.Point
	for i := range 60 {
		river = append(river, at(float64(i)*22/59, 2+float64(i)*7/59+float64(i*i%7)/7))
	}
	issue.Rivers = []atlas.Line{{Name: "Alder River", Path: river}}
	issue.Ridge = atlas.Shape{{{at(14, 3), at(15, 3.2), at(18, 7), at(17.6, 8), at(16, 6)}}}
	for n, name := range countyNames {
		c := cells[n][len(cells[n])/2]
		issue.Towns = append(issue.Towns, gazette.Town{Name: name + " Mills", At: at(float64(c.Col)+.6, float64(c.Row)+.7), Rank: 1 + n%2})
	}
	return issue
}

// meetCells tells townships beside each other that they are.
func meetCells(issue *gazette.Issue, cells [][]fixture.Cell) {
	id := map[fixture.Cell]place.ID{}
	for n := range cells {
		for i, c := range cells[n] {
			id[c] = issue.Counties[n].Townships[i].ID
		}
	}
	for n := range cells {
		for i, c := range cells[n] {
			t := &issue.Counties[n].Townships[i]
			for _, beside := range []fixture.Cell{{Col: c.Col + 1, Row: c.Row}, {Col: c.Col, Row: c.Row + 1}} {
				if other, there := id[beside]; there {
					t.Neighbors = append(t.Neighbors, other)
				}
			}
		}
	}
}

func inventedCounty(g *fixture.Grid, n int, name string, cells []fixture.Cell) gazette.County {
	id := place.ID(100 * (n + 1))
	c := gazette.County{
		Place:   place.Place{ID: id, Kind: place.County, Code: fmt.Sprintf("%03d", n+1), Name: name, Slug: place.Slug(name)},
		Outline: g.Union(cells...),
	}
	members := map[place.ID][]fixture.Cell{}
	for i, cell := range cells {
		district := id + 50 + place.ID(min(i/6, 2)) // rows of townships, about six
		members[district] = append(members[district], cell)
		c.Townships = append(c.Townships, gazette.Township{
			Place: place.Place{ID: id + 1 + place.ID(i), Kind: place.Township, Code: fixture.Code(cell),
				Name: townshipNames[i], Slug: place.Slug(townshipNames[i]), County: id},
			District: district, Outline: g.Union(cell),
		})
	}
	for d := id + 50; d < id+53; d++ {
		c.Districts = append(c.Districts, gazette.District{ID: d, County: id, Outline: g.Union(members[d]...)})
	}
	for _, other := range []int{n - 1, n + 1, n - 4, n + 4} {
		if other >= 0 && other < len(countyNames) && (other/4 == n/4 || other%4 == n%4) {
			c.Neighbors = append(c.Neighbors, place.ID(100*(other+1)))
		}
	}
	return c
}

// inventedTranches gives about two townships in three figures of their own, a
// district one together, and the county a remainder.
func inventedTranches(c gazette.County, cells []fixture.Cell) []edition.Tranche {
	var out []edition.Tranche
	add := func(no int, kind edition.Kind, places []place.ID, only bool, counts ...int) {
		t := edition.Tranche{ID: len(out) + 1, Edition: no, County: c.ID, Kind: kind, Places: places, Senders: 3, Counts: counts,
			Window: edition.Window{ThisFall: only, Through: 2014 + no}}
		for _, n := range counts {
			t.Samples += n
		}
		out = append(out, t)
	}
	for i, cell := range cells {
		heat := (cell.Col+2*cell.Row)/4 - (cell.Col*3+cell.Row)%5 // -4 in the northwest to 10 in the southeast
		if (cell.Col*7+cell.Row*5)%3 == 0 || i < 5 {
			continue
		}
		add(10+i%3, edition.KindTownship, []place.ID{c.Townships[i].ID}, i%2 == 0,
			6, max(0, min(heat+1, 2)), max(0, min(heat, 3)), max(0, min(heat-3, 4)), max(0, heat-6))
		if i%3 < 2 { // seen again
			add(12, edition.KindTownship, []place.ID{c.Townships[i].ID}, true, 3, 0, max(0, min(heat, 2)), 0, 0)
		}
	}
	var district []place.ID
	for _, t := range c.Townships[:6] {
		district = append(district, t.ID)
	}
	add(12, edition.KindDistrict, district, false, 4, 1, 2, 0, 0)
	add(12, edition.KindRemainder, []place.ID{c.ID}, false, 8, 0, 1, 0, 0)
	return out
}

// fakeEditions is a store in memory; down makes it fail as a database does.
type fakeEditions struct {
	no     atomic.Int32
	gone   atomic.Int32 // withdrawn editions
	down   atomic.Bool
	asked  atomic.Int32
	loaded atomic.Int32
	issue  func(no int) *gazette.Issue
}

var errDown = errors.New("connection refused")

func (f *fakeEditions) Version(context.Context) (gazette.Version, error) {
	f.asked.Add(1)
	if f.down.Load() {
		return gazette.Version{}, errDown
	}
	return gazette.Version{Number: int(f.no.Load()), Withdrawn: int(f.gone.Load())}, nil
}

func (f *fakeEditions) Issue(_ context.Context, no int) (*gazette.Issue, error) {
	f.loaded.Add(1)
	if f.down.Load() {
		return nil, errDown
	}
	if i := f.issue(no); i != nil {
		return i, nil
	}
	return nil, fmt.Errorf("Published.Issue: %w", fault.ErrNotFound)
}

// fakeOffices are offices in memory.
type fakeOffices []desk.Office

func (f *fakeOffices) Offices(context.Context) ([]desk.Office, error) { return *f, nil }

// clock stands still until it is moved.
type clock struct{ t atomic.Int64 }

func (c *clock) now() time.Time          { return time.Unix(c.t.Load(), 0) }
func (c *clock) forward(d time.Duration) { c.t.Add(int64(d / time.Second)) }

type site struct {
	http.Handler
	store   *fakeEditions
	offices *fakeOffices
	clock   *clock
	log     *strings.Builder
	day     time.Time
}

func (s *site) today() time.Time { return s.day }

// newSite serves the map pages of one edition.
func newSite(issue *gazette.Issue) *site { return newSiteIn(issue, catalog.English()) }

// newSiteIn serves them in languages, each under its prefix, as package web does.
func newSiteIn(issue *gazette.Issue, langs ...*catalog.Lang) *site {
	return newSiteOf(issue, langs, func(*MapDeps) {})
}

// newSiteOf is newSiteIn on something else than usual.
func newSiteOf(issue *gazette.Issue, langs []*catalog.Lang, change func(*MapDeps)) *site {
	last := time.Date(2027, 3, 20, 0, 0, 0, 0, time.UTC)
	offices := &fakeOffices{{County: 600, Address: "12 Main Street, Plover", Hours: "weekdays 8 to 4:30", LastDay: &last}}
	s := &site{store: &fakeEditions{}, offices: offices, clock: &clock{}, log: &strings.Builder{},
		day: time.Date(2027, 3, 20, 0, 0, 0, 0, time.UTC)}
	s.clock.t.Store(1_000_000)
	s.store.issue = func(int) *gazette.Issue { return issue }
	if issue != nil {
		s.store.no.Store(int32(issue.Edition.Number))
	}
	r := chi.NewRouter()
	r.Use(middleware.Compress(5, "text/html", "image/svg+xml")) // as the server does
	deps := MapDeps{About: desk.About{Name: "Sixmile", State: "Aldermark", Invented: true},
		Editions: s.store, Offices: s.offices, Today: s.today, Log: slog.New(slog.NewTextHandler(s.log, nil)), Now: s.clock.now}
	change(&deps)
	all := NewMaps(deps)
	var routes []shell.Route
	for _, l := range langs {
		for _, route := range all.Routes(l) {
			route.Path = l.Prefix() + route.Path
			routes = append(routes, route)
		}
	}
	for _, route := range routes {
		r.Method(route.Method, route.Path, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			err := route.Handler(w, r)
			switch {
			case errors.Is(err, fault.ErrNotFound):
				http.Error(w, "not found", http.StatusNotFound)
			case err != nil:
				http.Error(w, err.Error(), http.StatusInternalServerError)
			}
		}))
	}
	s.Handler = r
	return s
}

func (s *site) get(path string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, path, nil)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// dom gets a page that must be there.
func (s *site) dom(t testing.TB, path string) *goquery.Document {
	t.Helper()
	w := s.get(path)
	require.Equal(t, http.StatusOK, w.Code, w.Body.String())
	d, err := goquery.NewDocumentFromReader(io.Reader(w.Body))
	require.NoError(t, err)
	require.Empty(t, markuptest.Problems(d), path)
	return d
}

// text is the words of a selection as they are read out, with a single space
// between them and between cells.
func text(s *goquery.Selection) string {
	var words []string
	s.Each(func(_ int, s *goquery.Selection) {
		switch {
		case goquery.NodeName(s) == "#text":
			words = append(words, strings.Fields(s.Text())...)
		case s.AttrOr("aria-hidden", "") != "true":
			if inner := text(s.Contents()); inner != "" {
				words = append(words, inner)
			}
		}
	})
	return strings.Join(words, " ")
}
