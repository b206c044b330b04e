package office

import (
	"bytes"
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/past"
	"sixmile/internal/place"
	"sixmile/internal/tabular"
)

const coord = account.Coordinator

// pastPolicy is who may open the pages of earlier years.
var pastPolicy = map[string][]account.Role{
	"GET /office/history":              {coord},
	"POST /office/history":             {coord},
	"GET /office/history/template.csv": {coord},
	"GET /office/history/columns.csv":  {coord},
	"GET /office/history/{token}":      {coord},
	"POST /office/history/{token}":     {coord},
	"GET /office/analysis":             {coord},
}

// fakePast knows the townships of the invented program; every point east of
// zero lies in the first of them.
type fakePast struct {
	memory tabular.Memory
	taken  map[string]time.Time
	kept   []past.Kept
	asked  []past.Point
	err    error
}

func newFakePast() *fakePast { return &fakePast{taken: map[string]time.Time{}} }

func (f *fakePast) Setup(context.Context, time.Time) (past.Setup, error) {
	return past.Setup{Latest: 2025, Methods: assay.PresetMethods(), Scheme: assay.DefaultScheme()}, nil
}

func (f *fakePast) Gazetteer(context.Context) (*past.Gazetteer, error) {
	s := place.Survey{Township: place.Whole(21), Range: place.Whole(8), NorthSouth: place.North, EastWest: place.East}
	return past.NewGazetteer([]past.Named{
		{ID: 1, County: 1, Names: []string{"Plover", "01"}},
		{ID: 11, County: 1, Names: []string{"Goose Prairie", "T21N R8E"}, Survey: &s, Towns: []string{"Larch"}},
	}), nil
}

func (f *fakePast) Known(_ context.Context, srid int) (bool, error) { return srid == 4326, nil }

func (f *fakePast) Locate(_ context.Context, _ int, points []past.Point) ([]place.ID, error) {
	out := make([]place.ID, len(points))
	for i, p := range points {
		f.asked = append(f.asked, p)
		if p.X > 0 {
			out[i] = 11
		}
	}
	return out, nil
}

func (f *fakePast) Memory(context.Context) (tabular.Memory, error) { return f.memory, nil }

func (f *fakePast) Remember(_ context.Context, m tabular.Memory) error { f.memory = m; return nil }

func (f *fakePast) Taken(_ context.Context, digest string) (time.Time, error) {
	return f.taken[digest], nil
}

func (f *fakePast) Accept(_ context.Context, digest string, kept []past.Kept, _ account.ID, today time.Time) (int, error) {
	if f.err != nil {
		return 0, f.err
	}
	if _, there := f.taken[digest]; there {
		return 0, nil
	}
	f.taken[digest], f.kept = today, append(f.kept, kept...)
	return len(kept), nil
}

func (w *world) sentPast(t *testing.T, data string, pairs ...string) (string, answer) {
	t.Helper()
	got := w.uploadTo(t, "/office/history", coord, []byte(data), pairs...)
	require.Equal(t, http.StatusSeeOther, got.status, got.text("main"))
	path := got.header.Get("Location")
	return path, w.settled(t, coord, path)
}

func TestPastResultsAreReadShownAndLoaded(t *testing.T) {
	t.Setenv("TMPDIR", "/nowhere") // were anything to be put in a temporary file, it could not be
	w := newWorld(t)
	data := csvOf("Year;Place;Lon;Lat;Eggs per 100 cc;Grower", "2012;NW 12-21-8;;;2100;a", "2013;;4,25;50,5;0;b", "2014;Goose Prairie;;;12;")
	path, page := w.sentPast(t, data, "srid", "EPSG:4326")
	require.Contains(t, page.text("main"), "Text, UTF-8, separated by semicolons, 3 rows.")
	require.Contains(t, page.text(".facts"), "Rows 3 Rows that cannot be loaded 0 Falls 2012 to 2014 With a township 3 Of a farm that the file tells apart 2 rows of 2 farms")
	require.Equal(t, []past.Point{{X: 4.25, Y: 50.5}}, w.past.asked)
	require.Empty(t, w.past.kept, "nothing is stored before it is accepted")
	for range 2 { // pressed twice
		require.Equal(t, http.StatusSeeOther, w.post(t, coord, path, "do", "take").status)
	}
	done := w.settled(t, coord, path)
	require.Contains(t, done.text(".saved"), "3 results loaded.")
	require.Len(t, w.past.kept, 3)
	require.Equal(t, []int{1, 2, 0}, []int{w.past.kept[0].Farm, w.past.kept[1].Farm, w.past.kept[2].Farm})
	require.Equal(t, tabular.Column{Field: past.Group}, w.past.memory["grower"])

	_, again := w.sentPast(t, data, "srid", "4326")
	require.Contains(t, again.text(".note"), "A file that says the same was taken on December 1, 2026.")
	require.Zero(t, again.Find(`button[value=take]`).Length())
}

