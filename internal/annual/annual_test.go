package annual_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/annual"
	"sixmile/internal/annual/fixture"
	"sixmile/internal/catalog"
	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/gazette"
	"sixmile/internal/money"
	"sixmile/internal/place"
)

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

var fall = annual.Period{Year: 2026, From: day(2026, 8, 1), To: day(2027, 7, 31)}

func tables(t require.TestingT, b annual.Book[annual.Public]) map[string]annual.Table {
	out := make(map[string]annual.Table)
	for _, table := range b.Tables() {
		require.NoError(t, table.Check())
		out[table.Name] = table
	}
	return out
}

func sum(t require.TestingT, table annual.Table, column string) (n int) {
	at := table.Column(column)
	require.GreaterOrEqual(t, at, 0, column)
	rows, err := table.Rows()
	require.NoError(t, err)
	for _, r := range rows {
		if v, is := r[at].(int); is {
			n += v
		}
	}
	return n
}

// Townships, joined places and rest add up to the counties, column by column, and
// so does what each edition added; the levels add up to the bags. The totals are
// those of the tranches, added up here by hand.
func TestPublicTablesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		issue := draw(t)
		x, err := gazette.NewIndex(issue)
		require.NoError(t, err)
		b, err := annual.ForPublic(catalog.English(), x, fall)
		require.NoError(t, err)
		by := tables(t, b)
		bags, finds := 0, 0
		for _, tr := range issue.Tranches {
			bags += tr.Samples
			for i, n := range tr.Counts {
				if tr.Coarse && i == 2 || !tr.Coarse && issue.Ranks()[i] == edition.ClassFound {
					finds += n
				}
			}
		}
		require.Equal(t, bags, sum(t, by["counties"], "bags"))
		require.Equal(t, finds, sum(t, by["counties"], "with_eggs"))
		for _, c := range by["townships"].Columns {
			if !c.Sum {
				continue
			}
			whole := sum(t, by["counties"], c.Name)
			require.Equal(t, whole, sum(t, by["townships"], c.Name)+sum(t, by["groups"], c.Name), c.Name)
			require.Equal(t, whole, sum(t, by["added"], c.Name), c.Name)
		}
		levels := 0
		for _, c := range issue.Scheme.Classes {
			levels += sum(t, by["counties"], annual.LevelColumn(c))
		}
		require.Equal(t, bags, levels+sum(t, by["counties"], "level_not_shown"))
		require.LessOrEqual(t, sum(t, by["counties"], "new_bags"), bags)
	})
}

// The rows come the same each time they are asked for.
// Every table and column has its words: a missing sentence shows as its key.
func TestEveryTableSaysWhatItIs(t *testing.T) {
	x, err := gazette.NewIndex(fixture.Issue())
	require.NoError(t, err)
	b, err := annual.ForPublic(catalog.English(), x, fall)
	require.NoError(t, err)
	for name, table := range tables(t, b) {
		for _, s := range []string{table.Title, table.About} {
			require.NotContains(t, s, "[annual.", name)
		}
		for _, c := range table.Columns {
			require.NotContains(t, c.Title+c.About, "[annual.", "%s.%s", name, c.Name)
		}
	}
}

func TestRowsComeAgain(t *testing.T) {
	x, err := gazette.NewIndex(fixture.Issue())
	require.NoError(t, err)
	b, err := annual.ForPublic(catalog.English(), x, fall)
	require.NoError(t, err)
	for _, table := range b.Tables() {
		one, err := table.Rows()
		require.NoError(t, err)
		two, err := table.Rows()
		require.NoError(t, err)
		require.Equal(t, one, two)
	}
}

