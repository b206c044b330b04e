package postgres_test

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/geofile"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/pgtest"
	"sixmile/internal/sample"
)

func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }

// office is a small program: two counties of four by four townships each, one
// season a year from 2020, a lot of bags.
type office struct {
	t             *testing.T
	logins        postgres.Logins
	staff, public *pgxpool.Pool
	counties      []place.Place
	townships     map[place.ID][]place.Place
	visits        int
}

func date(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

func ctxOf(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// newOffice sets the small program up in a database of its own.
func newOffice(t *testing.T) *office {
	t.Helper()
	return officeOn(t, pgtest.Database(t))
}

func officeOn(t *testing.T, logins postgres.Logins) *office {
	t.Helper()
	ctx := ctxOf(t)
	o := &office{t: t, logins: logins, townships: map[place.ID][]place.Place{}}
	o.staff, o.public = open(t, o.logins.Staff), open(t, o.logins.Public)
	program := postgres.NewProgram(o.staff)
	require.NoError(t, program.Found(ctx, desk.About{Name: "Test", State: "Nowhere"}))
	_, err := postgres.NewBoundaries(o.staff).Accept(ctx, gridSet(t, 4), date(2020, 8, 1))
	require.NoError(t, err)
	for y := 2020; y <= 2024; y++ {
		require.NoError(t, program.AddSeason(ctx, sample.Season{Year: y, Opens: date(y, 8, 1), Closes: date(y+1, 7, 31)}))
	}
	places, err := program.Places(ctx)
	require.NoError(t, err)
	for _, p := range places {
		if p.Kind == place.County {
			o.counties = append(o.counties, p)
		} else {
			o.townships[p.County] = append(o.townships[p.County], p)
		}
	}
	require.Len(t, o.counties, 2)
	return o
}

func open(t *testing.T, dsn string) *pgxpool.Pool {
	t.Helper()
	p, err := postgres.Open(ctxOf(t), dsn)
	require.NoError(t, err)
	t.Cleanup(p.Close)
	return p
}

// gridSet is two counties side by side, each n by n squares of a twentieth of a degree.
func gridSet(t *testing.T, n int) geofile.Set {
	t.Helper()
	const step = 0.06
	square := func(x0, y0, x1, y1 float64) string {
		return fmt.Sprintf(`{"type":"Polygon","coordinates":[[[%[1]g,%[2]g],[%[3]g,%[2]g],[%[3]g,%[4]g],[%[1]g,%[4]g],[%[1]g,%[2]g]]]}`,
			x0, y0, x1, y1)
	}
	feature := func(geometry, properties string) string {
		return `{"type":"Feature","properties":{` + properties + `},"geometry":` + geometry + `}`
	}
	var counties, townships []string
	for c := range 2 {
		left := -40 + float64(c*n)*step
		counties = append(counties, feature(square(left, 40, left+float64(n)*step, 40+float64(n)*step),
			fmt.Sprintf(`"code":"%03d","name":"County %c"`, c+1, 'A'+c)))
		for i := range n * n {
			x, y := left+float64(i%n)*step, 40+float64(i/n)*step
			townships = append(townships, feature(square(x, y, x+step, y+step),
				fmt.Sprintf(`"code":"T%dN R%dE","name":"Town %d","county":"%03d"`, i/n+1, c*n+i%n+1, i+1, c+1)))
		}
	}
	collection := func(f []string) geofile.Layer {
		l, err := geofile.ReadGeoJSON(strings.NewReader(`{"type":"FeatureCollection","features":[`+strings.Join(f, ",")+`]}`),
			geofile.DefaultLimits())
		require.NoError(t, err)
		return l
	}
	set, err := geofile.NewSet(collection(counties), collection(townships), geofile.Fields{Code: "code", Name: "name"},
		geofile.Fields{Code: "code", Name: "name", County: "county"})
	require.NoError(t, err)
	return set
}

// bags gives n fresh codes of single bundles.
func (o *office) bags(n int) []bag.Code {
	o.t.Helper()
	ctx := ctxOf(o.t)
	sizes := make([]int, n)
	for i := range sizes {
		sizes[i] = 1
	}
	store := postgres.NewBags(o.staff)
	lot, err := store.Issue(ctx, o.counties[0].ID, 2020, sizes, date(2020, 8, 1))
	require.NoError(o.t, err)
	bundles, _, err := store.Bundles(ctx, lot)
	require.NoError(o.t, err)
	out := make([]bag.Code, 0, n)
	for _, b := range bundles {
		require.Len(o.t, b, 1)
		out = append(out, b[0])
	}
	return out
}

// visit makes a visit of one sender with the given bags from one place.
func (o *office) visit(standing sample.Standing, where place.ID, season int, codes ...bag.Code) sample.Visit {
	o.visits++
	v := sample.Visit{Senders: []sample.Sender{{Standing: standing}}}
	v.Token[0], v.Token[1], v.Token[15] = byte(o.visits), byte(o.visits>>8), 7
	for _, c := range codes {
		v.Senders[0].Bags = append(v.Senders[0].Bags, sample.Bag{
			Code: c, Place: where, Season: season, Day: date(season, 10, 10),
			Answers: sample.Answers{Crop: "soybean"},
		})
	}
	return v
}

func (o *office) take(v sample.Visit) {
	o.t.Helper()
	require.NoError(o.t, postgres.NewIntake(o.public).Take(ctxOf(o.t), v, v.Senders[0].Bags[0].Day))
}

// counted logs a bag in, counts it and has the count signed.
func (o *office) counted(c bag.Code, eggs int, day time.Time) {
	o.t.Helper()
	m := assay.DefaultMethod()
	require.NoError(o.t, postgres.NewBags(o.staff).LogIn(ctxOf(o.t), c, day))
	require.NoError(o.t, postgres.NewLab(o.staff).Record(ctxOf(o.t), desk.Keyed{Code: c, Method: m, Count: m.Count(eggs), Day: day}, account.ID{}))
	o.sign(day, c)
}

// sign has what stands on the bags signed as one batch.
func (o *office) sign(day time.Time, codes ...bag.Code) {
	o.t.Helper()
	var results []desk.ID
	for _, c := range codes {
		b, err := postgres.NewLab(o.staff).Find(ctxOf(o.t), c)
		require.NoError(o.t, err)
		results = append(results, b.Head)
	}
	_, _, err := postgres.NewSignOff(o.staff).Sign(ctxOf(o.t), results, account.ID{}, day)
	require.NoError(o.t, err)
}

// farms sends one counted bag each from n farms of a township.
func (o *office) farms(n int, where place.ID, season, eggs int) []bag.Code {
	o.t.Helper()
	codes := o.bags(n)
	for _, c := range codes {
		o.take(o.visit(sample.FirstEver, where, season, c))
		o.counted(c, eggs, date(season, 11, 1))
	}
	return codes
}

func (o *office) count(sql string, args ...any) (n int) {
	o.t.Helper()
	admin := open(o.t, o.logins.Admin)
	require.NoError(o.t, admin.QueryRow(ctxOf(o.t), sql, args...).Scan(&n))
	return n
}
