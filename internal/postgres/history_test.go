package postgres_test

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/past"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
	"sixmile/internal/tabular"
)

// judged reads a file of past results as of a day.
func (o *office) judged(data []byte, today time.Time, change func(*past.Setup)) past.Verdict {
	o.t.Helper()
	ctx, store := ctxOf(o.t), postgres.NewHistory(o.staff)
	memory, err := store.Memory(ctx)
	require.NoError(o.t, err)
	sheet, err := past.Open(data, memory)
	require.NoError(o.t, err)
	with, err := store.Setup(ctx, today)
	require.NoError(o.t, err)
	change(&with)
	g, err := store.Gazetteer(ctx)
	require.NoError(o.t, err)
	v, err := past.Judge(ctx, sheet, past.Guess(sheet), with, g, store, func(int) {})
	require.NoError(o.t, err)
	return v
}

func (o *office) loaded(v past.Verdict, today time.Time) int {
	o.t.Helper()
	require.Empty(o.t, v.Bad)
	n, err := postgres.NewHistory(o.staff).Accept(ctxOf(o.t), v.Digest, v.Kept, account.ID{}, today)
	require.NoError(o.t, err)
	return n
}

func csvFile(head string, rows ...string) []byte {
	return []byte(head + "\n" + strings.Join(rows, "\n") + "\n")
}

func asIs(*past.Setup) {}

// The first shape: a text with legal descriptions, farms and densities.
func TestPastResultsWithFarmsMakeTranches(t *testing.T) {
	o := newOffice(t)
	today := date(2026, 3, 1)
	file := csvFile("Year,Legal description,Eggs per 100 cc,Farm",
		"2012,SE of the NE of 12 T1N R1E,2100,red barn", "2012,T1N R1E,0,red barn", "2014,T. 1 N. R. 1 E.,900,by the creek",
		"2015,sec 3 1N-1E,42,third", "2013,T2N R2E,500,red barn", "2013,2N 2E,500,by the creek")
	v := o.judged(file, today, asIs)
	require.Equal(t, [5]int{6, 6, 0, 6, 3}, [5]int{v.Rows, v.Townships, v.CountyOnly, v.Grouped, v.Farms})
	require.Equal(t, 6, o.loaded(v, today))
	require.Zero(t, o.loaded(o.judged(file, today, asIs), today), "the same file twice")
	again := csvFile("Farm;Eggs per 100 cc;Legal description;Year", // in another form, with other names for the farms
		"c;42;T1N R1E;Fall 2015", "b;500;T2N R2E;2013", "b;900;T1N R1E;2014", "a;0;T1N R1E;2012", "a;2100;T1N R1E;2012-13", "a;500;T2N R2E;2013")
	require.Zero(t, o.loaded(o.judged(again, today, asIs), today))
	require.Equal(t, 6, o.count(`SELECT count(*) FROM priv.sample WHERE source = 'past'`))
	require.Equal(t, 3, o.count(`SELECT count(DISTINCT sender) FROM priv.sample`))
	require.Equal(t, 4, o.count(`SELECT count(*) FROM open.season WHERE year < 2020`))

	// Three farms in the one township, two in the other: one group.
	e := o.release(today, date(2026, 3, 2))
	issue, err := postgres.NewPublished(o.public).Issue(ctxOf(t), e.Number)
	require.NoError(t, err)
	require.Len(t, issue.Tranches, 1)
	require.Equal(t, edition.KindTownship, issue.Tranches[0].Kind)
	require.Equal(t, 4, issue.Tranches[0].Samples)
	// 0 is none; 42 is at or under the trace limit of 200; 900 low, 2,100 moderate (ISU 2008: to 2,000, to 12,000).
	require.Equal(t, []int{1, 1, 1, 1, 0}, issue.Tranches[0].Counts)
	p, err := postgres.NewEditions(o.staff).Verify(ctxOf(t), e.Number)
	require.NoError(t, err)
	require.True(t, p.OK(), p.Wrong)
	require.Equal(t, 1, o.count(`SELECT count(*) FROM open.edition_method WHERE method IS NULL`))

	// Forgetting takes what was released, and leaves who belongs together of what waits.
	_, ran, err := postgres.Unlink(ctxOf(t), o.logins.Admin, today, false)
	require.NoError(t, err)
	require.True(t, ran)
	require.Equal(t, 2, o.count(`SELECT count(sender) FROM priv.sample`))
}