func TestCheckFindsWhatCannotBeWritten(t *testing.T) {
	rows := func(r ...any) func(func([]any) error) error {
		return func(see func([]any) error) error { return see(r) }
	}
	for name, table := range map[string]annual.Table{
		"short row":   {Columns: []annual.Column{{Name: "a"}, {Name: "b"}}, Each: rows("x")},
		"wrong kind":  {Columns: []annual.Column{{Name: "a", Kind: annual.Whole}}, Each: rows("x")},
		"twice":       {Columns: []annual.Column{{Name: "a"}, {Name: "a"}}, Each: rows("x", "y")},
		"formula":     {Columns: []annual.Column{{Name: "a", Formula: "{b}+1"}}, Each: rows("x")},
		"many places": {Columns: []annual.Column{{Name: "a"}}, Each: rows("x"), Places: make([]place.ID, 2)},
	} {
		t.Run(name, func(t *testing.T) { require.Error(t, table.Check()) })
	}
}

// Whatever is rounded is a multiple of five, and could have been at least five
// numbers: the attacker's own rule, which shares no code with ours.
func TestAboutLeavesFive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, least := rapid.IntRange(0, 4000).Draw(t, "n"), 0
		least = rapid.IntRange(0, n).Draw(t, "least")
		got, told := annual.About(n, least).Number()
		require.True(t, told)
		require.Zero(t, got%5)
		possible := 0
		for m := least; m < got+20; m++ {
			if attack.AboutFive(m, least) == got {
				possible++
			}
		}
		if least > 0 {
			require.GreaterOrEqual(t, possible, 5)
		}
		require.LessOrEqual(t, math.Abs(float64(got-n)), 7.0)
	})
}

func TestPeriods(t *testing.T) {
	year := annual.FiscalYear(money.DefaultCalendar, 2027)
	require.Equal(t, annual.Period{Fiscal: true, Year: 2027, From: day(2026, 7, 1), To: day(2027, 6, 30)}, year)
	january := gazette.Edition{Season: 2026, Released: day(2027, 1, 15)}
	require.True(t, year.Adds(january))
	require.True(t, fall.Adds(january))
	require.False(t, annual.FiscalYear(money.DefaultCalendar, 2026).Adds(january))
	require.True(t, year.Open(day(2027, 6, 30)), "its last day is part of it")
	require.False(t, year.Open(day(2027, 7, 1)))
	// The fall of 2026 is in the year that its soil comes in, whichever month that begins in.
	for month, want := range map[time.Month]money.Year{time.January: 2026, time.July: 2027, time.September: 2027, time.October: 2027, time.December: 2026} {
		for y := money.Year(2025); y < 2029; y++ {
			require.Equal(t, y == want, annual.FiscalYear(money.Calendar{First: month}, y).HoldsFall(2026), "%v, %d", month, y)
		}
	}
	require.True(t, fall.HoldsFall(2026))
	require.False(t, fall.HoldsFall(2025))
}

// draw is an edition of random tranches.
func draw(t *rapid.T) *gazette.Issue {
	i := fixture.Ground(rapid.IntRange(1, 3).Draw(t, "counties"), 8)
	for n := range rapid.IntRange(0, 20).Draw(t, "tranches") {
		c := rapid.SampledFrom(i.Counties).Draw(t, "county")
		kind := rapid.SampledFrom([]edition.Kind{edition.KindTownship, edition.KindDistrict, edition.KindRemainder}).Draw(t, "kind")
		places := []place.ID{c.ID}
		switch kind {
		case edition.KindTownship:
			places = []place.ID{rapid.SampledFrom(c.Townships).Draw(t, "township").ID}
		case edition.KindDistrict:
			places = []place.ID{c.ID + 1, c.ID + 2, c.ID + 3}
		}
		coarse := rapid.IntRange(0, 4).Draw(t, "coarse") == 0
		classes := len(i.Scheme.Classes)
		if coarse {
			classes = 3
		}
		counts := rapid.SliceOfN(rapid.IntRange(0, 9), classes, classes).Draw(t, "counts")
		counts[0] += 3
		i.Tranches = append(i.Tranches, fixture.Tranche(n+1, rapid.IntRange(1, 3).Draw(t, "edition"), c.ID, kind, places, coarse, counts...))
	}
	return i
}
