package gazette

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// total adds figures up by hand, so that the test shares nothing with Sum.
type total struct{ tranches, samples, none, unconfirmed, finds, coarse int }

func (s *total) add(f edition.Figures) {
	s.tranches += f.Tranches
	s.samples += f.Samples
	s.none += f.None
	s.unconfirmed += f.Unconfirmed
	s.finds += f.Finds
	s.coarse += f.CoarseFinds
}

func of(f edition.Figures) total {
	var s total
	s.add(f)
	return s
}

// Townships, joined townships and the rest add up to their county, and the
// counties to the state: no tranche is lost and none is counted twice.
func TestFiguresAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		issue := ground(rapid.IntRange(1, 3).Draw(t, "counties"))
		issue.Tranches = drawTranches(t, issue)
		x, err := NewIndex(issue)
		require.NoError(t, err)
		var state total
		for _, v := range x.State().Counties {
			sum := of(v.Rest.Figures)
			shown, found := 0, 0
			for _, a := range v.Areas {
				sum.add(a.Figures)
				if a.Samples > 0 {
					shown++
				}
				if a.Finds > 0 {
					found++
				}
			}
			for _, j := range v.Joined {
				sum.add(j.Figures)
				require.NotEmpty(t, j.Members)
				require.NotEmpty(t, j.Shape)
			}
			require.Equal(t, of(v.Figures), sum, v.Name)
			require.Equal(t, []int{shown, found}, []int{v.Shown, v.WithFinds})
			highestIsHighest(t, v)
			state.add(v.Figures)
		}
		require.Equal(t, of(x.State().Figures), state)
		byHand := 0
		for _, tr := range issue.Tranches {
			byHand += tr.Samples
		}
		require.Equal(t, byHand, x.State().Samples)
	})
}

// highestIsHighest: no part of a county is above its highest level, and where
// there are finds some part is at it.
func highestIsHighest(t *rapid.T, v *CountyView) {
	at := v.Highest()
	for _, a := range v.Areas {
		require.LessOrEqual(t, a.Level.Rank, v.Level.Rank)
	}
	for _, j := range v.Joined {
		require.LessOrEqual(t, j.Level.Rank, v.Level.Rank)
	}
	require.LessOrEqual(t, v.Rest.Level.Rank, v.Level.Rank)
	somewhere := len(at.Townships) > 0 || len(at.Joined) > 0 || at.Rest
	require.Equal(t, v.Finds > 0, somewhere)
}

// The order in which tranches come changes nothing.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		issue := ground(2)
		issue.Tranches = drawTranches(t, issue)
		x, err := NewIndex(issue)
		require.NoError(t, err)
		other := *issue
		other.Tranches = rapid.Permutation(issue.Tranches).Draw(t, "order")
		y, err := NewIndex(&other)
		require.NoError(t, err)
		for i, v := range x.State().Counties {
			w := y.State().Counties[i]
			require.Equal(t, v.Areas, w.Areas)
			require.Equal(t, v.Joined, w.Joined)
			require.Equal(t, v.Rest, w.Rest)
			require.Equal(t, v.Summary, w.Summary)
		}
		require.Equal(t, x.State().Summary, y.State().Summary)
	})
}

