package open

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"runtime"
	"testing"
	"testing/synctest"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
	"sixmile/internal/sample"
)

// fakeOutlooks stands for the store of parameter sets.
type fakeOutlooks []lookahead.Set

func (f fakeOutlooks) InForce(context.Context) (lookahead.Set, error) { return f[0], nil }

func (f fakeOutlooks) Set(_ context.Context, name string, version int) (lookahead.Set, error) {
	for _, s := range f {
		if s.Name == name && s.Version == version {
			return s, nil
		}
	}
	return lookahead.Set{}, fault.ErrNotFound
}

func newLooks() *Looks {
	second := lookahead.Standard()
	second.Version = 2
	second.Note = "Colder <b>winters</b>."
	return NewLooks(LookDeps{
		About: desk.About{Name: "Sixmile", State: "Aldermark", Invented: true}, Today: func() time.Time { return fakeToday },
		Outlooks: fakeOutlooks{second, lookahead.Standard()}, Table: newOffice(),
	})
}

func getLook(t *testing.T, k *Looks, l *catalog.Lang, address string) (int, *goquery.Document) {
	t.Helper()
	r := chi.NewRouter()
	for _, route := range k.Routes(l) {
		r.Method(route.Method, route.Path, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			require.NoError(t, route.Handler(w, r))
		}))
	}
	w := httptest.NewRecorder()
	r.ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
	doc, err := goquery.NewDocumentFromReader(w.Body)
	require.NoError(t, err)
	checkPage(t, doc)
	return w.Code, doc
}

func TestLookBeginsWithAForm(t *testing.T) {
	status, doc := getLook(t, newLooks(), catalog.English(), "/look-ahead")
	require.Equal(t, http.StatusOK, status)
	require.Zero(t, doc.Find(".problems, .look-chart").Length())
	require.Equal(t, 24, doc.Find(".look-rotation select").Length())
	require.Equal(t, "nonhost", doc.Find("#a1 option[selected]").AttrOr("value", ""))
	require.Zero(t, doc.Find("#d1 option[selected]").Length())
	require.Equal(t, "get", doc.Find("form.look-form").AttrOr("method", ""))
	require.Equal(t, "north-central.2", doc.Find("input[name=set]").AttrOr("value", ""))
	require.Equal(t, len(lookahead.Rules), doc.Find(".look-set tbody tr").Length())
	require.Contains(t, doc.Find(".look-set").Text(), "Chen, Porter, Reese and Stienstra 2001")
}

// A link with a density alone is answered with the first rotations, side by
// side: charts, a table that compares and one for each.
func TestLookAnswersACount(t *testing.T) {
	k := newLooks()
	status, doc := getLook(t, k, catalog.English(), "/look-ahead?eggs=2100")
	require.Equal(t, http.StatusOK, status)
	require.Equal(t, 3, doc.Find(".look-chart svg").Length())
	require.Equal(t, 3, doc.Find(".look-compare tbody tr").Length())
	require.Equal(t, 3*7, doc.Find(".look-detail table.figures tbody tr").Length())
	require.Contains(t, doc.Find("main").Text(), "2,100 eggs")
	// The cut points are those of the table in force: 2,000 and 12,000.
	require.Equal(t, 2, doc.Find(".look-chart svg").First().Find("path.cut").Length())
	require.Contains(t, doc.Find(".look-compare thead").Text(), "12,000")
	for _, caution := range []string{"Nobody can turn an egg count into bushels", "the label is the law", "not a recommendation"} {
		require.Contains(t, doc.Find(".cautions").Text(), caution)
	}
	// The figures are those of the pure package, written with two digits.
	o, err := lookahead.Ahead(fakeOutlooks{newLooks().Outlooks.(fakeOutlooks)[0]}[0], lookahead.Field{Start: lookahead.Counted(2100),
		Grown: map[lookahead.Crop]int{lookahead.PI88788: 20, lookahead.Peking: 0}}, []lookahead.Plan{{Crops: firstRotations[0]}}, nil, lookahead.Options{Seed: seed})
	require.NoError(t, err)
	require.Equal(t, catalog.English().Number(twoDigits(o[0].Last().Eggs.Median)), doc.Find(".look-compare tbody tr").First().Find("td").First().Text())
	require.Equal(t, 1, k.kept.Len())
	getLook(t, k, catalog.Spanish(), "/look-ahead?eggs=2100")
	require.Equal(t, 1, k.kept.Len(), "the same question, in another language")
}

