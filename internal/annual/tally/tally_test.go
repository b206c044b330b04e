package tally_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/annual"
	"sixmile/internal/annual/fixture"
	"sixmile/internal/annual/tally"
	"sixmile/internal/catalog"
	"sixmile/internal/edition/attack"
	"sixmile/internal/gazette"
	"sixmile/internal/money"
	"sixmile/internal/place"
)

// Worked by hand: 664 bags at $20.00 are $13,280.00.
func TestMatch(t *testing.T) {
	right := tally.Bill{Fee: 2000, Invoices: []tally.Invoice{{"A-1", 600, 1200000}, {"A-2", 64, 128000}}}
	m := right.Match(664)
	require.Equal(t, tally.Match{Counted: 664, Billed: 664, Due: 1328000, Asked: 1328000, FeeKnown: true, Agrees: true}, m)
	over := right
	over.Invoices = append(over.Invoices[:1:1], tally.Invoice{"A-2", 66, 133000})
	m = over.Match(664)
	require.False(t, m.Agrees)
	require.Equal(t, 2, m.BagsOver)
	require.Equal(t, money.Cents(5000), m.Over)
	require.Equal(t, []tally.Invoice{{"A-2", 66, 133000}}, m.Wrong, "66 bags are $1,320.00")
	swapped := tally.Bill{Fee: 2000, Invoices: []tally.Invoice{{"A-1", 600, 1200000}, {"A-2", 63, 128000}}}
	m = swapped.Match(664)
	require.False(t, m.Agrees, "the money is right and the bags are not")
	require.Zero(t, m.Over)
	require.False(t, tally.Bill{Invoices: right.Invoices}.Match(664).Agrees, "without a fee nothing can agree")
	require.False(t, tally.Bill{Fee: 2000}.Match(0).Agrees, "nor without an invoice")
}

func TestParseInvoice(t *testing.T) {
	got, err := tally.ParseInvoice(" 2026:114 : 350 :$7,000.00")
	require.NoError(t, err)
	require.Equal(t, tally.Invoice{Label: "2026:114", Bags: 350, Amount: 700000}, got)
	for _, s := range []string{"", "a", "a:b", "a:1", ":1:2", "a:-1:2", "a:1.5:2", "a:1:x", "a:9999999:1", "a\nb:1:2", "a:1:-2"} {
		_, err := tally.ParseInvoice(s)
		require.ErrorIs(t, err, tally.ErrInvoice, s)
	}
}

func FuzzParseInvoice(f *testing.F) {
	f.Add("2026-114:350:7000.00")
	f.Add("a:b:c:1:2")
	f.Fuzz(func(t *testing.T, s string) {
		i, err := tally.ParseInvoice(s)
		if err == nil && (i.Label == "" || i.Bags < 0 || i.Amount < 0) {
			t.Fatalf("%q gave %+v", s, i)
		}
	})
}

// attacker is what the attacker makes of an edition.
func attacker(issue *gazette.Issue) attack.Public {
	e := attack.Edition{Number: 3, Kind: "release", Season: 2026, K: 3, Ranks: []string{"none", "unconfirmed", "found", "found", "found"}}
	for _, t := range issue.Tranches {
		places := make([]int, len(t.Places))
		for i, p := range t.Places {
			places[i] = int(p)
		}
		e.Tranches = append(e.Tranches, attack.Tranche{ID: t.ID + 100*t.Edition, County: int(t.County), Kind: string(t.Kind), Places: places, Senders: 3,
			Samples: t.Samples, ThisFall: t.Window.ThisFall, Through: t.Window.Through, Coarse: t.Coarse, Counts: t.Counts})
	}
	for _, f := range issue.Falls {
		e.Falls = append(e.Falls, attack.Fall{County: int(f.County), Season: f.Season, Samples: f.Samples, Finds: f.Finds, Highest: f.Highest})
	}
	return attack.Public{Editions: []attack.Edition{e}}
}

