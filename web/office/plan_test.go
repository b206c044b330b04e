package office

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/plan"
	"sixmile/internal/sample"
)

// fakePlanning keeps plans in memory and has two editions of a small state.
type fakePlanning struct {
	number int // of the newest edition; 0: none
	plans  []plan.Saved
	issued map[int]map[place.ID]int
}

func newFakePlanning() *fakePlanning {
	return &fakePlanning{number: 1, issued: map[int]map[place.ID]int{2026: {1: 60, 2: 20}}}
}

func (f *fakePlanning) Save(_ context.Context, p plan.Saved, _ account.ID) (int, error) {
	p.No = len(f.plans) + 1
	f.plans = append(f.plans, p)
	return p.No, nil
}
func (f *fakePlanning) List(context.Context) (out []plan.Saved, err error) {
	for i := len(f.plans) - 1; i >= 0; i-- {
		out = append(out, f.plans[i])
	}
	return out, nil
}
func (f *fakePlanning) Get(_ context.Context, no int) (plan.Saved, error) {
	if no < 1 || no > len(f.plans) {
		return plan.Saved{}, fault.ErrNotFound
	}
	return f.plans[no-1], nil
}
func (f *fakePlanning) Issued(_ context.Context, season int) (map[place.ID]int, error) {
	return f.issued[season], nil
}
func (f *fakePlanning) Backs(context.Context, int, time.Time) (int, int, error) { return 400, 230, nil }
func (f *fakePlanning) Version(context.Context) (gazette.Version, error) {
	return gazette.Version{Number: f.number}, nil
}

// Issue is two counties of four by two townships. Plover has finds in its west.
// In the second edition one more township has its first find, one has none.
func (f *fakePlanning) Issue(_ context.Context, no int) (*gazette.Issue, error) {
	scheme := assay.DefaultScheme()
	ranks := gazette.Ranks(scheme)
	issue := &gazette.Issue{Scheme: scheme, Methods: assay.PresetMethods(),
		Edition: gazette.Edition{Number: no, Code: "K7QF-2M", Season: 2025 + no, Released: date(2026+no, 1, 15), K: 3}}
	square := func(x, y, w, h int32) atlas.Shape {
		const six = 9656
		return atlas.Shape{{{{X: x * six, Y: y * six}, {X: (x + w) * six, Y: y * six}, {X: (x + w) * six, Y: (y + h) * six}, {X: x * six, Y: (y + h) * six}, {X: x * six, Y: y * six}}}}
	}
	tranche := func(no int, c, t place.ID, none, finds int) {
		counts := make([]int, len(ranks))
		counts[0], counts[len(counts)-1] = none, finds
		issue.Tranches = append(issue.Tranches, edition.Tranche{ID: len(issue.Tranches) + 1, Edition: no, County: c, Kind: edition.KindTownship,
			Places: []place.ID{t}, Senders: 3, Samples: none + finds, Window: edition.Window{ThisFall: true, Through: 2025 + no}, Counts: counts})
	}
	for c := range 2 {
		id := place.ID(c + 1)
		county := gazette.County{Place: place.Place{ID: id, Kind: place.County, Code: strconv.Itoa(c + 1), Name: []string{"Plover", "Sedge"}[c], Slug: []string{"plover", "sedge"}[c]},
			Outline: square(int32(4*c), 0, 4, 2)}
		for i := range 8 {
			x, y := 4*c+i%4, i/4
			t := gazette.Township{Place: place.Place{ID: place.ID(100*(c+1) + i), Kind: place.Township, County: id,
				Code: "T" + strconv.Itoa(y+1) + "N R" + strconv.Itoa(x+1) + "E", Name: "Town " + string(rune('A'+8*c+i)), Slug: "town"},
				Outline: square(int32(x), int32(y), 1, 1)}
			county.Townships = append(county.Townships, t)
			switch {
			case x < 3:
				tranche(1, id, t.ID, 2, 6)
			case x != 5:
				tranche(1, id, t.ID, 6, 0)
			}
		}
		issue.Counties = append(issue.Counties, county)
	}
	if no > 1 {
		tranche(2, 1, 103, 3, 2)
		tranche(2, 2, 203, 5, 0)
	}
	return issue, nil
}

