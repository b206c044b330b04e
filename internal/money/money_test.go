package money

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

func TestParse(t *testing.T) {
	for typed, want := range map[string]Cents{
		"12": 1200, "12.5": 1250, "12.50": 1250, "$1,234.56": 123456, " $ 3 ": 300, "0": 0, "0.07": 7,
		"1234": 123400, "1,000,000": 100000000, "100,000,000": Most,
	} {
		got, err := Parse(typed)
		require.NoError(t, err, typed)
		require.Equal(t, want, got, typed)
	}
	for _, typed := range []string{"", ".", "$", "1,50", "1,5,000", "12.", ".5", "1.234", "-3", "1e3", "12 50", "1234,567", "100,000,000.01", "99999999999999999999", "½", "１２"} {
		_, err := Parse(typed)
		require.ErrorIs(t, err, ErrAmount, typed)
	}
}

func TestAmountsRoundTrip(t *testing.T) {
	require.Equal(t, "$0.05", Cents(5).String())
	require.Equal(t, "−$1,234,567.89", Cents(-123456789).String())
	require.Equal(t, "-0.50", Cents(-50).Dollars())
	rapid.Check(t, func(t *rapid.T) {
		c := Cents(rapid.Int64Range(0, int64(Most)).Draw(t, "cents"))
		for _, text := range []string{c.String(), c.Dollars()} {
			got, err := Parse(text)
			require.NoError(t, err)
			require.Equal(t, c, got)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"12.50", "$1,234.56", "1,50", "-1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := Parse(s)
		if err == nil && (c < 0 || c > Most) {
			t.Fatalf("%q gave %d", s, c)
		}
	})
}

func TestFiscalYear(t *testing.T) {
	july := Calendar{time.July}
	require.Equal(t, Year(2027), july.Year(day(2026, 7, 1)))
	require.Equal(t, Year(2026), july.Year(day(2026, 6, 30)))
	require.Equal(t, Year(2026), Calendar{time.January}.Year(day(2026, 12, 31)))
	rapid.Check(t, func(t *rapid.T) {
		c := Calendar{time.Month(rapid.IntRange(1, 12).Draw(t, "month"))}
		d := day(2026, 1, 1).AddDate(0, 0, rapid.IntRange(-2000, 2000).Draw(t, "day"))
		first, last := c.Days(c.Year(d))
		require.False(t, d.Before(first) || d.After(last))
		require.Equal(t, c.First, first.Month())
		require.Equal(t, c.Year(first), c.Year(last))
		require.NotEqual(t, c.Year(first), c.Year(last.AddDate(0, 0, 1)))
	})
}

var prices = []Prices{
	{From: day(2026, 1, 1), Bag: 50, Postage: 900, Fee: 2000},
	{From: day(2026, 10, 1), Bag: 60, Postage: 950, Fee: 2100},
}

// Worked by hand: 100 bags in September at 50 cents, ten pieces of soil then at
// $9.00 and five in October at $9.50, five counts at $21.
func TestSpent(t *testing.T) {
	got := Spent([]Tally{
		{Day: day(2025, 12, 31), Issued: 7},
		{Day: day(2026, 9, 1), Issued: 100, Arrived: 10},
		{Day: day(2026, 10, 1), Arrived: 5, Countings: 5},
		{Day: day(2027, 7, 1), Issued: 1000},
	}, prices, day(2025, 7, 1), day(2027, 6, 30))
	require.Equal(t, Spending{Issued: 107, Arrived: 15, Countings: 5, Bags: 5000, Postage: 13750, Fees: 10500, Unpriced: 7}, got)
	require.Equal(t, Cents(29250), got.Sum())
}

// The interval is Wilson's of bundles (Newcombe 1998, Table I: 81 of 263 gives
// 0.2553 to 0.3662), stretched by the share that had come by the same day.
func TestReturnRate(t *testing.T) {
	over := ReturnRate(Season{Issued: 1052, Bundles: 263, Arrived: 324, Share: 1})
	require.True(t, over.Known)
	require.InDelta(t, 324.0/1052, over.Likely, 1e-12)
	require.InDelta(t, 324.0/1052, over.Low, 1e-12, "never under what has come")
	require.InDelta(t, 0.3662, over.High, 5e-5)
	half := ReturnRate(Season{Issued: 1052, Bundles: 263, Arrived: 324, Share: 0.5})
	require.InDelta(t, 2*324.0/1052, half.Likely, 1e-12)
	require.InDelta(t, 2*0.2553, half.Low, 1e-4)
	require.InDelta(t, 2*0.3662, half.High, 1e-4)
	few := ReturnRate(Season{Issued: 1000, Bundles: 250, Arrived: 5, Share: 0.9})
	require.False(t, few.Known)
	require.Equal(t, 1.0, few.High)
	require.Equal(t, 1.0, ReturnRate(Season{Share: 1}).High)
}

func TestForecast(t *testing.T) {
	s := Season{Issued: 100, Bundles: 25, Arrived: 40, Counted: 30, Mailed: 5, Share: 0.8}
	r := Rate{Likely: 0.5, Known: true}
	r.Low, r.High = 0.45, 0.7
	o := Forecast(2000_00, 300_00, s, r, prices[1])
	require.Equal(t, Cents(10*2100+5*3050), o.Committed)
	require.Equal(t, Range{0, 5 * 3050, 25 * 3050}, o.Still)
	require.Equal(t, o.Spent+o.Committed+o.Still.High, o.Total.High)
	require.Equal(t, o.Budget-o.Total.High, o.Left.Low)
	require.Equal(t, Range{10*60 + 5*3050, 10*60 + 5*3050, 10*60 + 7*3050}, More(10, r, prices[1]))
}

func TestMoneyAdds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := func(name string, most int) int { return rapid.IntRange(0, most).Draw(t, name) }
		s := Season{Issued: n("issued", 5000), Bundles: n("bundles", 2000), Share: rapid.Float64Range(0, 1).Draw(t, "share")}
		s.Arrived = min(n("arrived", 5000), s.Issued)
		s.Counted = min(n("counted", 5000), s.Arrived)
		s.Mailed = min(n("mailed", 5000), s.Issued-s.Arrived)
		s.Bundles = min(s.Bundles, s.Issued)
		r := ReturnRate(s)
		require.True(t, 0 <= r.Low && r.Low <= r.Likely && r.Likely <= r.High && r.High <= 1, "%+v", r)
		p := Prices{Bag: Cents(n("bag", 500)), Postage: Cents(n("postage", 2000)), Fee: Cents(n("fee", 5000))}
		o := Forecast(Cents(n("budget", 1e8)), Cents(n("spent", 1e8)), s, r, p)
		require.LessOrEqual(t, o.Still.Low, o.Still.Likely)
		require.LessOrEqual(t, o.Still.Likely, o.Still.High)
		require.Equal(t, o.Budget, o.Left.Likely+o.Spent+o.Committed+o.Still.Likely)
		if p.Bag > 0 {
			left := Cents(n("left", 1e7))
			bags := Affords(left, r, p)
			require.LessOrEqual(t, More(bags, r, p).High, left)
			require.Greater(t, More(bags+1, r, p).High, left)
		}
	})
}
