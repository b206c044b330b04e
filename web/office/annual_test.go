package office

import (
	"archive/zip"
	"bytes"
	"context"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"

	"sixmile/internal/account"
	"sixmile/internal/annual"
	"sixmile/internal/annual/fixture"
	"sixmile/internal/annual/tally"
	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

var annualPolicy = map[string][]account.Role{
	"GET /office/annual":              {account.Coordinator},
	"POST /office/annual":             {account.Coordinator},
	"GET /office/annual/{token}":      {account.Coordinator},
	"GET /office/annual/{token}/file": {account.Coordinator},
}

// fakeYearbook is an invented edition with the office's figures of its season. A
// summary waits in it for as long as hold is locked.
type fakeYearbook struct {
	mu     sync.Mutex
	hold   sync.Mutex
	issue  *gazette.Issue
	none   bool
	broken error
	noted  int
	asked  annual.Period
}

func newFakeYearbook() *fakeYearbook { return &fakeYearbook{issue: fixture.Issue()} }

func (f *fakeYearbook) Latest(context.Context) (int, error) {
	if f.none {
		return 0, nil
	}
	return f.issue.Edition.Number, nil
}
func (f *fakeYearbook) Issue(context.Context, int) (*gazette.Issue, error) { return f.issue, nil }
func (f *fakeYearbook) Season(_ context.Context, year int) (annual.Period, error) {
	if year != 2025 && year != 2026 {
		return annual.Period{}, fault.ErrNotFound
	}
	return annual.Period{Year: year, From: date(year, 8, 1), To: date(year+1, 7, 31)}, nil
}
func (f *fakeYearbook) Figures(_ context.Context, p annual.Period, _ time.Time, _ assay.Scheme) (tally.Figures, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.asked = p
	return tally.Figures{Bags: []tally.Bags{{County: 1000, Issued: 43, Returned: 31, Counted: 29, Signed: 28, OnMap: 20, InWait: 8}}}, nil
}
func (f *fakeYearbook) Note(context.Context, int, time.Time) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.noted++
	return nil
}
func (f *fakeYearbook) Outlines(_ context.Context, _ int, kind place.Kind, see func(place.ID, *geom.MultiPolygon, float64) error) error {
	f.hold.Lock()
	defer f.hold.Unlock()
	if f.broken != nil {
		return f.broken
	}
	box := geom.NewMultiPolygonFlat(geom.XY, []float64{0, 0, 1, 0, 1, 1, 0, 1, 0, 0}, [][]int{{10}})
	for _, c := range f.issue.Counties {
		if kind == place.County {
			if err := see(c.ID, box, 1); err != nil {
				return err
			}
			continue
		}
		for _, t := range c.Townships {
			if err := see(t.ID, box, 1); err != nil {
				return err
			}
		}
	}
	return nil
}

// make asks for a copy and waits until it is made.
func (w *world) makeAnnual(t *testing.T, form url.Values) (path string, page answer) {
	t.Helper()
	sent := w.do(t, account.Coordinator, http.MethodPost, "/office/annual", form)
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text(".problems"))
	path = sent.header.Get("Location")
	require.Eventually(t, func() bool {
		page = w.get(t, account.Coordinator, path)
		return page.header.Get("Refresh") == ""
	}, 20*time.Second, 10*time.Millisecond)
	return path, page
}

// Each copy is made, says whose it is, and is a whole archive under a name that
// cannot be mistaken; the trail notes each.
func TestAnnualCopies(t *testing.T) {
	for copy, want := range map[string]string{"public": "annual-season-2026-TEST-A3-public.zip", "sponsor": "annual-season-2026-TEST-A3-sponsor.zip",
		"office": "annual-season-2026-TEST-A3-office-NOT-FOR-RELEASE.zip"} {
		t.Run(copy, func(t *testing.T) {
			w := newWorld(t)
			path, page := w.makeAnnual(t, url.Values{"copy": {copy}, "year": {"season-2026"}, "fee": {"20"}})
			require.Equal(t, path+"/file", page.attr("a.button", "href"), page.text("main"))
			require.Contains(t, page.text("main"), want)
			file := w.get(t, account.Coordinator, path+"/file")
			require.Equal(t, "application/zip", file.header.Get("Content-Type"))
			require.Contains(t, file.header.Get("Content-Disposition"), want)
			z, err := zip.NewReader(bytes.NewReader([]byte(file.body)), int64(len(file.body)))
			require.NoError(t, err)
			own := 0
			for _, f := range z.File {
				if strings.Contains(f.Name, "/NOT-FOR-RELEASE-") || strings.HasSuffix(f.Name, "/sponsor.csv") {
					own++
				}
			}
			require.Equal(t, map[string]int{"public": 0, "sponsor": 1, "office": 5}[copy], own)
			require.Equal(t, 1, w.yearbook.noted)
		})
	}
}