// What a sponsor gets beside the public figures is put to the attacker in the place
// of the fall figures: bags that came back, less the map, must leave five numbers
// that wait, whatever came back. Nothing is told where there is no fall figure.
func TestSponsorAgainstPublic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		issue := fixture.Issue()
		shown := rapid.IntRange(0, 20).Draw(t, "shown")
		if shown >= 3 { // bags of the fall alone on the map
			tr := fixture.Tranche(9, 3, 1000, "township", []place.ID{1003}, false, shown, 0, 0, 0, 0)
			tr.Window.ThisFall, tr.Window.Through = true, 2026
			issue.Tranches = append(issue.Tranches, tr)
		}
		back := max(shown, 5) + rapid.IntRange(0, 60).Draw(t, "waiting")
		issue.Falls[0].Samples = attack.AboutFive(back, max(shown, 5))
		x, err := gazette.NewIndex(issue)
		require.NoError(t, err)
		rows := tally.Figures{Bags: []tally.Bags{
			{County: 1000, Issued: back + 7, Returned: back}, {County: 3000, Issued: 12, Returned: 4},
		}}.ForSponsor(x, annual.Period{Year: 2026})
		p := attacker(issue)
		require.Empty(t, find(p, "fall minus map"), "the public copy")
		told, ok := rows[0].Returned.Number()
		require.True(t, ok)
		p.Editions[0].Falls[0].Samples = told
		require.Empty(t, find(p, "fall minus map"), "back about %d, really %d, on the map %d", told, back, shown)
		n, ok := rows[0].Counted.Number()
		require.True(t, ok)
		require.Equal(t, issue.Falls[0].Samples, n, "counted is the public figure itself")
		_, ok = rows[2].Returned.Number()
		require.False(t, ok, "fewer than five senders: not told")
		require.True(t, hasNot(rows[2].Counted))
	})
}

func hasNot(r annual.Rounded) bool { _, told := r.Number(); return !told }

func find(p attack.Public, name string) []string {
	for _, a := range attack.All() {
		if a.Name == name {
			return a.Run(p)
		}
	}
	return []string{"no such attack"}
}

// No exact number of the office's stands in any cell of a sponsor's sheet: those
// that are no multiple of five are looked for.
func TestSponsorSheetHoldsNothingExact(t *testing.T) {
	x, err := gazette.NewIndex(fixture.Issue())
	require.NoError(t, err)
	f := tally.Figures{Bags: []tally.Bags{{County: 1000, Issued: 43, Returned: 31, Counted: 29}, {County: 2000, Issued: 22, Returned: 17, Counted: 16}, {County: 3000, Issued: 12, Returned: 4}}}
	b, err := annual.ForPublic(catalog.English(), x, annual.Period{Year: 2026, From: day(2026, 8, 1), To: day(2027, 7, 31)})
	require.NoError(t, err)
	table := annual.SponsorSheet(catalog.English(), b, f.ForSponsor(x, b.Period), 2000).Table()
	require.NoError(t, table.Check())
	rows, err := table.Rows()
	require.NoError(t, err)
	for _, r := range rows {
		for i, v := range r {
			if n, is := v.(int); is {
				require.Zero(t, n%5, table.Columns[i].Name)
			}
			if d, is := v.(float64); is {
				require.Zero(t, int(d)%100, "dollars: five bags at $20.00")
			}
		}
	}
	require.Equal(t, []any{"TEST-A3", "001", "Invented 1", 45, 30, 25, 500.0}, rows[0])
	require.Equal(t, []any{"TEST-A3", "003", "Invented 3", 10, nil, nil, nil}, rows[2])

	// The same edition, of the fall of 2026, in a copy of the fall of 2025: its fall
	// figure is of another year than the bags issued, and costs nothing there.
	rows, err = annual.SponsorSheet(catalog.English(), b, f.ForSponsor(x, annual.Period{Year: 2025}), 2000).Table().Rows()
	require.NoError(t, err)
	for _, r := range rows {
		require.Equal(t, []any{nil, nil, nil}, r[4:])
	}
	require.Equal(t, 45, rows[0][3], "bags issued are of the copy's own year")
}

// Every sheet of the office is marked as its own, can be written, and has nothing
// on a map.
func TestOfficeSheets(t *testing.T) {
	x, err := gazette.NewIndex(fixture.Issue())
	require.NoError(t, err)
	f := tally.Figures{
		Bags:  []tally.Bags{{County: 1000, Issued: 43, HandedOut: 40, Returned: 31, Counted: 29, Signed: 28, Void: 1, OnMap: 20, InWait: 8}},
		Falls: []tally.Fall{{County: 1000, Season: 2026, Samples: 31, Counted: 29, Signed: 28, OnMap: 20, Readings: map[int]int{0: 20, 2: 8}}},
		Waits: []tally.Waits{{Place: 1002, County: 1000, Season: 2026, Samples: 8}, {Place: 77, County: 1000, Season: 2026, Samples: 1}},
		Bill:  tally.Bill{Fee: 2000, Invoices: []tally.Invoice{{"=A-1", 29, 58000}}},
	}
	for _, s := range f.Sheets(catalog.English(), x) {
		table := s.Table()
		require.NoError(t, table.Check())
		require.NotContains(t, table.Title+table.About, "[annual.", table.Name)
		for _, c := range table.Columns {
			require.NotContains(t, c.Title+c.About, "[annual.", "%s.%s", table.Name, c.Name)
		}
		require.True(t, table.Restricted, table.Name)
		require.Nil(t, table.Places)
	}
}

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
