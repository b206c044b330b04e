package open

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/place"
)

// fakeNames finds places among the fake office's: townships by survey, every
// name by its folded form, and a town.
type fakeNames struct {
	*fakeOffice
	srid int
	away error
}

func (f *fakeNames) Find(_ context.Context, q place.Query, limit int) ([]place.Candidate, error) {
	if f.away != nil {
		return nil, f.away
	}
	counties := map[place.ID]place.Place{}
	for _, p := range f.places {
		if p.Kind == place.County {
			counties[p.ID] = p
		}
	}
	var out []place.Candidate
	for _, p := range f.places {
		c := place.Candidate{Place: p, County: counties[p.County], Alike: 1}
		if p.Kind == place.County {
			c.County = p
		}
		s, err := place.ParseSurvey(p.Code)
		switch {
		case q.Survey != nil && err == nil && q.Survey.Fits(s):
			c.How = place.BySurvey
		case q.Survey == nil && q.Name == "pebble ford" && p.ID == 203:
			c.How, c.Town = place.ByTown, "Pebble Ford"
		case q.Survey == nil && q.Name == place.Fold(p.Name):
			c.How = place.ByName
		default:
			continue
		}
		if q.County == "" || q.County == place.Fold(c.County.Name) {
			out = append(out, c)
		}
	}
	return out[:min(len(out), limit)], nil
}

func (f *fakeNames) Set(context.Context) (int, error) { return 7, f.away }

// Outlines lays each county's twelve townships out as squares of six miles, the
// counties side by side, around the middle of zone 15 (500 km east, and 4,600 km
// north of the equator is about 41.55 degrees).
func (f *fakeNames) Outlines(context.Context) (*place.Outlines, error) {
	o := &place.Outlines{Set: 7, SRID: f.srid}
	const side = 9656
	for _, p := range f.places {
		if p.Kind == place.County {
			o.Counties = append(o.Counties, p)
			continue
		}
		n := int32(p.ID % 100)
		x, y := 450_000+(int32(p.County)-1)*3*side+n%3*side, 4_600_000+n/3*side
		o.Townships = append(o.Townships, place.Outlined{Place: p,
			Rings: [][]int32{{x, y, x + side, y, x + side, y + side, x, y + side, x, y}}})
	}
	return o, nil
}

// namedDeps are the grower's pages with every way of naming a place.
func namedDeps() (GrowerDeps, *fakeNames) {
	office := newOffice()
	d := growerDeps(office)
	names := &fakeNames{fakeOffice: office, srid: 32615}
	d.Names = names
	return d, names
}

func TestTypedPlaces(t *testing.T) {
	d, _ := namedDeps()
	for _, c := range []struct {
		typed, township string // the township that is filled in
		choices         int
		problem         string
	}{
		{"T8N R13E", "202", 0, ""},
		{"SE of the NE of 12, T8N R13E", "202", 0, ""},
		{"8-13", "", 1, ""},
		{"Pebble Ford", "", 1, ""},
		{"Plover", "county", 0, ""},
		{"t8n r13e, Plover County", "202", 0, ""},
		{"t8n r13e, Sedge County", "", 0, "place.error.notincounty"},
		{"T99N R13E", "", 0, "place.error.nosuchtownship"},
		{"T8N R13E S37", "", 0, "place.error.badsection"},
		{"41.55, -93.02", "", 0, "place.error.coordinates"},
		{"Nowhere", "", 0, "place.error.nosuchname"},
		{"", "", 0, "place.error.empty"},
	} {
		t.Run(c.typed, func(t *testing.T) {
			f := firstForm(t, d)
			f.Set("bag.0.township", "")
			f.Set("bag.0.find", c.typed)
			f.Set("bag.0.acres", "40to80")
			res, doc := post(t, d, do(f, "find.0"))
			again := filled(doc)
			require.Equal(t, "40to80", again.Get("bag.0.acres"), "everything typed is kept")
			require.Equal(t, f.Get("token"), again.Get("token"))
			require.Equal(t, c.township, again.Get("bag.0.township"))
			require.Equal(t, c.choices, doc.Find(".found input[type=radio]").Length())
			if c.problem == "" {
				require.Equal(t, http.StatusOK, res.StatusCode)
				return
			}
			require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
			require.Equal(t, d.Lang.Say(c.problem), doc.Find(`[id="bag.0.find.wrong"]`).Text())
			require.Equal(t, "true", doc.Find(`[id="bag.0.find"]`).AttrOr("aria-invalid", ""))
			require.Equal(t, c.typed, doc.Find(`[id="bag.0.find"]`).AttrOr("value", ""))
			require.Equal(t, 1, doc.Find(`.problems a[href="#bag.0.find"]`).Length())
		})
	}
}

