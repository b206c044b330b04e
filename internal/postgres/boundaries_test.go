package postgres_test

import (
	"context"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"

	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/pgtest"
)

// ground is a database with a program and no boundaries yet.
func ground(t testing.TB) (*postgres.Boundaries, *pgxpool.Pool) {
	t.Helper()
	logins := pgtest.Database(t)
	pool, err := postgres.Open(context.Background(), logins.Staff)
	require.NoError(t, err)
	t.Cleanup(pool.Close)
	require.NoError(t, postgres.NewProgram(pool).Found(context.Background(), desk.About{Name: "Test", State: "Nowhere"}))
	return postgres.NewBoundaries(pool), pool
}

// area is a feature with a code and, for townships, a county.
func area(code, county string, flat ...float64) geofile.Feature {
	f := geofile.Feature{Properties: map[string]string{"code": code, "name": "Place " + code},
		Geometry: geom.NewMultiPolygonFlat(geom.XY, flat, [][]int{{len(flat)}})}
	if county != "" {
		f.Properties["county"] = county
	}
	return f
}

// rect is a rectangle in degrees.
func rect(code, county string, x0, y0, x1, y1 float64) geofile.Feature {
	return area(code, county, x0, y0, x1, y0, x1, y1, x0, y1, x0, y0)
}

// setOf makes a set of two layers in longitude and latitude.
func setOf(t testing.TB, counties, townships []geofile.Feature) geofile.Set {
	t.Helper()
	return setIn(t, geofile.Layer{SRID: 4326, Features: counties}, geofile.Layer{SRID: 4326, Features: townships})
}

func setIn(t testing.TB, counties, townships geofile.Layer) geofile.Set {
	t.Helper()
	fields := geofile.Fields{Code: "code", Name: "name"}
	if len(townships.Features) > 0 && townships.Features[0].Properties["county"] != "" {
		fields.County = "county"
	}
	set, err := geofile.NewSet(counties, townships, geofile.Fields{Code: "code", Name: "name"}, fields)
	require.NoError(t, err)
	return set
}

// Two counties side by side, each a tenth of a degree square, and four
// townships as the crow flies over them.
func twoCounties() []geofile.Feature {
	return []geofile.Feature{rect("1", "", -93, 42, -92.9, 42.1), rect("2", "", -92.9, 42, -92.8, 42.1)}
}

func fourTownships() []geofile.Feature {
	return []geofile.Feature{
		rect("A", "", -93, 42, -92.95, 42.1), rect("B", "", -92.95, 42, -92.85, 42.1), rect("C", "", -92.85, 42, -92.8, 42.1),
	}
}

func stage(t testing.TB, s *postgres.Boundaries, in geofile.Set) (geofile.Ticket, geofile.Inspection) {
	t.Helper()
	ticket, found, err := s.Stage(context.Background(), in, date(2026, 11, 25))
	require.NoError(t, err)
	return ticket, found
}

func kinds(i geofile.Inspection) []string {
	out := []string{}
	for _, f := range i.Findings {
		out = append(out, string(f.Kind))
	}
	return out
}

func TestTownshipCutByACountyLine(t *testing.T) {
	store, pool := ground(t)
	ctx := ctxOf(t)
	ticket, found := stage(t, store, setOf(t, twoCounties(), fourTownships()))
	require.Equal(t, []string{"cut by line"}, kinds(found), "B, and nothing else")
	require.Equal(t, 4, found.Places)
	require.Equal(t, "A county line cuts one township: each part is a place of its own: "+
		"Place B (Place 1, Place 2, 35.5 square miles, near 42.0500, -92.9250).", found.Findings[0].String())
	var staged int
	require.NoError(t, pool.QueryRow(ctx, `SELECT count(*) FROM open.place`).Scan(&staged))
	require.Zero(t, staged, "nothing changes before it is accepted")

	again, err := store.Staged(ctx, ticket)
	require.NoError(t, err)
	require.Equal(t, found, again)
	places, err := store.StagedMap(ctx, ticket)
	require.NoError(t, err)
	require.Len(t, places, 6)
	require.Equal(t, "county", places[0].Kind)
	require.Equal(t, "1", places[2].County)

	accepted, err := store.AcceptStaged(ctx, ticket, date(2026, 11, 25))
	require.NoError(t, err)
	require.Equal(t, postgres.Accepted{Set: 1, Counties: 2, Townships: 4, Districts: 2, New: true}, accepted)
	rows, err := pool.Query(ctx, `
		SELECT p.code || ' in ' || c.code FROM open.place p JOIN open.place c ON c.id = p.county
		 WHERE p.kind = 'township' ORDER BY p.code, c.code`)
	require.NoError(t, err)
	var names []string
	for rows.Next() {
		var n string
		require.NoError(t, rows.Scan(&n))
		names = append(names, n)
	}
	require.Equal(t, []string{"A in 1", "B in 1", "B in 2", "C in 2"}, names)
	_, err = store.Staged(ctx, ticket)
	require.ErrorIs(t, err, fault.ErrNotFound)

	_, found = stage(t, store, setOf(t, twoCounties(), fourTownships()))
	require.Equal(t, 1, found.Known, "the same files again")
}

