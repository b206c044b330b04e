package office

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web"
	"sixmile/web/shell"
	"sixmile/web/shell/markuptest"
)

// An invented program for the tests: two counties, three townships, one season,
// and a person of every role.

func date(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

var today = date(2026, 12, 1)

// codes are drawn once from a fixed source, so that failures repeat.
var codes = func() []bag.Code {
	src := &countingReader{}
	var out []bag.Code
	for range 12 {
		c, err := bag.Draw(src)
		if err != nil {
			panic(err)
		}
		out = append(out, c)
	}
	return out
}()

// countingReader gives 7, 14, 21 …: enough variety for codes.
type countingReader struct{ n byte }

func (r *countingReader) Read(p []byte) (int, error) {
	for i := range p {
		r.n += 7
		p[i] = r.n
	}
	return len(p), nil
}

// Two more people who come in by a token of their own.
const (
	otherClerk account.Role = "clerk of Sedge"
	owing      account.Role = "owes a second step"
)

// roleSessions takes a role's own token.
type roleSessions struct{}

func tokenOf(role account.Role) account.Token {
	var t account.Token
	copy(t[:], role)
	return t
}

func (roleSessions) Session(_ context.Context, t account.Token, _ time.Time) (account.Staff, error) {
	for _, role := range account.Roles {
		if t == tokenOf(role) {
			return staffOf(role), nil
		}
	}
	switch t {
	case tokenOf(otherClerk):
		s := staffOf(account.Clerk)
		s.ID, s.Counties = account.ID{2}, []place.ID{2}
		return s, nil
	case tokenOf(owing):
		s := staffOf(account.Coordinator)
		s.ID, s.Owes = account.ID{3}, true
		return s, nil
	}
	return account.Staff{}, fault.ErrNotFound
}

// world is the pages with everything they stand on.
type world struct {
	program    *fakeProgram
	newest     *fakeNewest
	people     *fakePeople
	passwords  *fakePasswords
	season     *fakeSeason
	soil       *fakeSoil
	recipes    *fakeRecipes
	lab        *fakeLab
	lots       *fakeLots
	queue      *fakeQueue
	releases   *fakeReleases
	counter    *fakeCounter
	staff      *fakeStaff
	trail      *fakeTrail
	signoff    *fakeSignOff
	trays      *fakeTrays
	twins      *fakeTwins
	uploads    *fakeUploads
	past       *fakePast
	indicators *fakeIndicators
	methods    *fakeMethods
	outlooks   *fakeOutlooks
	slips      *fakeSlips
	histories  *fakeHistories
	ledger     *fakeLedger
	sheets     *fakeSheets
	ground     *fakeGround
	purse      *fakePurse
	yearbook   *fakeYearbook
	planning   *fakePlanning
	mailbox    *fakeMailbox
	office     *office
	handler    http.Handler
}

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{
		program: &fakeProgram{
			places: []place.Place{
				{ID: 1, Kind: place.County, Code: "01", Name: "Plover", Slug: "plover"},
				{ID: 2, Kind: place.County, Code: "02", Name: "Sedge", Slug: "sedge"},
				{ID: 11, Kind: place.Township, Code: "T21N R8E", Name: "Goose Prairie", Slug: "goose-prairie", County: 1},
				{ID: 12, Kind: place.Township, Code: "T22N R8E", Name: "Larkin", Slug: "larkin", County: 1},
				{ID: 21, Kind: place.Township, Code: "T20N R8E", Name: "Dry Run", Slug: "dry-run", County: 2},
			},
			seasons: []sample.Season{
				{Year: 2026, Opens: date(2026, 8, 1), Closes: date(2027, 5, 31)},
				{Year: 2025, Opens: date(2025, 8, 1), Closes: date(2026, 5, 31)},
			},
		},
		yearbook: newFakeYearbook(),
		people:   &fakePeople{}, passwords: &fakePasswords{},
		season:  &fakeSeason{p: desk.Progress{Issued: 400, FormIn: 210, SoilIn: 180, Counted: 122, Ready: 43, NoForm: 15, Unsigned: 31}},
		soil:    &fakeSoil{in: map[bag.Code]bool{codes[0]: false, codes[1]: true, codes[2]: false, codes[3]: false}},
		recipes: &fakeRecipes{methods: assay.PresetMethods()},
		lab: &fakeLab{bags: map[bag.Code]desk.LabBag{
			codes[0]: {Code: codes[0], State: bag.SoilIn, HasForm: true},
			codes[1]: {Code: codes[1], State: bag.SoilIn},
			codes[2]: {Code: codes[2], State: bag.Void, HasForm: true},
			codes[3]: {Code: codes[3], State: bag.FormIn, HasForm: true},
		}},
		lots: &fakeLots{lots: []desk.Lot{{ID: desk.ID{8}, County: 2, Season: 2026, Issued: date(2026, 8, 3), Bags: 300, Bundles: 130,
			FormsIn: 210, SoilIn: 180, Counted: 122, Voided: 2}}},
		queue: &fakeQueue{items: []desk.QueueItem{
			{ID: desk.ID{1}, Code: codes[8], Reason: "unknown", Day: date(2026, 10, 3), County: 1},
			{ID: desk.ID{2}, Code: codes[9], Reason: "doubled", Day: date(2026, 10, 9), County: 2},
			{ID: desk.ID{3}, Code: codes[10], Reason: "used", Day: date(2026, 10, 12), County: 2},
			{ID: desk.ID{4}, Code: codes[11], Reason: "void", Day: date(2026, 11, 2), County: 1},
		}},
		signoff: inventedUnsigned(), trays: inventedTrays(), twins: &fakeTwins{}, indicators: &fakeIndicators{tests: map[bag.Code]desk.Indicator{}}, uploads: &fakeUploads{taken: map[string]time.Time{}}, past: newFakePast(), methods: inventedMethods(), slips: &fakeSlips{}, histories: &fakeHistories{},
		releases: &fakeReleases{preview: inventedPreview()},
		counter:  newFakeCounter(), staff: newFakeStaff(), trail: &fakeTrail{}, ledger: newFakeLedger(), sheets: &fakeSheets{}, ground: newFakeGround(),
		mailbox: newFakeMailbox(), purse: newFakePurse(), planning: newFakePlanning(), outlooks: newFakeOutlooks(),
	}
	w.newest = &fakeNewest{issue: inventedFront(8)}
	about := desk.About{Name: "Sixmile", State: "Tamarack", Invented: true}
	w.office = newOffice(Deps{
		Lang: catalog.English(), About: about, Today: func() time.Time { return today }, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		Newest:  w.newest,
		BaseURL: "https://scn.example.org/", Program: w.program, Offices: w.program, Passwords: w.passwords, Season: w.season,
		Soil: w.soil, Recipes: w.recipes, Lab: w.lab, Lots: w.lots, Queue: w.queue, Releases: w.releases, Sheets: w.sheets,
		Counter: w.counter, Answers: w.counter, Trail: w.trail,
		Outlooks: w.outlooks,
		Bench: Bench{SignOff: w.signoff, Batches: w.signoff, Trays: w.trays, Cups: w.trays, Ledgers: w.trays, Idle: w.trays,
			Strays: w.trays, Slips: w.slips, Histories: w.histories, Fresh: w.lab, Controls: w.trays, Twins: w.twins, Methods: w.methods, Uploads: w.uploads, Indicators: w.indicators},
		Ground: Ground{Stages: w.ground, Surveys: w.ground, Sets: w.ground, GroundOf: w.ground, RefLayers: w.ground},
		Before: Before{PastGround: w.past, PastLoads: w.past}, Analysis: fakeAnalysis{},
		Ledger: Ledger{Editions: w.ledger, Withdrawals: w.ledger, Recalls: w.ledger, Errata: w.ledger},
		Staff: Staff{People: w.people, Steps: w.staff, Seconds: w.staff, Sessions: w.staff, OwnPassword: w.staff,
			Invites: w.staff, Roster: w.staff, Access: w.staff, House: w.staff, Addresses: w.mailbox, Resets: w.mailbox},
		Purse:    Purse{Accounts: w.purse, Fiscal: w.purse, PriceBook: w.purse, Sponsors: w.purse},
		Yearbook: Yearbook{Issues: w.yearbook, Years: w.yearbook, Land: w.yearbook},
		Planning: Planning{Plans: w.planning, Handed: w.planning, Figures: w.planning},
	})
	h, err := web.New(web.Options{
		Lang: catalog.English(), About: about, Routes: w.office.routes(), Sessions: roleSessions{},
		Today: func() time.Time { return today }, Ready: func(context.Context) error { return nil }, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
	})
	require.NoError(t, err)
	w.handler = h
	return w
}