// A choice fills the place in, with whatever button comes next, and what was
// typed to find it is never stored: a visit has no field for it.
func TestAChoiceIsTakenAlong(t *testing.T) {
	d, names := namedDeps()
	f := firstForm(t, d)
	f.Set("bag.0.county", "1")
	f.Set("bag.0.township", "")
	f.Set("bag.0.find", "8-13")
	_, doc := post(t, d, do(f, "find.0"))
	value := doc.Find(".found input").AttrOr("value", "")
	require.Equal(t, "2.202", value)
	f = filled(doc)
	f.Set("bag.0.pick", value)
	_, shown := post(t, d, do(f, "edit"))
	require.Equal(t, "202", filled(shown).Get("bag.0.township"))
	require.Equal(t, "2", filled(shown).Get("bag.0.county"))
	f.Set("bag.0.day", "2026-10-31")
	res, _ := post(t, d, do(f, "send"))
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Len(t, names.taken, 1)
	require.Equal(t, place.ID(202), names.taken[0].Senders[0].Bags[0].Place)
	// A choice that nobody offered is refused like any other.
	f.Set("bag.0.pick", "1.202")
	res, _ = post(t, d, do(f, "send"))
	require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
}

func TestTypedPlaceEscapesAndStays(t *testing.T) {
	d, _ := namedDeps()
	f := firstForm(t, d)
	f.Set("bag.0.find", `"><script>x</script>`)
	for _, button := range []string{"find.0", "bag", "send"} {
		f.Set("bag.0.day", "")
		_, doc := post(t, d, do(f, button))
		require.Zero(t, doc.Find("main script").Length())
		require.Equal(t, f.Get("bag.0.find"), doc.Find(`[id="bag.0.find"]`).AttrOr("value", ""), button)
	}
	for _, odd := range []string{"find.x", "find.7", "find.-1"} {
		w := httptest.NewRecorder()
		r := httptest.NewRequest(http.MethodPost, "/send", strings.NewReader(do(f, odd).Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		handlerOf(d).ServeHTTP(w, r)
		require.Less(t, w.Code, 500, odd)
	}
}

// With only the lists to offer, the form offers only those; with the database
// away it is still shown.
func TestFormWithoutOtherWays(t *testing.T) {
	_, doc := get(t, growerDeps(newOffice()), "/send?county=plover")
	require.Zero(t, doc.Find(".place-ways").Length())
	d, names := namedDeps()
	_, doc = get(t, d, "/send?county=plover")
	require.Equal(t, 1, doc.Find(".place-ways [data-locate]").Length())
	require.Equal(t, 1, doc.Find("[data-pick-map]").Length())
	require.Contains(t, doc.Find(".out-of-state").Text(), "Tamarack")
	require.Equal(t, 1, doc.Find(`select[name="bag.0.township"] option[value=county]`).Length(), "county only is always offered")
	require.Equal(t, d.Lang.Say("send.township.hint"), doc.Find(`[id="bag.0.township.hint"]`).Text(), "with what it costs")
	names.away = fault.ErrUnavailable
	res, doc := get(t, d, "/send?county=plover")
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, 1, doc.Find("form.visit").Length())
	names.away, names.srid = nil, 5070
	d.Names = &fakeNames{fakeOffice: names.fakeOffice, srid: 5070}
	_, doc = get(t, d, "/send?county=plover")
	require.Zero(t, doc.Find("[data-locate]").Length(), "no projection for these outlines in the browser")
	require.Equal(t, 1, doc.Find("[data-pick-map]").Length())
}

func TestMapOfTownships(t *testing.T) {
	d, _ := namedDeps()
	res, doc := get(t, d, "/send/map?county=plover&bag=ABCD-2345")
	require.Equal(t, http.StatusOK, res.StatusCode)
	links := doc.Find("svg.pick-map a")
	require.Equal(t, 12, links.Length())
	require.NotContains(t, doc.Find("main").Text(), "token")
	seen := map[string]bool{}
	links.Each(func(_ int, s *goquery.Selection) {
		require.NotEmpty(t, s.AttrOr("aria-label", ""))
		require.NotEmpty(t, s.Find("path").AttrOr("d", ""))
		seen[s.AttrOr("href", "")] = true
	})
	require.Len(t, seen, 12)
	require.True(t, seen["/send?bag=ABCD-2345&county=plover&township=205"])

	// Following a link fills the form in.
	_, doc = get(t, d, "/send?bag=ABCD-2345&county=plover&township=205")
	require.Equal(t, "205", filled(doc).Get("bag.0.township"))
	require.Equal(t, "ABCD-2345", filled(doc).Get("bag.0.code"))
	_, doc = get(t, d, "/send?county=plover&township=305")
	require.Empty(t, filled(doc).Get("bag.0.township"), "a township of another county")

	_, doc = get(t, d, "/send/map?county=2&part=map")
	require.Equal(t, 12, doc.Find("svg.pick-map a").Length(), "the map alone, for the script")
	require.Zero(t, doc.Find("h1").Length())
	res, _ = get(t, d, "/send/map?county=")
	require.Equal(t, http.StatusSeeOther, res.StatusCode)
	for _, bad := range []string{"atlantis", "205", "999"} {
		res, _ = get(t, d, "/send/map?county="+bad)
		require.Equal(t, http.StatusNotFound, res.StatusCode, bad)
	}
}

// Without a script the map stands in the middle of the form: everything typed goes
// through it and comes back, with the township chosen or without.
func TestMapKeepsWhatWasTyped(t *testing.T) {
	d, names := namedDeps()
	f := firstForm(t, d)
	f.Set("bag.0.township", "")
	f.Set("bag.0.acres", "40to80")
	f.Set("bag.0.find", "Pebble <script>alert(1)</script>")
	f.Set("standing.0", "earlier")
	_, doc := post(t, d, do(f, "bag"))
	f = filled(doc)
	f.Set("bag.1.county", "1")
	_, form := get(t, d, "/send?county=plover")
	button := form.Find("button[data-pick-map]")
	require.Equal(t, "map.0", button.AttrOr("value", ""))
	require.NotEmpty(t, button.AttrOr("data-failed", ""), "what the script says instead of leaving the form")

	res, doc := post(t, d, do(f, "map.0"))
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
	require.Equal(t, 12, doc.Find("svg.pick-map button").Length())
	require.Empty(t, doc.Find("script:not([src])").Nodes)
	carried := url.Values{}
	doc.Find("main form input[type=hidden]").Each(func(_ int, s *goquery.Selection) { carried.Add(s.AttrOr("name", ""), s.AttrOr("value", "")) })
	chosen := doc.Find(`svg.pick-map button[value="2.205"]`)
	require.NotEmpty(t, chosen.AttrOr("aria-label", ""))
	carried.Set(chosen.AttrOr("name", ""), chosen.AttrOr("value", ""))
	_, doc = post(t, d, carried)
	again := filled(doc)
	require.Equal(t, "205", again.Get("bag.0.township"))
	for _, name := range []string{"token", "bag.0.code", "bag.0.acres", "bag.0.find", "bag.0.day", "standing.0", "bag.1.county", "bag.1.acres"} {
		require.Equal(t, f.Get(name), again.Get(name), name)
	}

	// Back without choosing; a county has to be chosen first; blocks that are not.
	carried.Del("bag.0.pick")
	_, doc = post(t, d, carried)
	require.Equal(t, f.Get("bag.0.township"), filled(doc).Get("bag.0.township"))
	f.Set("bag.0.county", "")
	res, doc = post(t, d, do(f, "map.0"))
	require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
	require.Equal(t, 1, doc.Find(`[id="bag.0.county"][aria-invalid]`).Length())
	require.Equal(t, "40to80", filled(doc).Get("bag.0.acres"))
	for _, bad := range []string{"map.x", "map.9", "map.-1"} {
		res, _ = post(t, d, do(f, bad))
		require.Equal(t, http.StatusNotFound, res.StatusCode, bad)
	}
	require.Empty(t, names.taken, "nothing is stored")
}

func TestMapLabels(t *testing.T) {
	lines, size := label(place.Place{Name: "Elm Grove", Code: "T21N R8E"}, 100, 100, 200)
	require.Len(t, lines, 2)
	require.Equal(t, "34.0", size)
	lines, _ = label(place.Place{Name: "A name far too long for any square", Code: "T21N R8E"}, 100, 100, 200)
	require.Equal(t, "T21N", lines[0].Text)
	lines, _ = label(place.Place{Name: "Elm Grove"}, 100, 100, 30)
	require.Empty(t, lines, "too small to read")
	v := viewPickMap(place.Place{}, nil, "")
	require.Empty(t, v.Townships)
}

func TestOutlinesForTheBrowser(t *testing.T) {
	d, names := namedDeps()
	res, _ := get(t, d, "/places/outlines.json")
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, `"set-7"`, res.Header.Get("ETag"))
	require.Contains(t, res.Header.Get("Cache-Control"), "public")
	o, err := names.Outlines(context.Background())
	require.NoError(t, err)
	var got struct {
		Set, Zone int
		South     bool
		Townships [][]json.RawMessage
	}
	require.NoError(t, json.Unmarshal(outlinesJSON(o), &got))
	require.Equal(t, 15, got.Zone)
	require.False(t, got.South)
	require.Len(t, got.Townships, len(o.Townships))
	// The steps add up to the outline again.
	for i, sent := range got.Townships {
		var rings [][]int32
		require.Len(t, sent, 3)
		require.Equal(t, strconv.Itoa(int(o.Townships[i].ID)), string(sent[0]))
		require.NoError(t, json.Unmarshal(sent[2], &rings))
		for _, ring := range rings {
			for k := 2; k < len(ring); k++ {
				ring[k] += ring[k-2]
			}
		}
		require.Equal(t, o.Townships[i].Rings, rings)
	}
	r := httptest.NewRequest(http.MethodGet, "/places/outlines.json", nil)
	r.Header.Set("If-None-Match", `"set-7"`)
	res, _ = serve(t, d, r)
	require.Equal(t, http.StatusNotModified, res.StatusCode)
	d.Names = nil
	res, _ = get(t, d, "/places/outlines.json")
	require.Equal(t, http.StatusNotFound, res.StatusCode)
}

// Every fault of a legal description has a sentence of its own.
func TestEveryFaultHasItsSentence(t *testing.T) {
	lang := catalog.English()
	for _, f := range place.Faults {
		p := notFound(place.Query{Fault: f})
		require.NotContains(t, lang.Say(p.Key), "[", f)
		require.Equal(t, f == place.NotLegal, p.Key == "place.error.nosuchname", f)
	}
}
