package web_test

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/geofile"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/pgtest"
	"sixmile/internal/sample"
	"sixmile/web"
	"sixmile/web/office"
	"sixmile/web/open"
	"sixmile/web/shell"
)

func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }

func day() time.Time { return time.Date(2020, 11, 2, 0, 0, 0, 0, time.UTC) }

// bench is the growers' form and the lab's pages on a real database, with one
// county of sixteen townships and a coordinator who is signed in.
type bench struct {
	t             *testing.T
	h             http.Handler
	staff, public *pgxpool.Pool
	token         account.Token
}

func newBench(t *testing.T) *bench {
	t.Helper()
	ctx := context.Background()
	b := &bench{t: t}
	logins := pgtest.Database(t)
	for url, pool := range map[string]**pgxpool.Pool{logins.Staff: &b.staff, logins.Public: &b.public} {
		p, err := postgres.Open(ctx, url)
		require.NoError(t, err)
		t.Cleanup(p.Close)
		*pool = p
	}
	program := postgres.NewProgram(b.staff)
	require.NoError(t, program.Found(ctx, desk.About{Name: "Soil Watch", State: "Nowhere"}))
	_, err := postgres.NewBoundaries(b.staff).Accept(ctx, sixteen(t), day())
	require.NoError(t, err)
	require.NoError(t, program.AddSeason(ctx, sample.Season{Year: 2020, Opens: day().AddDate(0, -3, 0), Closes: day().AddDate(0, 6, 0)}))
	who, err := account.NewStaff("lab", "The lab", account.Coordinator, nil)
	require.NoError(t, err)
	people := postgres.NewPeople(b.staff)
	require.NoError(t, people.Add(ctx, who, "no password opens this"))
	list, err := people.List(ctx, day())
	require.NoError(t, err)
	copy(b.token[:], "a session of the test's own, and long enough")
	require.NoError(t, people.SignIn(ctx, list[0].ID, b.token, false, day()))
	b.serve(people)
	return b
}

// recipes gives the office the methods in their order.
type recipes struct{ *postgres.Levels }

func (r recipes) Methods(ctx context.Context) ([]assay.Method, error) { return r.List(ctx) }

// serve puts the pages of the way of a bag on their stores, as cmd/sixmile does.
func (b *bench) serve(people *postgres.People) {
	about, log := desk.About{Name: "Soil Watch", State: "Nowhere"}, slog.New(slog.DiscardHandler)
	program, public := postgres.NewProgram(b.staff), postgres.NewProgram(b.public)
	lab, bags, trays, signoff := postgres.NewLab(b.staff), postgres.NewBags(b.staff), postgres.NewTrays(b.staff), postgres.NewSignOff(b.staff)
	routes := office.Routes(office.Deps{
		Lang: catalog.English(), About: about, Today: day, Log: log,
		Program: program, Offices: program, Season: lab, Soil: trays, Recipes: recipes{postgres.NewLevels(b.staff)}, Lab: lab,
		Lots: bags, Queue: bags,
		Bench: office.Bench{SignOff: signoff, Batches: signoff, Trays: trays, Cups: trays, Ledgers: trays, Idle: trays, Strays: trays,
			Slips: bags, Histories: lab, Fresh: lab, Controls: trays, Twins: lab, Methods: postgres.NewLevels(b.staff)},
	})
	pages := func(l *catalog.Lang) []shell.Route {
		return open.GrowerRoutes(open.GrowerDeps{Lang: l, About: about, Today: day, Log: log, Random: rand.Reader,
			Intake: postgres.NewIntake(b.public), Ground: public, Offices: public, Levels: postgres.NewLevels(b.public)})
	}
	h, err := web.New(web.Options{Lang: catalog.English(), About: about, Routes: routes, Public: pages, Sessions: people, Today: day, Ready: b.public.Ping, Log: log})
	require.NoError(b.t, err)
	b.h = h
}