// planned posts the form as it stands, with some of it typed anew.
func (w *world) planned(t *testing.T, set ...string) answer {
	t.Helper()
	form := w.get(t, account.Coordinator, "/office/plan").fields(".plan-form")
	form = with(form, "reach", "come", "do", "show", "bags", "120", "least", "10", "back", "50")
	return w.post(t, account.Coordinator, "/office/plan", with(form, set...)...)
}

func TestPlanIsWorkedOutSavedAndIssued(t *testing.T) {
	w := newWorld(t)
	page := w.planned(t)
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, page.text("main"), "edition K7QF-2M")
	require.Contains(t, page.text("#result"), "Fall of 2027")
	require.Contains(t, page.text(".plan-lots tfoot"), "All counties 120 120 80")
	require.Equal(t, 2, page.Find(".plan-lots tbody tr").Length())
	require.Equal(t, 4, page.Find("table:has(caption:contains('reaches')) tbody tr").Length())
	require.NotZero(t, page.Find(".plan-county").Length())
	require.Empty(t, w.planning.plans, "looking saves nothing")

	done := w.planned(t, "do", "save")
	require.Equal(t, http.StatusSeeOther, done.status)
	require.Len(t, w.planning.plans, 1)
	p := w.planning.plans[0]
	require.Equal(t, []int{2027, 1, 120}, []int{p.Season, p.Edition, p.Lots[0].Bags + p.Lots[1].Bags})
	saved := w.get(t, account.Coordinator, done.header.Get("Location"))
	require.Contains(t, saved.text(".saved"), "The plan is saved")
	require.Zero(t, saved.Find(`a[href*="/office/lots?"]`).Length(), "the fall is not opened yet")

	// Once it is, each county's lot is one step away, filled in.
	w.program.seasons = append([]sample.Season{{Year: 2027, Opens: date(2027, 8, 1), Closes: date(2028, 5, 31)}}, w.program.seasons...)
	w.planning.issued[2027] = map[place.ID]int{1: 5}
	saved = w.get(t, account.Coordinator, "/office/plan/1")
	href := saved.attr(`a[href*="county=1"]`, "href")
	require.Contains(t, href, "bags="+strconv.Itoa(p.Lots[0].Bags-5))
	lots := w.get(t, account.Coordinator, strings.TrimSuffix(href, "#issue"))
	require.Equal(t, strconv.Itoa(p.Lots[0].Bags-5), lots.attr("#bags", "value"))
	require.Equal(t, "1", lots.attr("#county option[selected]", "value"))
	require.Equal(t, "2027", lots.attr("#season option[selected]", "value"))

	// A county's map says what its table says: each township's bags in its title, and
	// in it where they are any.
	require.Equal(t, "/office/plan/1/map/plover", saved.attr(".plan-county:first-of-type img", "src"))
	drawn := w.get(t, account.Coordinator, "/office/plan/1/map/plover")
	require.Equal(t, "image/svg+xml", drawn.header.Get("Content-Type"))
	require.Contains(t, drawn.body, "A suggestion, not results")
	asked := 0
	for i, g := range p.Given {
		if g.County != 1 {
			continue
		}
		name := "Town " + string(rune('A'+int(g.ID)-100))
		require.Regexp(t, name+`[^<]*: `+strconv.Itoa(p.Places[i].Bags)+` bags?<`, drawn.body)
		if n := p.Places[i].Bags; n > 0 {
			asked++
			require.Regexp(t, name+` \([^)]*\) `+strconv.Itoa(n)+` `, saved.text(".plan-county:first-of-type tbody"))
		}
	}
	require.NotZero(t, asked)
	require.NotContains(t, drawn.body, "Sedge County: ")
	require.Equal(t, http.StatusOK, w.get(t, account.Coordinator, "/office/plan/1/map/sedge?wide").status)
	for _, no := range []string{"1/map/nowhere", "2/map/plover"} {
		require.Equal(t, http.StatusNotFound, w.get(t, account.Coordinator, "/office/plan/"+no).status)
	}

	file := w.get(t, account.Coordinator, "/office/plan/1/plan.csv")
	require.True(t, strings.HasPrefix(file.body, "fall,county,township,host_acres,bags,"))
	require.Equal(t, 1+2+16, strings.Count(file.body, "\r\n"))
	require.Equal(t, http.StatusNotFound, w.get(t, account.Coordinator, "/office/plan/2").status)
	require.Equal(t, http.StatusNotFound, w.get(t, account.Coordinator, "/office/plan/x").status)
}