// While it is made the page tells how far it has come and asks again by itself; who
// leaves finds it again; another person does not.
func TestAnnualCanBeLeft(t *testing.T) {
	w := newWorld(t)
	w.yearbook.hold.Lock()
	sent := w.do(t, account.Coordinator, http.MethodPost, "/office/annual", url.Values{"copy": {"public"}, "year": {"fiscal-2027"}})
	path := sent.header.Get("Location")
	var page answer
	require.Eventually(t, func() bool {
		page = w.get(t, account.Coordinator, path)
		return strings.Contains(page.text("main"), "maps/counties.geojson")
	}, 20*time.Second, 10*time.Millisecond)
	require.Equal(t, "1", page.header.Get("Refresh"))
	require.NotEmpty(t, page.attr("progress", "value"))
	require.Equal(t, http.StatusConflict, w.get(t, account.Coordinator, path+"/file").status)
	w.yearbook.hold.Unlock()
	require.Eventually(t, func() bool { return w.get(t, account.Coordinator, path+"/file").status == http.StatusOK }, 20*time.Second, 10*time.Millisecond)
	_, err := w.office.summaries.find(strings.TrimPrefix(path, "/office/annual/"), account.ID{99})
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.Equal(t, http.StatusNotFound, w.get(t, account.Coordinator, "/office/annual/AAAA").status)
}

// 29 bags were counted; at $20.00 that is $580.00.
func TestAnnualInvoices(t *testing.T) {
	w := newWorld(t)
	_, page := w.makeAnnual(t, url.Values{"copy": {"office"}, "year": {"season-2026"}, "fee": {"20"}, "invoices": {"A-1:20:400\r\n\r\nA-2:9:180.00\r\n"}})
	require.Contains(t, page.text("main"), "They agree, bag for bag and cent for cent.")
	_, page = w.makeAnnual(t, url.Values{"copy": {"office"}, "year": {"season-2026"}, "fee": {"20"}, "invoices": {"<script>alert(1)</script>:30:610"}})
	require.Contains(t, page.text("main"), "The invoices are for 1 bag more than was counted. They ask for $30.00 more than counted bags times the fee. Invoice <script>alert(1)</script>: $610.00 is not its bags times the fee.")
}

// A refused form says what is wrong at the field, and keeps what was typed.
func TestAnnualRefuses(t *testing.T) {
	good := url.Values{"copy": {"office"}, "year": {"season-2026"}, "fee": {"20"}, "invoices": {""}}
	for name, c := range map[string]struct{ field, typed, says string }{
		"copy":        {"copy", "<script>alert(1)</script>", "Choose whose copy it is."},
		"year":        {"year", "season-1999", "Choose a year from the list."},
		"no year":     {"year", "<script>alert(1)</script>", "Choose a year from the list."},
		"fee":         {"fee", "1,50<script>alert(1)</script>", "1,234.50"},
		"invoice":     {"invoices", "A-1:20:400\nnonsense <script>alert(1)</script>", "Line 2 is not an invoice"},
		"many":        {"invoices", strings.Repeat("A:1:20\n", 41), "Match 40 invoices at a time at most."},
		"without fee": {"fee", "", "Type the lab’s fee for a bag"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			form := url.Values{}
			for k, v := range good {
				form[k] = v
			}
			form.Set(c.field, c.typed)
			if name == "without fee" {
				form.Set("invoices", "A-1:20:400")
			}
			page := w.do(t, account.Coordinator, http.MethodPost, "/office/annual", form)
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			if name != "fee" {
				require.Contains(t, page.text("#"+c.field+"-wrong, .wrong"), c.says)
			}
			require.Equal(t, "#"+c.field, page.attr(".problems a", "href"))
			if c.field == "fee" {
				require.Equal(t, c.typed, page.attr("#fee", "value"))
			}
			if c.field == "invoices" {
				require.Equal(t, c.typed, page.Find("#invoices").Text())
			}
		})
	}
	w := newWorld(t)
	form := url.Values{"copy": {"public"}, "year": {"season-2026"}, "fee": {"20"}, "invoices": {"A-1:20:400"}}
	page := w.do(t, account.Coordinator, http.MethodPost, "/office/annual", form)
	require.Contains(t, page.text(".wrong"), "in the office’s own copy alone")
}

func TestAnnualWithoutEditionOrWithoutLuck(t *testing.T) {
	w := newWorld(t)
	w.yearbook.none = true
	require.Contains(t, w.get(t, account.Coordinator, "/office/annual").text("main"), "There is no edition yet.")
	require.Equal(t, http.StatusConflict, w.do(t, account.Coordinator, http.MethodPost, "/office/annual", url.Values{"copy": {"public"}, "year": {"season-2026"}}).status)
	w.yearbook.none, w.yearbook.broken = false, context.DeadlineExceeded
	path, page := w.makeAnnual(t, url.Values{"copy": {"public"}, "year": {"season-2026"}})
	require.Contains(t, page.text("[role=alert]"), "It could not be made.")
	require.Equal(t, http.StatusConflict, w.get(t, account.Coordinator, path+"/file").status)
	require.Zero(t, w.yearbook.noted)
}

// The form offers the season of the edition, the fee in force, and both kinds of
// year.
func TestAnnualForm(t *testing.T) {
	page := newWorld(t).get(t, account.Coordinator, "/office/annual")
	require.Equal(t, "season-2026", page.attr("#year option[selected]", "value"))
	require.Equal(t, "22.00", page.attr("#fee", "value"))
	require.Equal(t, "public", page.attr("input[name=copy][checked]", "value"))
	require.Equal(t, 1, page.Find(`#year option[value="fiscal-2027"]`).Length())
}
