package gazette

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/place"
	"sixmile/internal/stat"
)

// drawHistory spreads drawn tranches over editions 2, 3 and 4.
func drawHistory(t *rapid.T) *Issue {
	issue := ground(rapid.IntRange(1, 3).Draw(t, "counties"))
	issue.Tranches = drawTranches(t, issue)
	for i := range issue.Tranches {
		issue.Tranches[i].Edition = rapid.IntRange(2, 4).Draw(t, "edition")
	}
	for no := 2; no <= 4; no++ {
		issue.Editions = append(issue.Editions, Edition{Number: no, Season: 2022 + no})
	}
	return issue
}

// What each map added adds up to the county, the last of the maps is this one,
// and a first find is one by the tranches alone.
func TestRoundsAndSince(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		issue := drawHistory(t)
		x, err := NewIndex(issue)
		require.NoError(t, err)
		for _, v := range x.State().Counties {
			rounds, err := x.Rounds(v)
			require.NoError(t, err)
			var sum total
			for _, r := range rounds {
				sum.add(r.Figures)
			}
			require.Equal(t, of(v.Figures), sum)
			now, err := x.AsOf(v, issue.Edition)
			require.NoError(t, err)
			require.Equal(t, v.Summary, now.Summary)
			require.Equal(t, v.Joined, now.Joined)

			s, ok, err := x.Since(v)
			require.NoError(t, err)
			require.True(t, ok)
			require.Equal(t, 3, s.Last.Number)
			first := map[place.ID]bool{}
			for _, a := range s.FirstFinds {
				first[a.ID] = true
			}
			for _, tw := range v.Townships {
				require.Equal(t, findsBy(issue, tw.ID, 4) > 0 && findsBy(issue, tw.ID, 3) == 0, first[tw.ID])
			}
		}
	})
}

// findsBy counts a township's finds up to an edition, tranche by tranche.
func findsBy(issue *Issue, id place.ID, last int) int {
	n := 0
	for _, tr := range issue.Tranches {
		if tr.Kind != edition.KindTownship || tr.Places[0] != id || tr.Edition > last {
			continue
		}
		for i, c := range tr.Counts {
			if i >= 2 { // in both forms the first two are none and unconfirmed
				n += c
			}
		}
	}
	return n
}

func TestFirstMapHasNoneBefore(t *testing.T) {
	issue := ground(1)
	x, err := NewIndex(issue)
	require.NoError(t, err)
	_, ok, err := x.Since(x.State().Counties[0])
	require.NoError(t, err)
	require.False(t, ok)
}

// A township whose figures were taken back may have had a find before.
func TestRecalledIsNoFirstFind(t *testing.T) {
	issue := ground(1)
	issue.Editions = []Edition{{Number: 3}, {Number: 4}}
	issue.Tranches = []edition.Tranche{tranche(100, edition.KindTownship, []place.ID{111}, 2, 0, 1, 0, 0)}
	issue.Recalled = []place.ID{111, 112}
	x, err := NewIndex(issue)
	require.NoError(t, err)
	v := x.State().Counties[0]
	s, _, err := x.Since(v)
	require.NoError(t, err)
	require.Empty(t, s.FirstFinds)
	require.False(t, v.Areas[0].Recalled(), "it has figures again")
	require.True(t, v.Areas[1].Recalled())
	require.Equal(t, []int{1, 1}, []int{v.Recalled, x.State().Recalled})
}

// Only townships that are on both maps are compared: 111 and 112 are, 113 and 114
// are not, and what is found there changes nothing.
func TestTrendIsOfTownshipsInBoth(t *testing.T) {
	own := func(no int, id place.ID, counts ...int) edition.Tranche {
		tr := tranche(100, edition.KindTownship, []place.ID{id}, counts...)
		tr.Edition = no
		return tr
	}
	compare := func(extra ...edition.Tranche) (Trend, bool) {
		issue := ground(1)
		issue.Editions = []Edition{{Number: 2}, {Number: 3}, {Number: 4}}
		issue.Tranches = append([]edition.Tranche{
			own(2, 111, 4, 0, 1, 0, 0), own(2, 112, 6, 1, 1, 0, 0), own(4, 111, 2, 0, 4, 0, 0), own(4, 112, 3, 0, 3, 2, 0),
		}, extra...)
		x, err := NewIndex(issue)
		require.NoError(t, err)
		rounds, err := x.Rounds(x.State().Counties[0])
		require.NoError(t, err)
		trend, ok, err := x.Trend(rounds)
		require.NoError(t, err)
		return trend, ok
	}
	got, ok := compare(own(4, 113, 0, 0, 0, 0, 50), own(3, 114, 90, 0, 0, 0, 0))
	require.True(t, ok)
	require.Equal(t, 2, got.Before.Number, "edition 3 has nothing in common")
	require.Equal(t, []int{2, 9, 14, 2, 12}, []int{got.Townships, got.Here.Finds, got.Here.Judged, got.There.Finds, got.There.Judged})
	want, err := stat.Newcombe(9, 14, 2, 12, stat.Confidence)
	require.NoError(t, err)
	require.Equal(t, want, got.Interval)
	plain, _ := compare()
	require.Equal(t, got, plain)

	got, _ = compare(own(3, 111, 5, 0, 0, 0, 0), own(3, 112, 5, 0, 0, 0, 0))
	require.Equal(t, 3, got.Before.Number, "the latest with enough")
	got, _ = compare(own(3, 111, 4, 0, 0, 0, 0), own(3, 112, 5, 0, 0, 0, 0))
	require.Equal(t, 2, got.Before.Number, "nine bags are too few")
	got, _ = compare(own(3, 111, 20, 0, 0, 0, 0))
	require.Equal(t, 2, got.Before.Number, "one township is too few")
}

