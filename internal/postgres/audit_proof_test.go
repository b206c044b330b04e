package postgres_test

import (
	"fmt"
	"io"
	"log/slog"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/audit"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
	pages "sixmile/web/open"
	"sixmile/web/shell"
)

// findings is what the audit finds over the public connection.
func (o *office) findings() []string {
	o.t.Helper()
	a, err := postgres.NewArchive(o.public).Read(ctxOf(o.t))
	require.NoError(o.t, err)
	require.NotEmpty(o.t, a.Editions)
	return audit.Findings(audit.Run(a, nil))
}

// everythingPublic is every row of every table and view that the public role
// can read, every edition's text, and the pages of the map.
func (o *office) everythingPublic() string {
	o.t.Helper()
	ctx := ctxOf(o.t)
	var out strings.Builder
	rows, err := o.public.Query(ctx, `SELECT relname FROM pg_class WHERE relnamespace = 'open'::regnamespace AND relkind IN ('r', 'v') ORDER BY 1`)
	require.NoError(o.t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(o.t, err)
	require.Contains(o.t, tables, "tranche")
	for _, t := range tables {
		var dump string
		require.NoError(o.t, o.public.QueryRow(ctx, fmt.Sprintf(
			`SELECT coalesce(string_agg(t::text, E'\n' ORDER BY t::text), '') FROM open.%s t`, pgx.Identifier{t}.Sanitize())).Scan(&dump))
		fmt.Fprintf(&out, "%s\n%s\n", t, dump)
	}
	a, err := postgres.NewArchive(o.public).Read(ctx)
	require.NoError(o.t, err)
	for _, e := range a.Editions {
		out.Write(e.Text())
	}
	mux := chi.NewRouter()
	for _, r := range pages.MapRoutes(pages.MapDeps{Lang: catalog.English(), About: desk.About{Name: "Test", State: "Nowhere"},
		Editions: postgres.NewPublished(o.public), Log: slog.New(slog.DiscardHandler)}) {
		mux.MethodFunc(r.Method, r.Path, page(o.t, r))
	}
	for _, path := range []string{"/", "/county/" + o.counties[0].Slug, "/county/" + o.counties[1].Slug, "/county/" + o.counties[0].Slug + "/map.svg"} {
		w := httptest.NewRecorder()
		mux.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
		require.Equal(o.t, http.StatusOK, w.Code, path)
		_, err := io.Copy(&out, w.Body)
		require.NoError(o.t, err)
	}
	return out.String()
}

func page(t *testing.T, r shell.Route) http.HandlerFunc {
	return func(w http.ResponseWriter, req *http.Request) { require.NoError(t, r.Handler(w, req)) }
}

// waiting sends what will have to wait, drawn at random: one or two farms to a
// township, more where a bag stays uncounted, past bags of the county.
func (o *office) waiting(seed uint64) {
	o.t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	for _, p := range o.townships[o.counties[0].ID][2:] {
		switch rng.IntN(5) {
		case 0:
			for _, c := range o.bags(1 + rng.IntN(2)) {
				o.take(o.visit(sample.Standing(rng.IntN(3)), p.ID, 2020, c))
				o.counted(c, rng.IntN(80), date(2021, 2, 1))
			}
		case 1:
			codes := o.bags(4)
			for _, c := range codes {
				o.take(o.visit(sample.FirstEver, p.ID, 2020, c))
			}
			for _, c := range codes[1:] {
				o.counted(c, rng.IntN(80), date(2021, 2, 1))
			}
			require.NoError(o.t, postgres.NewBags(o.staff).LogIn(ctxOf(o.t), codes[0], date(2021, 2, 1)))
		case 2: // one farm alone, with many bags
			codes := o.bags(1 + rng.IntN(5))
			o.take(o.visit(sample.FirstEver, p.ID, 2020, codes...))
			for _, c := range codes {
				o.counted(c, rng.IntN(80), date(2021, 2, 1))
			}
		}
	}
	for range rng.IntN(4) {
		c := o.bags(1)[0]
		o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c))
		o.counted(c, rng.IntN(80), date(2021, 2, 1))
	}
}

