package edge_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edge"
	"sixmile/internal/place"
)

const side = 10

// miles is the side of a township in meters.
const sixMiles = 6 * 1609.344

// grid is a state of square townships, row by row from the southwest.
func grid() []edge.Place {
	out := make([]edge.Place, side*side)
	for i := range out {
		x, y := i%side, i/side
		out[i] = edge.Place{ID: place.ID(i + 1), X: float64(x) * sixMiles, Y: float64(y) * sixMiles, Acres: 23040}
		if x > 0 {
			out[i].Neighbors = append(out[i].Neighbors, place.ID(i))
		}
		if y > 0 {
			out[i].Neighbors = append(out[i].Neighbors, place.ID(i+1-side))
		}
	}
	return out
}

// moving draws a front that moves east: finds are likely west of column
// fall*speed/6 and seldom east of it. Columns from bare on are never looked at.
func moving(seed uint64, bags, bare int) edge.Survey {
	rng := rand.New(rand.NewPCG(seed, 9))
	s := edge.Survey{Season: 2026, Places: grid()}
	for fall := range 6 {
		for i := range s.Places {
			if i%side >= bare {
				continue
			}
			p := chanceAt(i, fall)
			l := edge.Look{Places: []int{i}, From: 2021 + fall, Through: 2021 + fall, Senders: 3}
			for range bags {
				if rng.Float64() < p {
					l.Finds++
				} else {
					l.None++
				}
			}
			s.Looks = append(s.Looks, l)
		}
	}
	return s
}

func chanceAt(i, fall int) float64 {
	return 1 / (1 + math.Exp(1.2*(float64(i%side)-2.5-0.5*float64(fall))))
}

func TestSurfaceFindsTheFront(t *testing.T) {
	s := moving(1, 6, side)
	f, err := edge.Fit(s, edge.DefaultOptions())
	require.NoError(t, err)
	sum, in := 0.0, 0
	for i, c := range f.Chances() {
		want := chanceAt(i, 5)
		sum += math.Abs(c.Mean - want)
		if c.Band.Contains(want) {
			in++
		}
		require.True(t, c.Looked)
		require.Less(t, c.Band.Low, c.Mean)
		require.Greater(t, c.Band.High, c.Mean)
	}
	require.Less(t, sum/float64(len(s.Places)), 0.06)
	require.Greater(t, in, 85)

	// The front moves half a township a year, three miles, eastward.
	front, err := f.Front()
	require.NoError(t, err)
	require.InDelta(t, 90, front.Bearing, 8)
	truth := make([][]float64, len(s.Places))
	for i := range truth {
		for fall := range 6 {
			truth[i] = append(truth[i], chanceAt(i, fall))
		}
	}
	best := edge.FrontOf(s.Places, truth)
	require.InDelta(t, 90, best.Bearing, 1e-6)
	require.InDelta(t, 3, best.Pace, 0.15)
	require.True(t, front.PaceIn.Contains(best.Pace), "%v in %v", best.Pace, front.PaceIn)
}

func TestPlaceWithoutLooksLeansOnItsNeighbors(t *testing.T) {
	s := moving(2, 4, 8)
	f, err := edge.Fit(s, edge.DefaultOptions())
	require.NoError(t, err)
	c := f.Chances()
	for row := range side {
		near, far := c[row*side+7], c[row*side+9]
		require.False(t, far.Looked)
		require.Greater(t, far.SD, near.SD, "less is known further out")
		require.InDelta(t, near.Logit, far.Logit, 3)
	}
}

func TestFirstFind(t *testing.T) {
	s := moving(3, 4, side)
	f, err := edge.Fit(s, edge.DefaultOptions())
	require.NoError(t, err)
	c := f.Chance(55, 2026)
	require.InDelta(t, c.Mean, c.FirstFind(1), 1e-12)
	gain := 1.0
	for n := 1; n < 40; n++ { // each further bag adds less
		g := c.FirstFind(n) - c.FirstFind(n-1)
		require.Less(t, g, gain+1e-12)
		require.GreaterOrEqual(t, g, -1e-12)
		gain = g
	}
	require.InDelta(t, 0.5, c.Above(1/(1+math.Exp(-c.Logit))), 1e-9)
}