// Fairness alone follows the acres that the office types.
func TestPlanFollowsTypedAcres(t *testing.T) {
	w := newWorld(t)
	page := w.planned(t, "weight-finds", "0", "weight-sure", "0", "weight-levels", "0", "weight-fair", "1", "least", "0",
		"acres-1", "30000", "acres-2", "10000")
	require.Equal(t, http.StatusOK, page.status)
	var bags []string
	for _, n := range page.Find(".plan-lots tbody td:nth-child(2)").Nodes {
		bags = append(bags, page.FindNodes(n).Text())
	}
	require.Equal(t, []string{"90", "30"}, bags)
	require.Equal(t, "30000", page.attr("#acres-1", "value"))
}

func TestPlanRefused(t *testing.T) {
	for field, set := range map[string][]string{
		"bags":         {"bags", "many"},
		"least":        {"least", "61"},
		"back":         {"back", "0"},
		"weight-finds": {"weight-finds", "0", "weight-sure", "0", "weight-levels", "0", "weight-fair", "0"},
		"weight-sure":  {"weight-sure", "-1"},
		"acres-2":      {"acres-2", "1.5"},
		"season":       {"season", "1999"},
		"reach":        {"reach", "by balloon"},
	} {
		t.Run(field, func(t *testing.T) {
			w := newWorld(t)
			page := w.planned(t, append(set, "do", "save")...)
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			require.Equal(t, 1, page.Find(`.problems a[href="#`+field+`"]`).Length())
			require.Equal(t, 1, page.Find("#"+field).Length())
			if field != "season" && field != "reach" {
				require.Equal(t, set[1], page.attr("#"+set[0], "value"), "what was typed is kept")
				require.Equal(t, "true", page.attr("#"+field, "aria-invalid"))
			}
			require.Empty(t, w.planning.plans)
		})
	}
}

func TestPlanBeforeTheFirstMap(t *testing.T) {
	w := newWorld(t)
	w.planning.number = 0
	require.Contains(t, w.get(t, account.Coordinator, "/office/plan").text(".note"), "Nothing has been released yet")
	require.Contains(t, w.get(t, account.Coordinator, "/office/lookback").text(".note"), "no saved plan")
}

func TestLookback(t *testing.T) {
	w := newWorld(t)
	w.planned(t, "do", "save")
	require.Contains(t, w.get(t, account.Coordinator, "/office/lookback").text(".note"), "No township of its own has come out since")
	w.planning.number = 2
	page := w.get(t, account.Coordinator, "/office/lookback?plan=1")
	require.Equal(t, http.StatusOK, page.status)
	text := page.text("main")
	require.Contains(t, text, "In the 2 townships without finds that bags were released from since, 1 first find came.")
	require.Contains(t, text, "Brier score: 0.")
	require.Equal(t, 2, page.Find("#seen + div tbody tr").Length())
	require.Equal(t, page.Find("svg.reliability circle").Length(), page.Find(".look-chances tbody tr").Length())
	for _, bad := range []string{"x", "9", "-1"} {
		require.Equal(t, http.StatusNotFound, w.get(t, account.Coordinator, "/office/lookback?plan="+bad).status)
	}
}

// lookedBack is the look-back of a plan after one more edition.
func (w *world) lookedBack(t *testing.T) answer {
	t.Helper()
	w.planned(t, "do", "save")
	w.planning.number = 2
	defer func() { w.planning.number = 1 }()
	return w.get(t, account.Coordinator, "/office/lookback")
}

func TestDiagramKeepsToItsSquare(t *testing.T) {
	require.Equal(t, []int{60, 380, 340, 20}, []int{diagramX(0), diagramX(1), diagramY(0), diagramY(1)})
}