// A worked county: figures added up on paper.
func TestCountyByHand(t *testing.T) {
	issue := ground(2)
	own := func(k place.ID, counts ...int) edition.Tranche {
		return tranche(100, edition.KindTownship, []place.ID{110 + k}, counts...)
	}
	issue.Tranches = []edition.Tranche{
		own(1, 4, 0, 0, 0, 0),
		own(2, 1, 1, 2, 0, 0),
		own(2, 0, 0, 1, 1, 0),
		own(5, 0, 3, 0, 0, 0),
		tranche(100, edition.KindDistrict, []place.ID{115, 116, 117, 118}, 2, 0, 0, 0, 1),
		tranche(100, edition.KindRemainder, []place.ID{100}, 5, 0, 1, 0, 0),
	}
	issue.Falls = []edition.FallFigure{
		{County: 100, Season: 2025, Samples: 30, Finds: 10, Highest: 3},
		{County: 100, Season: 2026, Samples: 25, Finds: 5, Highest: edition.NotTold},
		{County: 200, Season: 2026, Samples: 40, Finds: 0, Highest: 0},
	}
	x, err := NewIndex(issue)
	require.NoError(t, err)
	v, ok := x.County("county-1")
	require.True(t, ok)
	require.Equal(t, 22, v.Samples)
	require.Equal(t, 6, v.Finds)
	require.Equal(t, 4, v.Unconfirmed)
	require.Equal(t, []int{12, 4, 4, 1, 1}, v.Counts)
	require.Equal(t, 3, v.Shown)
	require.Equal(t, 1, v.WithFinds)
	require.Equal(t, Level{Rank: 4, Exact: true}, v.Level)

	require.Equal(t, "none-found", v.Areas[0].Mark.String())
	require.Equal(t, "found-2", v.Areas[1].Mark.String())
	require.Equal(t, 6, v.Areas[1].Samples)
	require.Equal(t, "no-figures", v.Areas[2].Mark.String())
	require.Equal(t, "unconfirmed", v.Areas[4].Mark.String())
	require.Equal(t, []int{0}, v.Areas[5].Joined, "a member of the joined townships")
	require.Empty(t, v.Areas[0].Joined)

	require.Len(t, v.Joined, 1)
	require.Equal(t, "found-3", v.Joined[0].Mark.String())
	require.Equal(t, issue.Counties[0].Districts[1].Outline, v.Joined[0].Shape)
	require.Equal(t, 6, v.Rest.Samples)

	at := v.Highest()
	require.Empty(t, at.Townships)
	require.Len(t, at.Joined, 1)
	require.False(t, at.Rest)

	require.True(t, v.HasFall)
	require.Equal(t, 25, v.Fall.Samples)
	require.True(t, v.Fall.SevenOrFewer())
	require.False(t, v.Fall.Highest.Known(), "not told")
	w, _ := x.County("county-2")
	require.False(t, w.Fall.SevenOrFewer())
	require.Equal(t, Level{Rank: 0, Exact: true}, w.Fall.Highest)
	require.False(t, w.HasShare)
	require.Equal(t, []*CountyView{w}, v.Neighbors)

	s := x.State()
	require.Equal(t, []int{22, 3, 1, 1, 1}, []int{s.Samples, s.Shown, s.WithFinds, s.FoundIn, s.WithFigures})
	_, ok = x.County("county-9")
	require.False(t, ok)
}

// A coarse tranche tells that there are finds and not how many eggs: the mark
// is that of the lowest found class, and Exact says that it may be more.
func TestCoarseIsAtLeast(t *testing.T) {
	issue := ground(1)
	coarse := tranche(100, edition.KindTownship, []place.ID{111}, 1, 0, 2)
	coarse.Coarse = true
	full := tranche(100, edition.KindTownship, []place.ID{111}, 0, 0, 0, 1, 0)
	for name, tt := range map[string]struct {
		tranches []edition.Tranche
		mark     string
		exact    bool
	}{
		"coarse alone":           {[]edition.Tranche{coarse}, "found-1", false},
		"a known one is higher":  {[]edition.Tranche{coarse, full}, "found-2", false},
		"nothing can be higher":  {[]edition.Tranche{coarse, tranche(100, edition.KindTownship, []place.ID{111}, 0, 0, 0, 0, 1)}, "found-3", true},
		"coarse without a find":  {[]edition.Tranche{{County: 100, Kind: edition.KindTownship, Places: []place.ID{111}, Samples: 3, Coarse: true, Counts: []int{3, 0, 0}}}, "none-found", true},
		"every class is told":    {[]edition.Tranche{full}, "found-2", true},
		"no tranche, no figures": {nil, "no-figures", true},
	} {
		t.Run(name, func(t *testing.T) {
			issue := *issue
			issue.Tranches = tt.tranches
			x, err := NewIndex(&issue)
			require.NoError(t, err)
			v, _ := x.County("county-1")
			require.Equal(t, tt.mark, v.Areas[0].Mark.String())
			require.Equal(t, tt.exact, v.Areas[0].Level.Exact)
		})
	}
}

func TestNewIndexRefuses(t *testing.T) {
	issue := ground(1)
	issue.Tranches = []edition.Tranche{tranche(900, edition.KindRemainder, []place.ID{900}, 3, 0, 0, 0, 0)}
	_, err := NewIndex(issue)
	require.ErrorContains(t, err, "unknown county")
	issue.Tranches = []edition.Tranche{tranche(100, edition.KindRemainder, []place.ID{100}, 3, 0, 0, 0)}
	_, err = NewIndex(issue)
	require.ErrorIs(t, err, edition.ErrMixed)
}

func TestWindow(t *testing.T) {
	w := func(only bool, through int) edition.Tranche {
		return edition.Tranche{Window: edition.Window{ThisFall: only, Through: through}}
	}
	require.Equal(t, Window{}, windowOf(nil))
	require.Equal(t, Window{Only: true, Through: 2026}, windowOf([]edition.Tranche{w(true, 2026), w(true, 2026)}))
	require.Equal(t, Window{Through: 2026}, windowOf([]edition.Tranche{w(true, 2025), w(true, 2026)}))
	require.Equal(t, Window{Through: 2026}, windowOf([]edition.Tranche{w(true, 2026), w(false, 2024)}))
}