// sixteen is a county of four by four townships.
func sixteen(t *testing.T) geofile.Set {
	t.Helper()
	feature := func(properties string, x0, y0, x1, y1 float64) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":{"type":"Polygon","coordinates":[[[%[2]g,%[3]g],[%[4]g,%[3]g],[%[4]g,%[5]g],[%[2]g,%[5]g],[%[2]g,%[3]g]]]}}`, properties, x0, y0, x1, y1)
	}
	read := func(features ...string) geofile.Layer {
		l, err := geofile.ReadGeoJSON(strings.NewReader(`{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`), geofile.DefaultLimits())
		require.NoError(t, err)
		return l
	}
	const side = 0.06
	var townships []string
	for i := range 16 {
		x, y := -40+side*float64(i%4), 40+side*float64(i/4)
		townships = append(townships, feature(fmt.Sprintf(`"code":"T%dN R%dE","name":"Town %d","county":"001"`, i/4+1, i%4+1, i+1), x, y, x+side, y+side))
	}
	set, err := geofile.NewSet(read(feature(`"code":"001","name":"Plover"`, -40, 40, -40+4*side, 40+4*side)), read(townships...),
		geofile.Fields{Code: "code", Name: "name"}, geofile.Fields{Code: "code", Name: "name", County: "county"})
	require.NoError(t, err)
	return set
}

// page is what the office sees.
func (b *bench) page(method, path string, form url.Values) (*goquery.Document, *http.Response) {
	b.t.Helper()
	r := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if strings.HasPrefix(path, "/office") {
		r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: b.token.String()})
	}
	w := httptest.NewRecorder()
	b.h.ServeHTTP(w, r)
	doc, err := goquery.NewDocumentFromReader(w.Body)
	require.NoError(b.t, err)
	return doc, w.Result()
}

func (b *bench) get(path string) *goquery.Document {
	b.t.Helper()
	doc, res := b.page(http.MethodGet, path, nil)
	require.Equal(b.t, http.StatusOK, res.StatusCode, path)
	return doc
}

// send fills a form of a page in, as a browser would send it, and gives the
// answer. What is set goes over what the form holds; the rest goes along.
func (b *bench) send(doc *goquery.Document, form string, set ...string) (*goquery.Document, *http.Response) {
	b.t.Helper()
	f := doc.Find(form).First()
	require.Equal(b.t, 1, f.Length(), form)
	v := url.Values{}
	id := f.AttrOr("id", "")
	fields := f.Find("input[name]:not([type=checkbox]):not([type=radio]), input:checked").AddSelection(doc.Find(`input[form="` + id + `"][name]`))
	fields.Each(func(_ int, in *goquery.Selection) { v.Add(in.AttrOr("name", ""), in.AttrOr("value", "")) })
	f.Find("select[name]").Each(func(_ int, s *goquery.Selection) {
		chosen := s.Find("option[selected]")
		if chosen.Length() == 0 {
			chosen = s.Find("option")
		}
		v.Set(s.AttrOr("name", ""), chosen.First().AttrOr("value", ""))
	})
	for i := 0; i < len(set); i += 2 {
		v.Set(set[i], set[i+1])
	}
	return b.page(http.MethodPost, f.AttrOr("action", ""), v)
}

// ready tells that the next scan needs no mouse: the field has the focus, and it
// is empty.
func ready(t *testing.T, doc *goquery.Document, field string) {
	t.Helper()
	focused := doc.Find("[autofocus]")
	require.Equal(t, 1, focused.Length())
	require.Equal(t, field, focused.AttrOr("name", ""))
	require.Empty(t, focused.AttrOr("value", ""))
}