func TestDiscard(t *testing.T) {
	store, _ := ground(t)
	ticket, _ := stage(t, store, setOf(t, twoCounties(), fourTownships()))
	require.NoError(t, store.Discard(ctxOf(t), ticket))
	_, err := store.AcceptStaged(ctxOf(t), ticket, date(2026, 11, 25))
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.NoError(t, store.Discard(ctxOf(t), ticket))
}

// What the looking-over finds, one thing a case.
func TestFindings(t *testing.T) {
	bow := []float64{-93, 42, -92.95, 42.1, -92.95, 42, -93, 42.05, -93, 42}
	for name, tc := range map[string]struct {
		counties, townships []geofile.Feature
		want                []string
		says                string
		stopped             bool
	}{
		"nothing": {twoCounties(), []geofile.Feature{rect("A", "", -93, 42, -92.9, 42.1), rect("C", "", -92.9, 42, -92.8, 42.1)}, []string{}, "", false},
		"crossing rings": {twoCounties(), []geofile.Feature{area("A", "", bow...), rect("C", "", -92.9, 42, -92.8, 42.1)},
			[]string{"repaired", "gap"}, "One outline crosses itself and was mended: township Place A (it crosses itself, 1 ring became 2 rings, ", false},
		"a small part goes with the large one": {twoCounties(), []geofile.Feature{rect("A", "", -93, 42, -92.899, 42.1), rect("C", "", -92.899, 42, -92.8, 42.1)},
			[]string{"small part"}, "One part that a county line cuts off is under a square kilometer and stays with the rest: Place A and Place 2 (", false},
		"overlap": {twoCounties(), []geofile.Feature{rect("A", "1", -93, 42, -92.93, 42.1), rect("B", "1", -92.95, 42, -92.9, 42.1), rect("C", "2", -92.9, 42, -92.8, 42.1)},
			[]string{"overlap"}, "Two townships lie over each other: Place A and Place B (7.1 square miles, near 42.0500, -92.9400).", false},
		"gap": {twoCounties(), []geofile.Feature{rect("A", "1", -93, 42, -92.93, 42.1), rect("C", "2", -92.9, 42, -92.8, 42.1)},
			[]string{"gap"}, "One part of a county is in no township: Place 1 (10.7 square miles, near 42.0500, -92.9150).", false},
		"sliver": {twoCounties(), []geofile.Feature{rect("A", "1", -93, 42, -92.9, 42.0995), rect("C", "2", -92.9, 42, -92.8, 42.1)},
			[]string{"sliver"}, "One narrow gap or overlap; two files drawn apart have those: Place 1 (114 acres, near 42.0998, -92.9500).", false},
		"one township twice": {twoCounties(), []geofile.Feature{rect("A", "1", -93, 42, -92.9, 42.1), rect("B", "1", -93, 42, -92.9, 42.1), rect("C", "2", -92.9, 42, -92.8, 42.1)},
			[]string{"twice"}, "One township is there twice: Place A and Place B (35.5 square miles, near 42.0500, -92.9500).", true},
		"counties over each other": {[]geofile.Feature{rect("1", "", -93, 42, -92.89, 42.1), rect("2", "", -92.9, 42, -92.8, 42.1)}, []geofile.Feature{rect("A", "1", -93, 42, -92.9, 42.1), rect("C", "2", -92.9, 42, -92.8, 42.1)},
			[]string{"county overlap"}, "", false},
		"a county without townships": {twoCounties(), []geofile.Feature{rect("A", "", -93, 42, -92.9, 42.1)},
			[]string{"empty"}, "One county has no township: Place 2 (", false},
		"outside every county": {twoCounties(), append(fourTownships(), rect("Z", "", -92.8, 42, -92.7, 42.1)),
			[]string{"cut by line", "outside all"}, "One township is in no county and is left out: Place Z (35.5 square miles, near 42.0500, -92.7500).", false},
		"over the state's line": {twoCounties(), []geofile.Feature{rect("A", "", -93.05, 42, -92.9, 42.1), rect("C", "", -92.9, 42, -92.8, 42.1)},
			[]string{"cut off"}, "One township reaches beyond every county and is cut there: Place A (", false},
		"not in the county it names": {twoCounties(), []geofile.Feature{rect("A", "2", -93, 42, -92.9, 42.1), rect("C", "2", -92.9, 42, -92.8, 42.1)},
			[]string{"wrong county", "empty"}, "One township is not in the county that the file names: Place A and Place 2 (", true},
		"out of the county it names": {twoCounties(), []geofile.Feature{rect("A", "1", -93, 42, -92.88, 42.1), rect("C", "2", -92.88, 42, -92.8, 42.1)},
			[]string{"over line"}, "One township reaches out of the county that the file names: Place A and Place 1 (", false},
		"elsewhere": {twoCounties(), []geofile.Feature{rect("A", "", 93, 42, 93.1, 42.1)},
			[]string{"outside all", "elsewhere"}, "The townships are not where the counties are; is one of the files in another coordinate system?: " +
				"counties (42.00 to 42.10 north, -93.00 to -92.80 east); townships (42.00 to 42.10 north, 93.00 to 93.10 east).", true},
	} {
		t.Run(name, func(t *testing.T) {
			store, _ := ground(t)
			ticket, found := stage(t, store, setOf(t, tc.counties, tc.townships))
			require.ElementsMatch(t, tc.want, kinds(found))
			var said []string
			for _, f := range found.Findings {
				said = append(said, f.String())
			}
			require.Contains(t, strings.Join(said, "\n"), tc.says)
			require.Equal(t, tc.stopped, found.Stopped())
			_, err := store.AcceptStaged(ctxOf(t), ticket, date(2026, 11, 25))
			if tc.stopped {
				var refused *geofile.Refused
				require.ErrorAs(t, err, &refused)
				return
			}
			require.NoError(t, err)
		})
	}
}