// Lines are the position among the found classes, for every preset scheme.
func TestMarkOf(t *testing.T) {
	for _, s := range assay.Presets() {
		for i, c := range s.Found() {
			require.Equal(t, atlas.Mark{Standing: atlas.Found, Lines: i + 1, Of: len(s.Found())}, MarkOf(s, c), s.Key)
		}
		require.Equal(t, "none-found", MarkOf(s, s.Classes[0]).String())
		require.Equal(t, "unconfirmed", MarkOf(s, s.Classes[1]).String())
	}
}

// The score interval of 81 of 263 is 0.2553 to 0.3662 in Newcombe 1998
// (Statistics in Medicine 17:857-872, table I); here rounded outward.
func TestSharePerHundred(t *testing.T) {
	s, ok := shareOf(edition.Figures{None: 263 - 81, Finds: 81})
	require.True(t, ok)
	share, low, high := s.PerHundred()
	require.Equal(t, []int{31, 25, 37}, []int{share, low, high})
	s, _ = shareOf(edition.Figures{None: 10})
	share, low, _ = s.PerHundred()
	require.Equal(t, []int{0, 0}, []int{share, low})
	_, ok = shareOf(edition.Figures{Unconfirmed: 4})
	require.False(t, ok, "nothing is sure either way")
	// One find of 400 is 0.25 in 100: printed as 1, like on the map, since 0 is for
	// none alone; its interval is 0.0004 to 0.0140 (Wilson's formula by hand).
	s, _ = shareOf(edition.Figures{None: 399, Finds: 1})
	share, low, high = s.PerHundred()
	require.Equal(t, []int{1, 0, 2}, []int{share, low, high})
	require.Equal(t, atlas.Percent(1, 400), share)
	s, _ = shareOf(edition.Figures{None: 1, Finds: 399})
	share, low, high = s.PerHundred()
	require.Equal(t, []int{99, 98, 100}, []int{share, low, high})
}

func TestCorner(t *testing.T) {
	for code, want := range map[string][2]string{
		"T21N R8E": {"T21N R8E", "21-8"},
		"T9N R12W": {"T9N R12W", "9-12"},
		"T7½N R3E": {"T7½N R3E", "7½-3"},
		"0412":     {"Alder", "0412"},
	} {
		got, short := corner(place.Place{Code: code, Name: "Alder"})
		require.Equal(t, want, [2]string{got, short})
	}
}

// The map shows each township once with the mark of its view, the joined ones
// with their members, and the counties around.
func TestCountyMap(t *testing.T) {
	issue := ground(3)
	issue.Tranches = []edition.Tranche{
		tranche(200, edition.KindTownship, []place.ID{211}, 0, 0, 3, 0, 0),
		tranche(200, edition.KindDistrict, []place.ID{215, 216, 217, 218}, 0, 3, 0, 0, 0),
	}
	issue.Towns = []Town{{Name: "Hask", At: atlas.Point{X: 1, Y: 2}, Rank: 1}, {Name: "Kell", Rank: 2}}
	x, err := NewIndex(issue)
	require.NoError(t, err)
	v, _ := x.County("county-2")
	m := x.CountyMap(v, atlas.Imprint{Title: "B"}, Captions{
		Township: func(v *TownshipView) (string, string) { return v.Name, "#t-" + v.Slug },
		Joined:   func(int, *JoinedView) (string, string) { return "joined", "" },
	})
	require.Equal(t, "B", m.Title)
	require.Len(t, m.Areas, 8)
	require.Equal(t, "found-1", m.Areas[0].Mark.String())
	require.Equal(t, "#t-township-1", m.Areas[0].Href)
	require.Equal(t, "1-1", m.Areas[0].Short)
	require.Equal(t, "no-figures", m.Areas[1].Mark.String())
	require.Equal(t, []int{215, 216, 217, 218}, m.Joined[0].Members)
	require.Equal(t, "unconfirmed", m.Joined[0].Mark.String())
	require.Len(t, m.Neighbors, 2)
	require.Len(t, m.Towns, 2)
	require.Equal(t, "Hask", m.Towns[0].Name)

	s := x.StateMap(atlas.Imprint{}, Captions{County: func(v *CountyView) (string, string) { return v.Name, "/county/" + v.Slug }})
	require.Len(t, s.Counties, 3)
	require.Len(t, s.Towns, 1, "the first rank alone")
	require.Equal(t, []string{"no-figures", "found-1"}, []string{s.Counties[0].Mark.String(), s.Counties[1].Mark.String()})
	require.Equal(t, "/county/county-3", s.Counties[2].Href)
}