// The second shape: a workbook with coordinates of a projected system, no farms.
// UTM zone 23 north and the same points in degrees were worked out by PostGIS'
// own library, so the check of the transformation itself is that of a whole
// row of points against the townships they were made from.
func TestPastResultsByCoordinatesGoToTheRemainderOnly(t *testing.T) {
	o := newOffice(t)
	today := date(2026, 3, 1)
	f := excelize.NewFile()
	require.NoError(t, f.SetSheetRow("Sheet1", "A1", &[]any{"Date sampled", "Easting", "Northing", "SCN count", "Unit", "Client"}))
	admin := open(t, o.logins.Admin)
	for i := range 32 {
		lon, lat := -40+0.06*(float64(i%8)+0.37), 40+0.06*(float64(i/8)+0.81)
		var x, y float64
		require.NoError(t, admin.QueryRow(ctxOf(t), `
			SELECT ST_X(p), ST_Y(p) FROM ST_Transform(ST_SetSRID(ST_MakePoint($1, $2), 4326), 32624) p`, lon, lat).Scan(&x, &y))
		day := date(1997, 10, 1+i%28)
		require.NoError(t, f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+2), &[]any{day, x, y, 250 * i, "per 250 cm3"}))
	}
	var b bytes.Buffer
	_, err := f.WriteTo(&b)
	require.NoError(t, err)
	none := o.judged(b.Bytes(), today, asIs)
	require.Equal(t, 32, none.Kinds[past.NoSystem], "nobody said of which system")
	v := o.judged(b.Bytes(), today, func(s *past.Setup) { s.SRID = 32624 })
	require.Equal(t, [4]int{32, 32, 0, 32}, [4]int{v.Rows, v.Townships, v.Grouped, v.Unknown}, "%v", v.Kinds)
	require.Equal(t, 32, o.loaded(v, today))
	require.Equal(t, 32, o.count(`SELECT count(DISTINCT place) FROM priv.sample`), "each in its own township")
	require.Equal(t, 1, o.count(`SELECT count(DISTINCT season) FROM priv.sample WHERE season = 1997`))
	require.Zero(t, o.count(`SELECT count(sender) FROM priv.sample`))

	// Nobody's results never make a group; with senders of the county they go along.
	p, err := postgres.NewReleases(o.staff).Preview(ctxOf(t), today, date(2026, 3, 2))
	require.NoError(t, err)
	require.Empty(t, p.Drafts)
	codes := o.bags(3)
	for _, c := range codes { // three farms that only know their county, long ago
		o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c))
		o.counted(c, 5, date(2020, 11, 1))
	}
	e := o.release(today, date(2026, 3, 2))
	issue, err := postgres.NewPublished(o.public).Issue(ctxOf(t), e.Number)
	require.NoError(t, err)
	require.Len(t, issue.Tranches, 1)
	require.Equal(t, edition.KindRemainder, issue.Tranches[0].Kind)
	require.Equal(t, 16+3, issue.Tranches[0].Samples)
	require.Equal(t, 2, o.count(`SELECT count(*) FROM open.edition_method`), "one method known, one not")
}