func TestPastResultsThatCannotBeLoaded(t *testing.T) {
	w := newWorld(t)
	path, page := w.sentPast(t, csvOf("Year,Place,Eggs,Grower", "2012,Nowhere,1,<script>x</script>", "2030,T21N R8E,1,", "x,Larch,-1,<b>"), "unit", "per_100_cm3")
	require.Contains(t, page.text(".facts"), "Rows that cannot be loaded 3")
	require.Contains(t, page.text(".scroll.tall"), "is not a township within these boundaries")
	require.Contains(t, page.text(".scroll.tall"), "is not over yet")
	require.Zero(t, page.Find(`button[value=take]`).Length())
	require.Zero(t, page.Find("main script, td b, td script").Length(), "what a file says is text")
	require.Equal(t, http.StatusConflict, w.post(t, coord, path, "do", "take").status)
	require.Empty(t, w.past.kept)
	// Another person's file is none of anybody's business.
	require.Equal(t, http.StatusForbidden, w.get(t, account.Educator, path).status)
	require.Equal(t, http.StatusSeeOther, w.post(t, coord, path, "do", "forget").status)
	require.Equal(t, http.StatusNotFound, w.get(t, coord, path).status)
}

func TestPastColumnsArePicked(t *testing.T) {
	w := newWorld(t)
	path, page := w.sentPast(t, csvOf("When,Where,How many", "2012,T21N R8E,15"), "unit", "per_250_cm3")
	require.Contains(t, page.text(".problems"), "One column must hold the fall or the date.")
	bad := w.post(t, coord, path, "do", "map", "column-0", "season", "column-1", "season", "column-2", "density")
	require.Equal(t, http.StatusUnprocessableEntity, bad.status)
	require.Equal(t, 1, bad.Find("#column-1[aria-invalid]").Length())
	require.Equal(t, http.StatusSeeOther, w.post(t, coord, path, "do", "map", "column-0", "season", "column-1", "place", "column-2", "density").status)
	page = w.settled(t, coord, path)
	require.Equal(t, 1, page.Find(`button[value=take]`).Length(), page.text("main"))
	w.past.err = fault.ErrConflict
	w.post(t, coord, path, "do", "take")
	require.Contains(t, w.settled(t, coord, path).text("[role=alert]"), "Nothing was stored")
}

func TestPastFormRefusals(t *testing.T) {
	w := newWorld(t)
	for typed, says := range map[string]string{"<script>": "Write the system’s number", "4267": "No coordinate system has that number"} {
		got := w.uploadTo(t, "/office/history", coord, []byte(csvOf("Year,Place,Eggs", "2012,T21N R8E,15")), "srid", typed)
		require.Equal(t, http.StatusUnprocessableEntity, got.status)
		require.Contains(t, got.text("#srid-wrong"), says)
		require.Equal(t, typed, got.attr("#srid", "value"), "what was typed is kept")
		require.Zero(t, got.Find("main script").Length())
	}
	require.Equal(t, http.StatusUnprocessableEntity, w.uploadTo(t, "/office/history", coord, nil).status)
	require.Equal(t, http.StatusUnprocessableEntity, w.uploadTo(t, "/office/history", coord, bytes.Repeat([]byte("a,b\n"), maxUpload/4+10)).status)
}

// Every field and problem has its sentence, and the template is read as it was meant.
func TestPastWords(t *testing.T) {
	w := newWorld(t)
	l := w.office.Lang
	for _, f := range past.Fields() {
		require.True(t, l.Has("past.field."+string(f)), f)
		require.True(t, l.Has("past.about."+string(f)), f)
	}
	for _, p := range []tabular.Problem{assay.Missing, assay.NotNumber, assay.NotFinite, assay.Negative, assay.TooLarge, assay.TooSmall, assay.Unknown,
		tabular.Formula, tabular.Ambiguous, tabular.NotDate, tabular.NotYesNo, past.NotSeason, past.SeasonDisagree, past.SeasonOpen, past.NoPlace, past.ManyPlaces,
		past.TownOnly, past.BadLegal, past.Outside, past.OtherCounty, past.NoCounty, past.NoSystem, past.NoLevel} {
		require.True(t, l.Has("past.problem."+string(p)), p)
	}
	text := w.get(t, coord, "/office/history/template.csv").body
	_, page := w.sentPast(t, text+"2012,Plover,T21N R8E,,,40,per 100 cm3,,no,,a\r\n")
	require.Equal(t, 1, page.Find(`button[value=take]`).Length(), page.text("main"))
	require.Equal(t, len(past.Fields())+1, strings.Count(w.get(t, coord, "/office/history/columns.csv").body, "\r\n"))
}
