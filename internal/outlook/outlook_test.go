package outlook

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/edge"
	"sixmile/internal/place"
	"sixmile/internal/plan"
)

// row is places in a row, each the neighbor of the next.
func row(n int) (places []edge.Place, ground []Ground) {
	for i := range n {
		p := edge.Place{ID: place.ID(i + 1), X: float64(i) * 10_000, Acres: 23_040}
		if i > 0 {
			p.Neighbors = []place.ID{place.ID(i)}
		}
		places = append(places, p)
		ground = append(ground, Ground{County: place.ID(101 + i/5), Acres: 9216, Level: 0.5})
	}
	return places, ground
}

// West has finds, east has none: the chance falls from west to east, places with
// finds are told apart, a clean bag more never makes a miss likelier.
func TestGiven(t *testing.T) {
	places, ground := row(20)
	s := edge.Survey{Season: 2026, Places: places}
	for i := range 20 {
		l := edge.Look{Places: []int{i}, From: 2024, Through: 2024, Senders: 3, None: 9}
		if i < 8 {
			l.Finds, l.None = 6, 3
		}
		if i != 12 {
			s.Looks = append(s.Looks, l)
		}
	}
	o := edge.DefaultOptions()
	surface, err := edge.Fit(s, o)
	require.NoError(t, err)
	got, err := Given(s, surface, ground, o)
	require.NoError(t, err)
	for i, p := range got {
		require.Equal(t, i < 8, p.Found)
		require.Equal(t, places[i].ID, p.ID)
		if p.Found {
			require.Equal(t, 0.5, p.Level)
			continue
		}
		require.Zero(t, p.Level)
		require.True(t, p.Find > 0 && p.Find < 1 && p.Weight > 0)
		require.True(t, p.Clean > 0 && p.Clean < 1, "%+v", p)
	}
	require.Greater(t, got[9].Find, got[19].Find, "nearer to the finds")
	require.Equal(t, 1.0, got[12].Miss, "never looked at")
	require.Less(t, got[13].Miss, 1.0)

	flat, err := Given(s, nil, ground, o)
	require.NoError(t, err)
	require.Equal(t, flat[9].Find, flat[19].Find, "without a surface all have the same chance")
	_, err = Given(s, surface, ground[:3], o)
	require.Error(t, err)
}

// The beta distribution that stands in for a chance agrees with it about one bag
// and about two, and nearly about five.
func TestBetaStandsInForAChance(t *testing.T) {
	places, _ := row(12)
	s := edge.Survey{Season: 2026, Places: places}
	for i := range 12 {
		s.Looks = append(s.Looks, edge.Look{Places: []int{i}, From: 2026, Through: 2026, Senders: 3, None: 2 + i, Finds: 3 * (i % 2)})
	}
	surface, err := edge.Fit(s, edge.DefaultOptions())
	require.NoError(t, err)
	for i := range places {
		c := surface.Chance(i, 2027)
		find, weight := beta(c, 0)
		p := plan.Place{Find: find, Weight: weight}
		require.InDelta(t, c.FirstFind(1), p.FirstFind(1), 1e-9)
		require.InDelta(t, c.FirstFind(2), p.FirstFind(2), 1e-6)
		require.InDelta(t, c.FirstFind(5), p.FirstFind(5), 0.03)
		_, alike := beta(c, 0.1)
		require.Less(t, alike, weight, "bags that are alike teach less")
	}
}

func TestLook(t *testing.T) {
	places, _ := row(4)
	saved := plan.Saved{Season: 2026, Edition: 5, Day: time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC)}
	saved.Ask.Return = 0.5
	for i := range places {
		saved.Given = append(saved.Given, plan.Place{ID: places[i].ID, Find: 0.2, Weight: 4, Found: i == 0})
		saved.Places = append(saved.Places, plan.Suggestion{Place: places[i].ID, Bags: 4})
	}
	since := edge.Survey{Season: 2026, Places: places, Looks: []edge.Look{
		{Places: []int{0}, Through: 2026, None: 1, Finds: 1},       // had finds
		{Places: []int{1}, Through: 2026, None: 2, Finds: 1},       // a first find of three bags
		{Places: []int{2}, Through: 2025, None: 4},                 // all before the plan's season
		{Places: []int{2, 3}, Through: 2026, None: 4, Finds: 1},    // of neither alone
		{Places: []int{3}, Through: 2026, Unconfirmed: 1, None: 1}, // one bag that is sure
	}}
	b, ok := Look(saved, since, 10)
	require.True(t, ok)
	require.Equal(t, 1, b.Blind)
	require.Len(t, b.Places, 2)
	require.Equal(t, []int{3, 1}, []int{b.Places[0].Bags, b.Places[1].Bags})
	require.True(t, b.Places[0].Found)
	require.False(t, b.Places[1].Found)
	// Beta(0.8, 3.2): one bag finds with 0.2; two with 1-0.8*4.2/5 = 0.328.
	require.InDelta(t, 0.2, b.Places[1].Chance, 1e-9)
	require.InDelta(t, 3*0.328, b.Planned, 1e-9)
	require.Equal(t, 1, b.Count.Came)
	_, ok = Look(saved, edge.Survey{Places: places}, 10)
	require.False(t, ok)
}

func TestLevelShare(t *testing.T) {
	require.Equal(t, 0.0, LevelShare(1, 2, 5))
	require.InDelta(t, 1./3, LevelShare(2, 2, 5), 1e-12)
	require.Equal(t, 1.0, LevelShare(4, 2, 5))
	rapid.Check(t, func(t *rapid.T) {
		v := LevelShare(rapid.IntRange(-1, 9).Draw(t, "rank"), 2, 6)
		require.True(t, v >= 0)
	})
}