func inventedPreview() desk.Preview {
	return desk.Preview{
		Number: 12, Levels: "Invented table", Season: 2026, NextDay: date(2026, 11, 20), Stamp: "5f3a",
		Drafts: []edition.Draft{
			{County: 1, Kind: edition.KindTownship, Places: []place.ID{11}, Senders: 4, Floor: 3, Members: make([]edition.SampleID, 7)},
			{County: 1, Kind: edition.KindDistrict, Places: []place.ID{11, 12}, Senders: 3, Floor: 3, Members: make([]edition.SampleID, 5)},
			{County: 2, Kind: edition.KindRemainder, Places: []place.ID{2}, Senders: 3, Floor: 3, Members: make([]edition.SampleID, 3)},
		},
		Waiting: []edition.Lack{
			{Place: 21, County: 2, Waiting: 4, Senders: 2, Reasons: []edition.Reason{edition.TooFewSenders, edition.DistrictPatience}},
			{Place: 12, County: 1, Waiting: 2, Uncounted: 1, Senders: 2, Reasons: []edition.Reason{edition.Uncounted}},
			{Place: 1, County: 1, Waiting: 1, Senders: 1, Reasons: []edition.Reason{edition.CountyOnly, edition.CountyPatience}},
		},
		FirstShown: []place.ID{11}, Changed: []place.ID{21},
	}
}