func TestLookFromALevel(t *testing.T) {
	status, doc := getLook(t, newLooks(), catalog.English(), "/look-ahead?level=high&a1=greatnorthern&aw=1&y1=30")
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, doc.Find("main").Text(), "from 12,000 to 48,000")
	require.Contains(t, doc.Find(".cautions").Text(), "great northern")
	require.Contains(t, doc.Find(".look-chart").Text(), "Winter host weeds stand")
	require.Contains(t, doc.Find(".look-crops").Text(), "great northern beans")
	require.Equal(t, 1, doc.Find("#aw[checked]").Length())
	require.Equal(t, "30", doc.Find("#y1").AttrOr("value", ""))
	require.Contains(t, doc.Find(".look-chart").Text(), "After 1 year")
}

func TestEveryCropHasItsSentences(t *testing.T) {
	var keys []string
	for _, c := range sample.Crops {
		keys = append(keys, "choice."+c)
	}
	for _, c := range lookahead.Crops {
		keys = append(keys, "look.crop."+string(c), "look.row."+string(c), "look.brief."+string(c))
	}
	for _, r := range lookahead.Rules {
		keys = append(keys, "look.figure."+string(r.Key))
	}
	for _, key := range keys {
		require.True(t, catalog.English().Has(key), key)
	}
}

// A bookmark keeps its figures: the set of its day is named in it.
func TestLookKeepsItsSet(t *testing.T) {
	_, doc := getLook(t, newLooks(), catalog.English(), "/look-ahead?eggs=500&set=north-central.1")
	require.Contains(t, doc.Find("#figures").Text(), "This is not the set in force now")
	_, doc = getLook(t, newLooks(), catalog.English(), "/look-ahead?eggs=500&set=nobody.7")
	require.NotContains(t, doc.Find("#figures").Text(), "This is not the set in force now")
	require.Contains(t, doc.Find("#figures").Text(), "Colder <b>winters</b>.", "what a coordinator types is text")
}

func TestLookRefuses(t *testing.T) {
	for _, tt := range []struct{ query, field, says string }{
		{"eggs=lots", "eggs", "as digits"}, {"eggs=0", "eggs", "none found"}, {"eggs=9999999", "eggs", "1,000,000"}, {"eggs=-5", "eggs", "as digits"},
		{"y1=20", "eggs", "choose a level"}, {"level=huge", "level", "from the list"}, {"eggs=10&y1=99", "y1", "0 to 60"}, {"eggs=10&y2=x", "y2", "whole years"},
		{"eggs=10&a1=rice", "a1", "not on the list"}, {"eggs=10&a2=nonhost", "a1", "empty the years after"}, {"eggs=10&a1=", "a1", "at least one year"},
	} {
		t.Run(tt.query, func(t *testing.T) {
			status, doc := getLook(t, newLooks(), catalog.English(), "/look-ahead?"+tt.query)
			require.Equal(t, http.StatusUnprocessableEntity, status)
			require.Contains(t, doc.Find("#"+tt.field+"-wrong").Text(), tt.says)
			require.Equal(t, "true", doc.Find("#"+tt.field).AttrOr("aria-invalid", ""))
			require.Equal(t, 1, doc.Find(".problems a[href='#"+tt.field+"']").Length())
			require.Zero(t, doc.Find(".look-chart").Length())
		})
	}
}