// A fall's mail: 900 wet bags, fifteen of them without a form, nine of those with
// a slip in pencil; and six codes that are no good. All of it goes through the
// forms of the pages, a scan and Enter at a time; at the end nothing is
// unexplained. Usually it is 150 bags, with the same fifteen and six; all 900:
//
//	SIXMILE_LARGE=1 go test -run NineHundred ./web
func TestNineHundredWetBags(t *testing.T) {
	n := 150
	if os.Getenv("SIXMILE_LARGE") != "" {
		n = 900
	}
	b := newBench(t)
	codes := b.issue(n, 5)
	b.growers(codes[:n-15])

	doc := b.get("/office/trays")
	b.send(doc, "form[action='/office/trays']", "day", "11/2/2020", "mail", strconv.Itoa(n+6))
	doc = b.get("/office/login-bags")
	doc.Find("#condition option[selected]").RemoveAttr("selected")
	doc.Find("#condition option[value=wet]").SetAttr("selected", "") // once, by keyboard
	doc.Find("#same").SetAttr("checked", "")
	cups := map[string]bool{}
	scan := "form:has(#scan)"
	for i, c := range codes {
		var res *http.Response
		set := []string{"scan", string(c), "do", "one"}
		if i >= 60 {
			set = append(set, "batch", "") // the list of what was scanned is left out, for the test's own time
		}
		doc, res = b.send(doc, scan, set...)
		require.Equal(t, http.StatusOK, res.StatusCode, "bag %d", i)
		ready(t, doc, "scan")
		seat := doc.Find("#outcome .seat").Text()
		require.False(t, seat == "" || cups[seat], "bag %d: %q", i, seat)
		cups[seat] = true
	}
	for range 5 { // well-formed, and nobody issued them
		bad, err := bag.Draw(rand.Reader)
		require.NoError(t, err)
		var res *http.Response
		doc, res = b.send(doc, scan, "scan", string(bad), "do", "one")
		require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
		ready(t, doc, "scan")
	}
	doc, _ = b.send(doc, "details form", "do", "unreadable")
	ready(t, doc, "scan")
	require.Equal(t, n, b.count(`SELECT count(*) FROM priv.bag WHERE condition = 'wet'`))
	b.even(n+6, map[string]string{"Codes that wait for a person": "6"})

	b.slipless(codes[n-15:])
	b.strays(6)
	b.counts(codes)
	b.signed(n)
	b.even(n+6, map[string]string{"In trays, taken for the county of their lot": "6", "In trays, with form or slip or waiting for one": strconv.Itoa(n - 6), "Laid aside: no telling what they are": "6"})
	require.Equal(t, n, b.count(`SELECT count(*) FROM priv.bag WHERE state = 'signed'`))
	lots := b.get("/office/lots?season=2020").Find("table.ledger")
	require.Equal(t, 1, lots.Length())
	require.Equal(t, strconv.Itoa(n), strings.TrimSpace(lots.Find("tfoot td").Text()))
	require.Equal(t, "0", strings.TrimSpace(lots.Find("tbody tr").Last().Find("td").Text()), "not explained")
}

// issue issues a lot by its form and gives the codes, bundle after bundle.
func (b *bench) issue(n, size int) (codes []bag.Code) {
	b.t.Helper()
	doc := b.get("/office/lots")
	county := doc.Find("form.issue select[name=county] option:not([value=''])").First().AttrOr("value", "")
	_, res := b.send(doc, "form.issue", "county", county, "season", "2020", "bags", strconv.Itoa(n), "sizes", strconv.Itoa(size), "do", "issue")
	require.Equal(b.t, http.StatusSeeOther, res.StatusCode)
	rows, err := b.staff.Query(context.Background(), `SELECT code FROM priv.bag ORDER BY bundle, position`)
	require.NoError(b.t, err)
	defer rows.Close()
	for rows.Next() {
		var c string
		require.NoError(b.t, rows.Scan(&c))
		codes = append(codes, bag.Code(c))
	}
	require.Len(b.t, codes, n)
	return codes
}

func (b *bench) count(sql string) (n int) {
	b.t.Helper()
	require.NoError(b.t, b.staff.QueryRow(context.Background(), sql).Scan(&n))
	return n
}
