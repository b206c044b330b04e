package postgres_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"

	"sixmile/internal/account"
	"sixmile/internal/annual"
	"sixmile/internal/annual/tally"
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/money"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
)

// Bags of a season and of two fiscal years, worked out by hand: three farms that
// are on the map, one that waits, one bag counted and not signed, one that is
// issued and nothing more, one void.
func TestAnnualFigures(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	county := o.counties[0].ID
	where := o.townships[county]
	o.farms(3, where[0].ID, 2023, 10)
	o.release(date(2023, 12, 31), date(2024, 1, 15))
	o.farms(1, where[1].ID, 2023, 0)
	more := o.bags(3)
	o.take(o.visit(2, where[2].ID, 2023, more[0]))
	require.NoError(t, postgres.NewBags(o.staff).LogIn(ctx, more[0], date(2023, 11, 20)))
	m := assay.DefaultMethod()
	require.NoError(t, postgres.NewLab(o.staff).Record(ctx, desk.Keyed{Code: more[0], Method: m, Count: m.Count(0), Day: date(2023, 11, 20)}, account.ID{}))
	_, err := o.staff.Exec(ctx, `UPDATE priv.bag SET state = 'void' WHERE code = $1`, string(more[1]))
	require.NoError(t, err)

	store := postgres.NewAnnual(o.staff)
	season, err := store.Season(ctx, 2023)
	require.NoError(t, err)
	require.Equal(t, annual.Period{Year: 2023, From: date(2023, 8, 1), To: date(2024, 7, 31)}, season)
	_, err = store.Season(ctx, 1999)
	require.ErrorIs(t, err, fault.ErrNotFound)

	total := func(f tally.Figures) (b tally.Bags) {
		for _, x := range f.Bags {
			b.Issued, b.Returned, b.Counted, b.Void = b.Issued+x.Issued, b.Returned+x.Returned, b.Counted+x.Counted, b.Void+x.Void
			b.Signed, b.OnMap, b.InWait = b.Signed+x.Signed, b.OnMap+x.OnMap, b.InWait+x.InWait
		}
		return b
	}
	f, err := store.Figures(ctx, season, date(2024, 2, 1), assay.DefaultScheme())
	require.NoError(t, err)
	require.Zero(t, total(f).Issued, "the lots are of the season of 2020")
	lots, err := store.Season(ctx, 2020)
	require.NoError(t, err)
	of2020, err := store.Figures(ctx, lots, date(2024, 2, 1), assay.DefaultScheme())
	require.NoError(t, err)
	require.Equal(t, tally.Bags{Issued: 7, Returned: 5, Counted: 5, Signed: 4, OnMap: 3, InWait: 1, Void: 1}, total(of2020))
	require.Len(t, f.Falls, 1)
	fall := f.Falls[0]
	require.Equal(t, []int{5, 5, 4, 3}, []int{fall.Samples, fall.Counted, fall.Signed, fall.OnMap})
	require.Equal(t, map[int]int{0: 1, 2: 3}, fall.Readings, "ten eggs in 2 of 100 mL are 500: low; only what is signed")
	require.Equal(t, []tally.Waits{{Place: where[1].ID, County: county, Season: 2023, Samples: 1}}, f.Waits)
	require.Equal(t, []tally.Work{{Method: assay.Method{Name: assay.MethodSoil100, Version: 1}, Season: 2023, Results: 5, Signed: 4}}, f.Work)

	this, err := store.Figures(ctx, annual.FiscalYear(money.DefaultCalendar, 2024), date(2024, 2, 1), assay.DefaultScheme())
	require.NoError(t, err)
	require.Equal(t, 5, total(this).Counted, "each by the day of its first result")
	require.Equal(t, f.Falls, this.Falls)
	next, err := store.Figures(ctx, annual.FiscalYear(money.DefaultCalendar, 2025), date(2024, 8, 1), assay.DefaultScheme())
	require.NoError(t, err)
	require.Zero(t, total(next).Counted)
	early, err := store.Figures(ctx, annual.FiscalYear(money.DefaultCalendar, 2024), date(2023, 7, 2), assay.DefaultScheme())
	require.NoError(t, err)
	require.Zero(t, total(early).Counted, "nothing had been counted by then")
}

// A season that is unlinked keeps its numbers of bags, by season and by fiscal year,
// and the summary counts as many of a fiscal year as the account of money does. What
// is signed waits, whether it came before the last edition's cut-off or after.
func TestAnnualFiguresAfterUnlinking(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	where := o.townships[o.counties[0].ID]
	o.farms(3, where[0].ID, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.farms(1, where[1].ID, 2020, 10)
	_, err := o.staff.Exec(ctx, `UPDATE priv.bag SET received = '2021-02-01' WHERE state = 'signed'`)
	require.NoError(t, err)
	store, account := postgres.NewAnnual(o.staff), postgres.NewMoney(o.staff)
	season, err := store.Season(ctx, 2020)
	require.NoError(t, err)
	figures := func(p annual.Period) []int {
		f, err := store.Figures(ctx, p, date(2024, 2, 1), assay.DefaultScheme())
		require.NoError(t, err)
		var n [5]int
		for _, b := range f.Bags {
			for i, v := range []int{b.Issued, b.Returned, b.Counted, b.OnMap, b.InWait} {
				n[i] += v
			}
		}
		return n[:]
	}
	fiscal := annual.FiscalYear(money.DefaultCalendar, 2021)
	require.Equal(t, []int{4, 4, 4, 3, 1}, figures(season))
	require.Equal(t, []int{4, 4, 4, 3, 1}, figures(fiscal))
	done, _, err := postgres.Unlink(ctx, o.logins.Admin, date(2023, 8, 1), false)
	require.NoError(t, err)
	require.Equal(t, 3, done.Samples)
	require.Equal(t, []int{4, 4, 4, 3, 1}, figures(season))
	require.Equal(t, []int{4, 4, 4, 3, 1}, figures(fiscal))
	year, err := account.Year(ctx, 2021, date(2024, 2, 1))
	require.NoError(t, err)
	require.Equal(t, []int{4, 4}, []int{year.Spent.Arrived, year.Spent.Countings})
	lots, err := postgres.NewBags(o.staff).Lots(ctx, 2020)
	require.NoError(t, err)
	forms, soil := 0, 0
	for _, l := range lots {
		forms, soil = forms+l.FormsIn, soil+l.SoilIn
	}
	require.Equal(t, []int{4, 4}, []int{forms, soil})
}

// The public connection reads the outlines, in the order of the tables, and none
// of the office's figures.
func TestLand(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	where := o.townships[o.counties[0].ID]
	o.farms(3, where[0].ID, 2023, 10)
	o.release(date(2023, 12, 31), date(2024, 1, 15))
	land := postgres.NewLand(o.public)
	sum := map[place.Kind]float64{}
	for _, kind := range []place.Kind{place.County, place.Township} {
		n := 0
		require.NoError(t, land.Outlines(ctx, 1, kind, func(_ place.ID, outline *geom.MultiPolygon, area float64) error {
			n++
			require.Positive(t, area)
			require.Positive(t, outline.Polygon(0).LinearRing(0).Area(), "counter-clockwise")
			sum[kind] += area
			return nil
		}))
		require.Positive(t, n)
	}
	require.InEpsilon(t, sum[place.County], sum[place.Township], 1e-6, "townships cover their counties")
	_, err := postgres.NewAnnual(o.public).Figures(ctx, annual.Period{Year: 2023}, date(2024, 1, 1), assay.DefaultScheme())
	require.ErrorContains(t, err, "permission denied")
}