// What is typed comes back as text, in every field of all three pages.
func TestLookKeepsMarkupAsText(t *testing.T) {
	evil := `"><script>alert(1)</script>`
	fields := map[string][]string{
		"/look-ahead":    {"eggs", "level", "y1", "y2", "set", "a1", "d6", "aw"},
		"/season":        {"plant", "end", "normal", "t5"},
		"/how-to-sample": {"acres"},
	}
	for path, names := range fields {
		for _, name := range names {
			_, doc := getLook(t, newLooks(), catalog.English(), path+"?"+url.Values{name: {evil}}.Encode())
			require.Zero(t, doc.Find("main script").Length(), "%s %s", path, name)
		}
		_, doc := getLook(t, newLooks(), catalog.English(), path+"?"+names[0]+"="+url.QueryEscape(evil))
		require.Equal(t, evil, doc.Find("#"+names[0]).AttrOr("value", ""), "kept")
	}
}

func TestStartLevels(t *testing.T) {
	require.Equal(t, []startLevel{{"low", 200, 2000}, {"moderate", 2000, 12000}, {"high", 12000, 48000}}, startLevels(assay.DefaultScheme()))
	for _, s := range assay.Presets() {
		for _, l := range startLevels(s) {
			require.Greater(t, l.Low, 0.0, s.Key)
			require.Greater(t, l.High, l.Low, s.Key)
		}
	}
}

func TestChartHoldsItsBands(t *testing.T) {
	out, err := lookahead.Ahead(lookahead.Standard(), lookahead.Field{Start: lookahead.Counted(900000)},
		[]lookahead.Plan{{Crops: []lookahead.Crop{lookahead.Susceptible}}}, nil, lookahead.Options{Seed: 1})
	require.NoError(t, err)
	top := chartTop(out)
	require.Equal(t, 7, top)
	c := chartOf(catalog.English(), out[0], []lookCut{{2000, "low"}, {5, "x"}}, top)
	require.Len(t, c.Cuts, 1)
	require.Equal(t, c.Cuts[0].Y, c.Cuts[0].FigureY)
	close := chartOf(catalog.English(), out[0], []lookCut{{200, "very_low"}, {240, "low"}, {5000, "moderate"}}, top).Cuts
	require.InDelta(t, figureApart, close[0].FigureY-close[1].FigureY, 1e-9, "figures of cut points that are close do not stand on each other")
	require.Equal(t, close[2].Y, close[2].FigureY)
	require.Len(t, c.Marks, 2)
	require.Equal(t, []lookSpan{{c.SoybeanSpans[0].From, c.SoybeanSpans[0].To, false}}, c.SoybeanSpans)
	for _, m := range c.Marks {
		require.GreaterOrEqual(t, m.Y, float64(chartTopY))
		require.LessOrEqual(t, m.Y, float64(chartBottom))
	}
}

// The answer's page leads here with the count rounded to two digits and nothing
// else.
func TestAheadOfNamesNoBag(t *testing.T) {
	require.Equal(t, "/look-ahead?eggs=2100", aheadOf(2137))
	require.Equal(t, "/look-ahead?eggs=1000000", aheadOf(5000000))
	require.Empty(t, aheadOf(0))
}

func TestSeasonPage(t *testing.T) {
	status, doc := getLook(t, newLooks(), catalog.English(), "/season")
	require.Equal(t, http.StatusOK, status)
	text := doc.Find("main").Text()
	require.Contains(t, text, "2 to 3 generations", "the northern edge: common practice")
	require.Contains(t, text, "about July", "early July after a late-May planting")
	require.Equal(t, "2027-05-25", doc.Find("#plant").AttrOr("value", ""), "the coming season")
	require.Equal(t, 1, doc.Find("svg.season-svg .shows.usual").Length())
	require.Contains(t, doc.Find(".cautions").Text(), "air temperature")
	// Typed means go before the normal.
	_, doc = getLook(t, newLooks(), catalog.English(), "/season?plant=2026-05-01&end=2026-09-15&normal=north&t4=77&t5=77&t6=77")
	require.Contains(t, doc.Find("main").Text(), "about May 27", "26 days in a warm spring: Tylka")
	_, doc = getLook(t, newLooks(), catalog.English(), "/season?plant=2026-05-01&end=2026-05-20")
	require.Contains(t, doc.Find("main").Text(), "not been warm enough")
}