// The third shape: hostile. Every bad row has its verdict, and nothing is stored.
func TestHostileFileOfPastResults(t *testing.T) {
	o := newOffice(t)
	today := date(2026, 3, 1)
	rows := []struct{ row, field, problem string }{
		{"2019;County A;T1N R1E;;;2100;x", "", ""},
		{"2019;;=cmd|'/c calc'!A1;;;1;x", "place", "no_place"},
		{"2019;;<script>alert(1)</script>;;;1;x", "place", "no_place"},
		{"2019;;'); DROP TABLE priv.sample;--;;;1;x", "place", "no_place"},
		{"next;County A;T1N R1E;;;1;x", "season", "not_season"},
		{"2025;County A;T1N R1E;;;1;x", "season", "season_open"},
		{"1492;County A;T1N R1E;;;1;x", "season", "not_season"},
		{"2019;County B;T1N R1E;;;1;x", "place", "no_place"},
		{"2019;Nowhere;T1N R1E;;;1;x", "county", "no_county"},
		{"2019;County A;;1e308;40;1;x", "x", "not_number"},
		{"2019;County A;;999999999999;-999999999999;1;x", "x", "outside"},
		{"2019;County A;;-39.9;;1;x", "y", "missing"},
		{"2019;County B;;-39.99;40.01;1;x", "county", "other_county"},
		{"2019;;;40.01;-39.99;1;x", "x", "outside"},
		{"2019;;;;;1;x", "place", "missing"},
		{"2019;County A;T1N R1E sec 77;;;1;x", "place", "bad_legal"},
		{"2019;County A;T1N R1E;;;-4;x", "density", "negative"},
		{"2019;County A;T1N R1E;;;=1+1;x", "density", "formula"},
		{"2019;County A;T1N R1E;;;a lot;x", "density", "not_number"},
		{"2019;County A;T1N R1E;;;999999999;x", "density", "too_large"},
		{"2019;County A;T1N R1E;;;;x", "density", "missing"},
		{"2019;County A;" + strings.Repeat("T1N ", 400) + ";;;1;x", "place", "bad_legal"},
	}
	var lines []string
	for _, r := range rows {
		lines = append(lines, r.row)
	}
	data := append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(csvFile("Year;County;Township;Lon;Lat;Eggs;Grower", lines...), []byte("\n"), []byte("\r\n"))...)
	v := o.judged(data, today, func(s *past.Setup) { s.SRID, s.Unit = 4326, assay.Per100CM3 })
	require.Equal(t, len(rows)-1, v.BadRows)
	require.False(t, v.Ready())
	at := map[int]map[tabular.Field]tabular.Problem{}
	for _, b := range v.Bad {
		at[b.Line] = b.Problems
	}
	for i, r := range rows {
		if r.field != "" {
			require.Equal(t, tabular.Problem(r.problem), at[i+2][tabular.Field(r.field)], "%s: %v", r.row, at[i+2])
		}
	}
	require.NoError(t, postgres.NewHistory(o.staff).Remember(ctxOf(t), nil))
	require.Zero(t, o.count(`SELECT count(*) FROM priv.sample`))
	_, err := postgres.NewHistory(o.staff).Locate(ctxOf(t), 999_000, []past.Point{{X: 1, Y: 2}})
	require.ErrorIs(t, err, past.ErrSystem)
}

// Levels alone load, are counted by their own table, and by no other.
func TestPastLevelsCannotBeRestated(t *testing.T) {
	o := newOffice(t)
	today := date(2026, 3, 1)
	rows := []string{"2011,T1N R1E,none,a", "2011,T1N R1E,trace,b", "2011,T1N R1E,Low,c", "2011,T1N R1E,moderate,d", "2011,T1N R1E,HIGH,d"}
	v := o.judged(csvFile("fall,twp,level,farm", rows...), today, asIs)
	require.Equal(t, 5, v.ClassOnly)
	o.loaded(v, today)
	o.farms(3, o.townships[o.counties[0].ID][5].ID, 2020, 42)
	e := o.release(today, date(2026, 3, 2))
	issue, err := postgres.NewPublished(o.public).Issue(ctxOf(t), e.Number)
	require.NoError(t, err)
	require.Equal(t, []int{1, 1, 1, 1, 1}, issue.Tranches[0].Counts)

	// A row that waits while another table comes into force stays out of every release.
	waits := o.judged(csvFile("fall,twp,level,farm", "2012,T2N R1E,low,a", "2012,T2N R1E,low,b", "2012,T2N R1E,low,c"), today, asIs)
	o.loaded(waits, date(2026, 3, 3))
	store := postgres.NewRestatements(o.staff)
	p, err := store.Preview(ctxOf(t), assay.SchemeOhio, date(2026, 3, 3))
	require.NoError(t, err)
	require.Equal(t, 1, p.Coarse, "the group with levels only")
	again, err := store.Release(ctxOf(t), assay.SchemeOhio, p.Number, date(2026, 3, 3), p.Stamp, account.ID{})
	if err == nil {
		after, err := postgres.NewPublished(o.public).Issue(ctxOf(t), again.Number)
		require.NoError(t, err)
		require.Equal(t, []int{1, 1, 3}, after.Tranches[0].Counts, "none, unconfirmed and found only")
	}
	require.NoError(t, err)
	next, err := postgres.NewReleases(o.staff).Preview(ctxOf(t), date(2026, 6, 1), date(2026, 6, 2))
	require.NoError(t, err)
	require.Empty(t, next.Drafts)
}