func TestFitIsDeterministic(t *testing.T) {
	s := moving(4, 2, 9)
	a, err := edge.Fit(s, edge.DefaultOptions())
	require.NoError(t, err)
	b, err := edge.Fit(s, edge.DefaultOptions())
	require.NoError(t, err)
	require.Equal(t, a.Chances(), b.Chances())
	fa, _ := a.Front()
	fb, _ := b.Front()
	require.Equal(t, fa, fb)
}

func TestTooLittleToSay(t *testing.T) {
	for name, s := range map[string]edge.Survey{
		"no looks":     {Season: 2026, Places: grid()},
		"few bags":     {Season: 2026, Places: grid(), Looks: moving(1, 1, side).Looks[:20]},
		"all one way":  {Season: 2026, Places: grid(), Looks: clean()},
		"no places":    {Season: 2026},
		"a single one": {Season: 2026, Places: grid(), Looks: []edge.Look{{Places: []int{3}, Through: 2026, From: 2026, None: 40, Finds: 40}}},
	} {
		_, err := edge.Fit(s, edge.DefaultOptions())
		require.ErrorIs(t, err, edge.ErrTooLittle, name)
	}
	// Everything known is of one fall: a surface, and no front.
	s := moving(1, 6, side)
	s.Looks = s.Looks[:side*side]
	f, err := edge.Fit(s, edge.DefaultOptions())
	require.NoError(t, err)
	_, err = f.Front()
	require.ErrorIs(t, err, edge.ErrTooLittle)

	bad := moving(1, 6, side)
	bad.Looks[3].Places = []int{side * side}
	_, err = edge.Fit(bad, edge.DefaultOptions())
	require.ErrorIs(t, err, edge.ErrLook)
}

func clean() []edge.Look {
	looks := moving(1, 6, side).Looks
	for i := range looks {
		looks[i].None, looks[i].Finds = 6, 0
	}
	return looks
}

// Noise alone has no front: of many such surfaces few may show one.
func TestNoiseHasNoFront(t *testing.T) {
	shown := 0
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 3))
		s := moving(seed, 3, side)
		for i := range s.Looks {
			n := s.Looks[i].Judged()
			s.Looks[i].Finds = 0
			for range n {
				s.Looks[i].Finds += rng.IntN(2)
			}
			s.Looks[i].None = n - s.Looks[i].Finds
		}
		f, err := edge.Fit(s, edge.DefaultOptions())
		require.NoError(t, err)
		if _, err := f.Front(); err == nil {
			shown++
		}
	}
	require.LessOrEqual(t, shown, 1)
}

func TestWindows(t *testing.T) {
	s := edge.Survey{Season: 2026, Places: grid(), Looks: []edge.Look{
		{Places: []int{0}, From: 2020, Through: 2020, None: 4},
		{Places: []int{0}, From: 2022, Through: 2022, None: 3, Unconfirmed: 1},
		{Places: []int{0}, From: 2023, Through: 2025, None: 2, Finds: 1},
		{Places: []int{0}, From: 2026, Through: 2026, None: 5},
		{Places: []int{1}, From: 2021, Through: 2021, Finds: 2},
		{Places: []int{2}, From: 2021, Through: 2021, None: 6},
		{Places: []int{3}, From: 2021, Through: 2021, Unconfirmed: 3},
		{Places: []int{4, 5}, From: 2021, Through: 2021, Finds: 3},
	}}
	require.Equal(t, []edge.Window{
		{Place: 0, Found: true, After: 2022, By: 2025, Looked: 7},
		{Place: 1, Found: true, By: 2021},
		{Place: 2, After: 2021, Looked: 6},
	}, edge.Windows(s))
}