// A worked contrast. Newcombe 1998, Table II, row a: 56/70 and 48/80 give 0.0524
// to 0.3339 by method 10 (from memory; handbook section 10 names the method).
func TestContrast(t *testing.T) {
	here := edition.Figures{Finds: 56, None: 14}
	there := edition.Figures{Finds: 48, None: 32}
	c, ok := contrast(here, there)
	require.True(t, ok)
	require.InDelta(t, 0.0524, c.Interval.Low, 5e-5)
	require.InDelta(t, 0.3339, c.Interval.High, 5e-5)
	low, high := c.PerHundred()
	require.Equal(t, []int{5, 34}, []int{low, high})
	require.Equal(t, More, c.Lean())
	require.Equal(t, Fewer, c.Turned().Lean())
	low, high = c.Turned().PerHundred()
	require.Equal(t, []int{-34, -5}, []int{low, high})
	_, ok = contrast(here, edition.Figures{Unconfirmed: 3})
	require.False(t, ok, "no bag is sure either way")
}

// The rest of the state is the state without the county.
func TestElsewhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		issue := drawHistory(t)
		x, err := NewIndex(issue)
		require.NoError(t, err)
		for _, v := range x.State().Counties {
			e, err := x.Elsewhere(v)
			require.NoError(t, err)
			sum := of(e.Figures)
			sum.add(v.Figures)
			require.Equal(t, of(x.State().Figures), sum)
		}
	})
}

// The bars are all bags, once each, with Wilson's interval: 81 of 263 is 0.2553 to
// 0.3662 (Newcombe 1998, Stat. Med. 17:857-872, Table I; handbook section 10).
func TestBars(t *testing.T) {
	issue := ground(1)
	issue.Tranches = []edition.Tranche{tranche(100, edition.KindRemainder, []place.ID{100}, 100, 20, 81, 62, 0)}
	x, err := NewIndex(issue)
	require.NoError(t, err)
	bars := x.Bars(x.State().Figures)
	require.Len(t, bars, 5)
	require.InDelta(t, 0.2553, bars[2].Interval.Low, 5e-5)
	require.InDelta(t, 0.3662, bars[2].Interval.High, 5e-5)
	share, low, high := bars[2].PerHundred()
	require.Equal(t, []int{31, 25, 37}, []int{share, low, high})
	rapid.Check(t, func(t *rapid.T) {
		issue := drawHistory(t)
		x, err := NewIndex(issue)
		require.NoError(t, err)
		n := 0
		for _, b := range x.Bars(x.State().Figures) {
			n += b.Bags
			require.True(t, b.Interval.Contains(float64(b.Bags)/float64(b.Of)))
		}
		require.Equal(t, x.State().Samples, n)
	})
}

// The default method misses one bag in twenty at 473 eggs per 100 cm³: by hand,
// 2.9957 x 150 / (1 - e^-3) = 449.4 / 0.9502. More soil in the scoop misses less,
// and the least sensitive method is told.
func TestMissed(t *testing.T) {
	issue := ground(1)
	x, err := NewIndex(issue)
	require.NoError(t, err)
	_, known := x.Missed()
	require.False(t, known)
	issue.Methods = assay.PresetMethods()
	d, known := x.Missed()
	require.True(t, known)
	require.InDelta(t, 472.9, float64(d), 0.1)
	for d, want := range map[assay.Density]int{472.9: 470, 189.2: 190, 95.5: 96, 1234: 1200, 7.4: 7, 10: 10} {
		require.Equal(t, want, Rounded(d))
	}
}

func TestOldest(t *testing.T) {
	at := func(year int, only bool) edition.Tranche {
		return edition.Tranche{Window: edition.Window{Through: year, ThisFall: only}}
	}
	require.Equal(t, Window{}, oldestOf(nil))
	require.Equal(t, Window{Only: true, Through: 2021}, oldestOf([]edition.Tranche{at(2024, false), at(2021, true)}))
	require.Equal(t, Window{Through: 2021}, oldestOf([]edition.Tranche{at(2021, true), at(2021, false), at(2022, true)}))
}