func TestSeasonRefuses(t *testing.T) {
	for query, field := range map[string]string{
		"plant=soon": "plant", "plant=1850-05-01": "plant", "plant=2026-01-05": "plant", "end=2026-13-01": "end",
		"plant=2026-08-01&end=2026-06-01": "end", "plant=2026-08-01&end=2027-09-01": "end", "normal=mars": "normal", "t5=999": "t5", "t6=hot": "t6",
	} {
		t.Run(query, func(t *testing.T) {
			status, doc := getLook(t, newLooks(), catalog.English(), "/season?"+query)
			require.Equal(t, http.StatusUnprocessableEntity, status)
			require.NotEmpty(t, doc.Find("#"+field+"-wrong").Text())
			require.Equal(t, 1, doc.Find(".problems a[href='#"+field+"']").Length())
		})
	}
}

// 15 to 20 cores for at most 20 acres: Iowa State University 2013, University of
// Minnesota 2023.
func TestPlanSampling(t *testing.T) {
	for acres, want := range map[float64]samplePlan{
		0.5: {1, 1, 1, 15, 20}, 10: {10, 1, 10, 15, 20}, 20: {20, 1, 20, 15, 20}, 21: {21, 2, 11, 30, 40}, 160: {160, 8, 20, 120, 160},
	} {
		require.Equal(t, want, planSampling(acres), fmt.Sprint(acres))
	}
}

func TestSamplePage(t *testing.T) {
	status, doc := getLook(t, newLooks(), catalog.English(), "/how-to-sample?acres=75")
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, doc.Find("#plan").Text(), "4 bags, each for about 19 acres, with 60 to 80 cores")
	require.Equal(t, 2, doc.Find("figure svg[role=img]").Length())
	require.Contains(t, doc.Find(".cautions").Text(), "another state")
	status, doc = getLook(t, newLooks(), catalog.English(), "/how-to-sample?acres=many")
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, doc.Find("#acres-wrong").Text(), "2,000")
}

// The eighteen cores lie inside the field, in order, on the zigzag.
func TestWalkStaysInTheField(t *testing.T) {
	last := -1.0
	for i := range walkCores {
		x, y := walkPoint((float64(i) + 0.5) / walkCores)
		require.Greater(t, x, last)
		require.Greater(t, x, float64(walkEdge))
		require.Less(t, x, float64(walkWidth-walkEdge))
		require.Greater(t, y, float64(walkEdge))
		require.Less(t, y, float64(walkHeight-walkEdge))
		last = x
	}
}

// Whatever an address holds is either answered or refused at its fields.
func FuzzReadLook(f *testing.F) {
	for _, q := range []string{"", "eggs=2100", "level=high&a1=nonhost&a2=r88788&aw=1&y1=30", "eggs=1e9&d6=x", "a1=%ff&eggs=%00", "eggs=2,100&b3=black"} {
		f.Add(q)
	}
	scheme := assay.DefaultScheme()
	f.Fuzz(func(t *testing.T, query string) {
		q, err := url.ParseQuery(query)
		if err != nil {
			return
		}
		form := readLook(q)
		ask := form.check(scheme)
		require.Len(t, form.problemFields(), len(form.Problems), "every problem has a field on the page")
		if len(form.Problems) == 0 {
			_, err := lookahead.Ahead(lookahead.Standard(), ask.Field, ask.Plans, nil, lookahead.Options{Draws: 5})
			require.NoError(t, err)
		}
		season := readSeason(q, fakeToday)
		plant, end, means := season.check(fakeToday)
		require.Len(t, season.problemFields(), len(season.Problems))
		if len(season.Problems) == 0 {
			_, err := lookahead.Season(plant, end, means)
			require.NoError(t, err)
		}
	})
}

// Many who ask for rotations at once wait for each other, and in the end are told so:
// other pages are not kept from their processor.
func TestLooksWaitForTheirTurn(t *testing.T) {
	k := newLooks()
	free := int64(max(1, runtime.GOMAXPROCS(0)/2))
	require.NoError(t, k.turns.Acquire(t.Context(), free))
	synctest.Test(t, func(t *testing.T) {
		require.ErrorIs(t, k.turn(t.Context()), fault.ErrBusy)
	})
	k.turns.Release(free)
	require.NoError(t, k.turn(t.Context()))
}