// Who counts as a sender is safe across files and forms.
func TestPastFarmsOfTwoFilesAreNotTakenForDifferent(t *testing.T) {
	o := newOffice(t)
	today := date(2026, 3, 1)
	one := o.judged(csvFile("fall,twp,eggs per 100 cc,farm", "2015,T1N R1E,1,a", "2015,T1N R1E,1,b"), today, asIs)
	two := o.judged(csvFile("fall,twp,eggs per 100 cc,farm", "2014,T1N R1E,2,x", "2015,T1N R1E,2,x", "2016,T1N R1E,2,y"), today, asIs)
	require.Equal(t, 2, o.loaded(one, today))
	require.Equal(t, 3, o.loaded(two, today))
	p, err := postgres.NewReleases(o.staff).Preview(ctxOf(t), today, date(2026, 3, 2))
	require.NoError(t, err)
	require.Empty(t, p.Drafts, "x and y may be a and b")
	require.Len(t, p.Waiting, 1)
	require.Equal(t, 2, p.Waiting[0].Senders)
	_, err = postgres.NewHistory(o.staff).Accept(ctxOf(t), "d", []past.Kept{{Season: 2019, Spot: past.Spot{Place: 1, County: place.ID(999)}}}, account.ID{}, today)
	require.Error(t, err, "all or nothing")
	require.NotErrorIs(t, err, fault.ErrConflict)
	require.Zero(t, o.count(`SELECT count(*) FROM priv.past_load WHERE digest = 'd'`))
}

// "First bags ever" in a form may leave out what the farm sent long ago: while
// past results wait it does not add, whichever came first.
func TestAFormsFirstBagsDoNotAddToPastResults(t *testing.T) {
	o := newOffice(t)
	here, elsewhere := o.townships[o.counties[0].ID][0].ID, o.townships[o.counties[1].ID][0].ID
	o.farms(1, here, 2021, 5)
	o.farms(1, elsewhere, 2021, 5)
	today := date(2022, 9, 1)
	o.loaded(o.judged(csvFile("fall,twp,eggs per 100 cc,farm", "2015,T1N R1E,1,a", "2016,T1N R1E,1,b"), today, asIs), today)
	o.farms(1, here, 2022, 5)
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.sample WHERE source <> 'past' AND standing = 1 AND county = $1`, o.counties[0].ID))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.sample WHERE source <> 'past' AND standing = 2 AND county = $1`, o.counties[1].ID))
	p, err := postgres.NewReleases(o.staff).Preview(ctxOf(t), date(2022, 12, 31), date(2023, 1, 2))
	require.NoError(t, err)
	require.Empty(t, p.Drafts)
}

// A file that waits for an edition to be made keeps nobody's form waiting with it.
func TestFormsDoNotWaitForAnEditionBehindAFile(t *testing.T) {
	o := newOffice(t)
	ctx, today := ctxOf(t), date(2026, 3, 1)
	file := o.judged(csvFile("fall,twp,eggs per 100 cc,farm", "2015,T1N R1E,1,a"), today, asIs)
	making, err := open(t, o.logins.Admin).Begin(ctx)
	require.NoError(t, err)
	defer making.Rollback(ctx) //nolint:errcheck // after the commit there is nothing to take back
	_, err = making.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile release'))`)
	require.NoError(t, err)
	loaded := make(chan error, 1)
	go func() {
		_, err := postgres.NewHistory(o.staff).Accept(ctx, file.Digest, file.Kept, account.ID{}, today)
		loaded <- err
	}()
	require.Eventually(t, func() bool {
		return o.count(`SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND NOT granted
			AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`) == 1
	}, 20*time.Second, 10*time.Millisecond)
	short, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	v := o.visit(sample.FirstEver, o.townships[o.counties[0].ID][0].ID, 2020, o.bags(1)...)
	require.NoError(t, postgres.NewIntake(o.public).Take(short, v, date(2020, 10, 10)))
	require.NoError(t, making.Commit(ctx))
	require.NoError(t, <-loaded)
}