func TestSystemsPostGISDoesNotKnow(t *testing.T) {
	store, _ := ground(t)
	for name, crs := range map[string]geofile.CRS{
		"no such code": {EPSG: 999_998}, "half a definition": {WKT: `GEOGCS["GCS_North_American_1983",DATUM["D_North`},
		"where it does not reach": {EPSG: 26915},
	} {
		counties := geofile.Layer{SRID: crs.EPSG, WKT: crs.WKT, Features: twoCounties()}
		if crs.EPSG == 26915 {
			counties.Features = []geofile.Feature{area("1", "", 9e8, 9e8, 9.1e8, 9e8, 9.1e8, 9.1e8, 9e8, 9e8)}
		}
		set := setIn(t, counties, geofile.Layer{SRID: 4326, Features: fourTownships()})
		_, _, err := store.Stage(ctxOf(t), set, date(2026, 11, 25))
		require.ErrorIs(t, err, geofile.ErrCRS, name)
	}
}

// Next year's boundaries: a code kept, a code changed, a township gone, one new;
// old editions keep what they were drawn with.
func TestPlacesAreFoundAgain(t *testing.T) {
	store, pool := ground(t)
	ctx := ctxOf(t)
	grid := func(codes ...string) []geofile.Feature {
		var out []geofile.Feature
		for i, c := range codes {
			if c != "" {
				x := -93 + float64(i)*0.05
				out = append(out, rect(c, "1", x, 42, x+0.05, 42.05))
			}
		}
		return out
	}
	county := []geofile.Feature{rect("1", "", -93, 42, -92.75, 42.05)}
	first, err := store.Accept(ctx, setOf(t, county, grid("A", "B", "C", "D", "")), date(2025, 8, 1))
	require.NoError(t, err)
	id := func(set int, code string) (id int) {
		require.NoError(t, pool.QueryRow(ctx, `SELECT s.place FROM open.place_shape s JOIN open.place p ON p.id = s.place AND p.kind = 'township'
			WHERE s.set = $1 AND s.code = $2`, set, code).Scan(&id))
		return id
	}
	next := setOf(t, county, grid("A", "B-2", "", "D", "E"))
	ticket, found := stage(t, store, next)
	require.Equal(t, 4, found.Kept, "the county, A, D, and B under its new code")
	require.Equal(t, 1, found.New)
	require.ElementsMatch(t, []string{"gap", "renamed", "lost"}, kinds(found))
	require.Equal(t, "One place has another code than before and was known again by its ground: Place B B and Place B-2 B-2.", found.Find(geofile.Renamed).String())
	require.Contains(t, found.Find(geofile.Lost).String(), "township Place C (")

	// Somebody else is faster: what was laid out no longer fits.
	other, err := store.Accept(ctx, setOf(t, county, grid("A", "B", "C", "D", "F")), date(2026, 8, 1))
	require.NoError(t, err)
	_, err = store.AcceptStaged(ctx, ticket, date(2026, 8, 2))
	require.ErrorIs(t, err, fault.ErrConflict)
	second, err := store.Accept(ctx, setOf(t, county, grid("A", "B-3", "", "D", "E")), date(2026, 8, 2))
	require.NoError(t, err)
	require.Equal(t, []int{1, 2, 3}, []int{first.Set, other.Set, second.Set})
	require.Equal(t, id(1, "A"), id(3, "A"))
	require.Equal(t, id(1, "B"), id(3, "B-3"))
	require.Equal(t, id(2, "F"), id(3, "E"), "the same ground")
	var old, now string
	require.NoError(t, pool.QueryRow(ctx, `SELECT s.code, p.code FROM open.place_shape s JOIN open.place p ON p.id = s.place
		WHERE s.set = 1 AND s.place = $1`, id(1, "B")).Scan(&old, &now))
	require.Equal(t, []string{"B", "B-3"}, []string{old, now}, "the first set's maps say what they always said")
	var districts int
	require.NoError(t, pool.QueryRow(ctx, `SELECT count(*) FROM open.place_shape s JOIN open.place p ON p.id = s.place
		WHERE p.kind = 'district' AND p.code LIKE s.set || '-%'`).Scan(&districts))
	require.Equal(t, first.Districts+other.Districts+second.Districts, districts)
}