// twoEditions releases before and after the waiting data came.
func twoEditions(t *testing.T, seed uint64) *office {
	o := newOffice(t)
	shown := o.townships[o.counties[0].ID]
	o.farms(3, shown[0].ID, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	if seed > 0 {
		o.waiting(seed)
	}
	o.farms(6, shown[1].ID, 2021, 30)
	o.release(date(2021, 12, 31), date(2022, 1, 15))
	return o
}

// Proof 1: alter all waiting data at will, and every public byte stays the
// same. The bags are of the fall before the edition's, whose fall figure was
// told earlier, so nothing has to be left aside.
func TestProofWaitingDataChangesNoPublicByte(t *testing.T) {
	none := twoEditions(t, 0)
	want := none.everythingPublic()
	require.Contains(t, want, "tranche 1 county")
	for seed := range uint64(3) {
		o := twoEditions(t, seed+1)
		require.Positive(t, o.count(`SELECT count(*) FROM priv.arrival WHERE tranche IS NULL`))
		require.Equal(t, want, o.everythingPublic(), "seed %d", seed+1)
		require.Empty(t, o.findings())
		if seed == 0 {
			// The proof sees a leak: a public view of how much came in.
			o.admin(`CREATE VIEW open.progress AS SELECT county, count(*) FROM priv.arrival GROUP BY 1`,
				`GRANT SELECT ON open.progress TO sixmile_test_public`)
			leaks := o.everythingPublic()
			none.admin(`CREATE VIEW open.progress AS SELECT county, count(*) FROM priv.arrival GROUP BY 1`,
				`GRANT SELECT ON open.progress TO sixmile_test_public`)
			require.NotEqual(t, none.everythingPublic(), leaks)
		}
	}
}

// admin runs statements as the administrator.
func (o *office) admin(statements ...string) {
	o.t.Helper()
	db := open(o.t, o.logins.Admin)
	for _, sql := range statements {
		_, err := db.Exec(ctxOf(o.t), sql)
		require.NoError(o.t, err, sql)
	}
}

// Proof 2: whatever was counted, the same tranches come out, of every kind.
func TestProofDensitiesDecideNothing(t *testing.T) {
	shape := func(seed uint64, mutate ...string) []edition.Tranche {
		o := newOffice(t)
		o.admin(mutate...)
		rng := rand.New(rand.NewPCG(seed, 2))
		for i, p := range o.townships[o.counties[0].ID] {
			o.farms(1+i%3, p.ID, 2020, rng.IntN(2)*rng.IntN(90))
		}
		o.farms(3, o.counties[1].ID, 2020, rng.IntN(2)*rng.IntN(90))
		o.release(date(2020, 12, 31), date(2021, 1, 15))
		o.release(date(2022, 12, 31), date(2023, 1, 15))
		o.release(date(2024, 12, 31), date(2025, 1, 15))
		require.Empty(t, o.findings())
		issue, err := postgres.NewPublished(o.public).Issue(ctxOf(t), 3)
		require.NoError(t, err)
		kinds := map[edition.Kind]bool{}
		for i := range issue.Tranches {
			kinds[issue.Tranches[i].Kind] = true
			issue.Tranches[i].Counts = nil
		}
		if len(mutate) == 0 {
			require.Len(t, kinds, 3)
		}
		return issue.Tranches
	}
	want := shape(1)
	require.Equal(t, want, shape(2))
	// The proof sees a release that looks: here bags without eggs do not arrive.
	require.NotEqual(t, want, shape(3, `ALTER VIEW priv.arrival RENAME TO every_arrival`,
		`CREATE VIEW priv.arrival AS SELECT * FROM priv.every_arrival WHERE eggs > 0 OR eggs IS NULL`,
		`GRANT SELECT ON priv.arrival TO sixmile_test_staff`))
}

// Proof 6: many releases over the years, with two editions in some, returning
// farms, county-only bags, bags uncounted or late. Taps are true, so every
// tranche must hold three true farms; and the audit, which ran inside every
// release, finds nothing afterward.
func TestProofManyReleases(t *testing.T) {
	farms := manyReleases(t, false)
	require.Greater(t, len(farms), 5)
	for tranche, n := range farms {
		require.GreaterOrEqual(t, n, 3, "tranche %d", tranche)
	}
	// The proof sees what a false tap does: every visit says "first ever".
	require.True(t, slices.ContainsFunc(slices.Collect(maps.Values(manyReleases(t, true))), func(n int) bool { return n < 3 }))
}

// manyReleases gives the number of true farms in each tranche.
func manyReleases(t *testing.T, lies bool) map[int]int {
	o := newOffice(t)
	rng := rand.New(rand.NewPCG(6, 6))
	farmOf := make(map[string]int) // by code
	ever, at := map[int]bool{}, map[int]place.Place{}
	for f := range 40 {
		of := o.townships[o.counties[f%2].ID]
		at[f] = of[rng.IntN(6)*rng.IntN(3)]
	}
	m := assay.DefaultMethod()
	for season := 2020; season <= 2024; season++ {
		var late []bag.Code
		for f := range 40 {
			if rng.IntN(5) > 1 {
				continue
			}
			tap, where := sample.FirstEver, at[f].ID
			if ever[f] && !lies {
				tap = sample.Earlier
			}
			if rng.IntN(8) == 0 {
				where = at[f].County
			}
			ever[f] = true
			codes := o.bags(1 + rng.IntN(2))
			o.take(o.visit(tap, where, season, codes...))
			for _, c := range codes {
				farmOf[string(c)] = f
				switch rng.IntN(12) {
				case 0:
					late = append(late, c) // comes after the first edition
				case 1:
					require.NoError(t, postgres.NewBags(o.staff).LogIn(ctxOf(t), c, date(season, 11, 1)))
				default:
					o.counted(c, rng.IntN(2)*rng.IntN(90), date(season, 11, 1))
				}
			}
		}
		o.release(date(season, 12, 31), date(season+1, 1, 15))
		for _, c := range late {
			require.NoError(t, postgres.NewLab(o.staff).Record(ctxOf(t), desk.Keyed{Code: c, Method: m, Count: m.Count(rng.IntN(40)), Day: date(season+1, 2, 1)}, account.ID{}))
			o.sign(date(season+1, 2, 1), c)
		}
		if season%2 == 0 {
			o.release(date(season+1, 3, 1), date(season+1, 4, 1))
		}
	}
	require.Empty(t, o.findings())
	return o.trueFarms(farmOf)
}

func (o *office) trueFarms(farmOf map[string]int) map[int]int {
	o.t.Helper()
	rows, err := o.staff.Query(ctxOf(o.t), `SELECT m.tranche, l.bag FROM priv.tranche_member m JOIN priv.bag_link l ON l.sample = m.sample`)
	require.NoError(o.t, err)
	var tranche int
	var code string
	seen := map[[2]int]bool{}
	out := map[int]int{}
	_, err = pgx.ForEachRow(rows, []any{&tranche, &code}, func() error {
		if k := [2]int{tranche, farmOf[code]}; !seen[k] {
			seen[k] = true
			out[tranche]++
		}
		return nil
	})
	require.NoError(o.t, err)
	return out
}