// answer is a page as a test reads it.
type answer struct {
	*goquery.Document
	status int
	header http.Header
	body   string
}

// text is the text of what a selector finds, element by element, its spaces
// evened out.
func (a answer) text(selector string) string {
	var words []string
	var walk func(*goquery.Selection)
	walk = func(s *goquery.Selection) {
		s.Contents().Each(func(_ int, c *goquery.Selection) {
			if goquery.NodeName(c) == "#text" {
				words = append(words, strings.Fields(c.Text())...)
				return
			}
			walk(c)
		})
	}
	walk(a.Find(selector))
	return strings.Join(words, " ")
}

// attr is an attribute of the first element found; "" for none.
func (a answer) attr(selector, name string) string {
	v, _ := a.Find(selector).First().Attr(name)
	return v
}

func (w *world) do(t *testing.T, role account.Role, method, path string, form url.Values) answer {
	t.Helper()
	r := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if role != "" {
		r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: tokenOf(role).String()})
	}
	rec := httptest.NewRecorder()
	w.handler.ServeHTTP(rec, r)
	doc, err := goquery.NewDocumentFromReader(strings.NewReader(rec.Body.String()))
	require.NoError(t, err)
	require.NotContains(t, rec.Body.String(), "<script>alert", "%s %s", method, path)
	require.Empty(t, doc.Find("[style], style, script:not([src])").Nodes, "%s %s writes inline style or script", method, path)
	if strings.Contains(rec.Header().Get("Content-Type"), "text/html") && doc.Find("main").Length() > 0 {
		require.Empty(t, markuptest.Problems(doc), "%s %s", method, path)
	}
	return answer{doc, rec.Code, rec.Header(), rec.Body.String()}
}

func (w *world) get(t *testing.T, role account.Role, path string) answer {
	t.Helper()
	return w.do(t, role, http.MethodGet, path, nil)
}

func (w *world) post(t *testing.T, role account.Role, path string, pairs ...string) answer {
	t.Helper()
	form := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	return w.do(t, role, http.MethodPost, path, form)
}

// fields are the values that a browser would send of a form.
func (a answer) fields(selector string) []string {
	var out []string
	a.Find(selector).Find("input[name], select[name], textarea[name]").Each(func(_ int, s *goquery.Selection) {
		name, _ := s.Attr("name")
		switch {
		case s.Is("select"):
			v, _ := s.Find("option[selected]").Attr("value")
			out = append(out, name, v)
		case s.Is("textarea"):
			out = append(out, name, s.Text())
		case s.Is("[type=checkbox]") && !s.Is("[checked]"):
		default:
			v, _ := s.Attr("value")
			out = append(out, name, v)
		}
	})
	return out
}

// asMap is a form's fields by name.
func asMap(pairs []string) map[string]string {
	out := map[string]string{}
	for i := 0; i+1 < len(pairs); i += 2 {
		out[pairs[i]] = pairs[i+1]
	}
	return out
}

// with sets a field of what fields gave.
func with(pairs []string, set ...string) []string {
	out := slices.Clone(pairs)
	for i := 0; i+1 < len(set); i += 2 {
		found := false
		for j := 0; j+1 < len(out); j += 2 {
			if out[j] == set[i] {
				out[j+1], found = set[i+1], true
			}
		}
		if !found {
			out = append(out, set[i], set[i+1])
		}
	}
	return out
}