// A code that now stands for other ground is kept and told.
func TestACodeThatMoved(t *testing.T) {
	store, _ := ground(t)
	county := []geofile.Feature{rect("1", "", -93, 42, -92.9, 42.05)}
	pair := func(a, b string) []geofile.Feature {
		return []geofile.Feature{rect(a, "1", -93, 42, -92.95, 42.05), rect(b, "1", -92.95, 42, -92.9, 42.05)}
	}
	_, err := store.Accept(ctxOf(t), setOf(t, county, pair("A", "B")), date(2025, 8, 1))
	require.NoError(t, err)
	_, found := stage(t, store, setOf(t, county, pair("B", "A")))
	require.Equal(t, 2, found.Find(geofile.Moved).Total)
}

func TestPlacesWithResultsCannotGo(t *testing.T) {
	o := newOffice(t)
	o.farms(1, o.townships[o.counties[0].ID][0].ID, 2020, 500)
	store := postgres.NewBoundaries(o.staff)
	set := gridSet(t, 4)
	set.Townships = set.Townships[1:]
	set.Digest[0]++
	ticket, found := stage(t, store, set)
	require.Equal(t, 1, found.Find(geofile.LostWaiting).Total)
	_, err := store.AcceptStaged(ctxOf(t), ticket, date(2026, 8, 1))
	var refused *geofile.Refused
	require.ErrorAs(t, err, &refused)
}

func TestCountiesOfOneName(t *testing.T) {
	store, pool := ground(t)
	counties := twoCounties()
	for i := range counties {
		counties[i].Properties["name"] = "Union"
	}
	_, err := store.Accept(ctxOf(t), setOf(t, counties, fourTownships()), date(2026, 8, 1))
	require.NoError(t, err)
	var slugs string
	require.NoError(t, pool.QueryRow(ctxOf(t), `SELECT string_agg(slug, ' ' ORDER BY code) FROM open.place WHERE kind = 'county'`).Scan(&slugs))
	require.Equal(t, "union union-2", slugs)
}

func TestStagesAreSweptAway(t *testing.T) {
	store, _ := ground(t)
	ticket, _ := stage(t, store, setOf(t, twoCounties(), fourTownships()))
	_, _, err := store.Stage(ctxOf(t), setOf(t, twoCounties(), fourTownships()[:2]), date(2026, 12, 3))
	require.NoError(t, err)
	_, err = store.Staged(ctxOf(t), ticket)
	require.ErrorIs(t, err, fault.ErrNotFound)
}

func TestProgressIsTold(t *testing.T) {
	store, _ := ground(t)
	last, told := -1.0, 0
	store = store.Telling(func(doing string, share float64) {
		require.NotEmpty(t, doing)
		require.GreaterOrEqual(t, share, last, doing)
		require.LessOrEqual(t, share, 1.0)
		last, told = share, told+1
	})
	ticket, _ := stage(t, store, setOf(t, twoCounties(), fourTownships()))
	require.Equal(t, 1.0, last)
	last = 0
	_, err := store.AcceptStaged(ctxOf(t), ticket, date(2026, 11, 25))
	require.NoError(t, err)
	require.Equal(t, 1.0, last)
	require.Greater(t, told, 12)
}
