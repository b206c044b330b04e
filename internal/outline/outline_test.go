package outline_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/outline"
)

// area is the area of the rings of a shape, found here independently: by the
// trapezoid rule, holes by their direction.
func area2(s Shape) int64 {
	sum := int64(0)
	for _, polygon := range s {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				sum += int64(ring[i].Y+ring[i-1].Y) * int64(ring[i-1].X-ring[i].X)
			}
		}
	}
	return sum
}

// simple fails unless a shape is as the standard wants it: rings closed, of four
// points or more, through no point twice, no two edges of it crossing, outer
// rings counter-clockwise and holes clockwise. (OGC 06-103r4, 6.1.11, from memory.)
func simple(t require.TestingT, s Shape) {
	type edge struct{ a, b Point }
	var edges []edge
	for _, polygon := range s {
		for i, ring := range polygon {
			require.GreaterOrEqual(t, len(ring), 4)
			require.Equal(t, ring[0], ring[len(ring)-1])
			seen := map[Point]bool{}
			for j, p := range ring[1:] {
				require.False(t, seen[p], "through %v twice", p)
				seen[p] = true
				edges = append(edges, edge{ring[j], p})
			}
			require.Equal(t, i > 0, area2(Shape{{ring}}) < 0, "direction of ring %d", i)
		}
	}
	for i, e := range edges {
		for _, f := range edges[:i] {
			require.False(t, crosses(e.a, e.b, f.a, f.b), "%v crosses %v", e, f)
			require.False(t, e == f || e.a == f.b && e.b == f.a, "%v twice", e)
		}
	}
}

func side(a, b, c Point) float64 { // exact: coordinates in tests are small
	return float64(b.X-a.X)*float64(c.Y-a.Y) - float64(b.Y-a.Y)*float64(c.X-a.X)
}

// crosses is true where segments meet anywhere but at ends of both.
func crosses(a, b, c, d Point) bool {
	between := func(p, q, r Point) bool { // r within pq, given on its line
		return r != p && r != q && min(p.X, q.X) <= r.X && r.X <= max(p.X, q.X) && min(p.Y, q.Y) <= r.Y && r.Y <= max(p.Y, q.Y)
	}
	o := []float64{side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)}
	return o[0]*o[1] < 0 && o[2]*o[3] < 0 ||
		o[0] == 0 && between(a, b, c) || o[1] == 0 && between(a, b, d) ||
		o[2] == 0 && between(c, d, a) || o[3] == 0 && between(c, d, b)
}

func rings(s Shape) int {
	n := 0
	for _, polygon := range s {
		n += len(polygon)
	}
	return n
}

// distance is how far a point is from the rings of a shape.
func distance(p Point, s Shape) float64 {
	best := math.Inf(1)
	for _, polygon := range s {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
				px, py := float64(p.X-a.X), float64(p.Y-a.Y)
				f := max(0, min(1, (px*dx+py*dy)/(dx*dx+dy*dy)))
				best = min(best, math.Hypot(px-f*dx, py-f*dy))
			}
		}
	}
	return best
}

func TestRandomCoverages(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawGrid(t)
		before := g.shapes()
		full, err := outline.New(before)
		require.NoError(t, err)
		tolerance := int32(rapid.SampledFrom([]int{0, 1, 20, 100, 300, 5000}).Draw(t, "tolerance"))
		all := make([]int, len(before))
		same := make([]int32, len(before))
		for i := range all {
			all[i], same[i] = i, tolerance
		}
		less := full.Simplify(same)
		require.LessOrEqual(t, less.Corners(), full.Corners())
		sum := int64(0)
		for i := range before {
			was, now := full.Shape(i), less.Shape(i)
			simple(t, was)
			simple(t, now)
			require.Equal(t, area2(before[i]), area2(was), "putting together changes nothing")
			require.Equal(t, rings(was), rings(now), "every island and every hole stays")
			for _, polygon := range was {
				for _, ring := range polygon {
					for _, p := range ring {
						require.LessOrEqual(t, distance(p, now), float64(tolerance)+1e-6)
					}
				}
			}
			sum += area2(now)
		}
		// No gap and no overlap: what the places cover one by one is what their
		// common outline holds, to the last square unit.
		union := less.Union(all)
		simple(t, union)
		require.Equal(t, area2(union), sum)
		require.Equal(t, rings(full.Union(all)), rings(union))
		for range 30 {
			p := Point{X: int32(rapid.IntRange(-300, 6300).Draw(t, "x")), Y: int32(rapid.IntRange(-300, 6300).Draw(t, "y"))}
			owners := 0
			for i := range before {
				if less.Shape(i).Holds(p) {
					owners++
				}
			}
			require.LessOrEqual(t, owners, 1)
			require.Equal(t, union.Holds(p), owners == 1)
		}
	})
}

// A corner is on the border of all places around it: exactly one holds it.
func TestEveryCornerHasOneOwner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawGrid(t)
		cells := g.cells()
		c, err := outline.New(cells)
		require.NoError(t, err)
		all := make([]int, len(cells))
		for i := range all {
			all[i] = i
		}
		union := c.Union(all)
		for _, p := range c.Points() {
			owners := 0
			for i := range cells {
				if c.Shape(i).Holds(p) {
					owners++
				}
			}
			if union.Holds(p) {
				require.Equal(t, 1, owners, "%v", p)
			} else {
				require.Zero(t, owners, "%v", p)
			}
		}
	})
}

func TestHoldsOnEdges(t *testing.T) {
	west, east, north := Shape{{square(0, 0, 10)}}, Shape{{square(10, 0, 10)}}, Shape{{square(0, 10, 10)}}
	for name, tc := range map[string]struct {
		at   Point
		want []bool
	}{
		"within":                    {Point{X: 5, Y: 5}, []bool{true, false, false}},
		"between west and east":     {Point{X: 10, Y: 5}, []bool{false, true, false}},
		"between south and north":   {Point{X: 5, Y: 10}, []bool{false, false, true}},
		"corner of all three":       {Point{X: 10, Y: 10}, []bool{false, false, false}}, // the empty northeast's
		"southwest corner":          {Point{X: 0, Y: 0}, []bool{true, false, false}},
		"south edge, nobody beyond": {Point{X: 15, Y: 0}, []bool{false, true, false}},
		"east edge, nobody beyond":  {Point{X: 20, Y: 5}, []bool{false, false, false}},
	} {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, tc.want, []bool{west.Holds(tc.at), east.Holds(tc.at), north.Holds(tc.at)})
		})
	}
}

// A county whose edge runs straight past corners of its townships, and a
// township whose neighbor has more corners on their common line.
func TestCornersOnEdgesAreShared(t *testing.T) {
	county := Shape{{square(0, 0, 100)}}
	south := Shape{{{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 50}, {X: 0, Y: 50}, {X: 0, Y: 0}}}}
	northWest := Shape{{{{X: 0, Y: 50}, {X: 40, Y: 50}, {X: 40, Y: 100}, {X: 0, Y: 100}, {X: 0, Y: 50}}}}
	northEast := Shape{{{{X: 40, Y: 50}, {X: 100, Y: 50}, {X: 100, Y: 100}, {X: 40, Y: 100}, {X: 40, Y: 50}}}}
	c, err := outline.New([]Shape{county, south, northWest, northEast})
	require.NoError(t, err)
	require.Equal(t, []outline.Border{{A: 1, B: 2, Length: 40}, {A: 1, B: 3, Length: 60}, {A: 2, B: 3, Length: 50}}, c.Borders())
	require.Equal(t, area2(county), area2(c.Union([]int{1, 2, 3})))
	require.Len(t, c.Shape(1)[0][0], 6, "four corners, the neighbors' between two of them, and the first again")

	// The same in another plane, bent so that the corner leaves the straight line.
	moved := c.Points()
	for i, p := range moved {
		if (p == Point{X: 40, Y: 50}) {
			moved[i].Y = 55
		}
	}
	bent, err := c.Moved(moved)
	require.NoError(t, err)
	require.Equal(t, area2(county), area2(bent.Shape(1))+area2(bent.Shape(2))+area2(bent.Shape(3)))
	require.Greater(t, area2(bent.Shape(1)), area2(c.Shape(1)))
}

// Edges of two layers that cross many times settle on common corners.
func TestCrossingOutlinesSettle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		point := func() Point {
			return Point{X: int32(rapid.IntRange(0, 60).Draw(t, "x")), Y: int32(rapid.IntRange(0, 60).Draw(t, "y"))}
		}
		var shapes []Shape
		for range rapid.IntRange(1, 5).Draw(t, "shapes") {
			a, b, c := point(), point(), point()
			shapes = append(shapes, Shape{{{a, b, c, a}}})
		}
		c, err := outline.New(shapes)
		require.NoError(t, err)
		all := make([]int, len(shapes))
		for i := range shapes {
			all[i] = i
			s := c.Shape(i)
			simple(t, s)
			length := 0.0
			for j := range 3 {
				p, q := shapes[i][0][0][j], shapes[i][0][0][j+1]
				length += math.Hypot(float64(p.X-q.X), float64(p.Y-q.Y))
			}
			// Every edge moves by less than a unit.
			was := math.Abs(float64(area2(shapes[i]))) / 2
			require.InDelta(t, was, float64(area2(s))/2, length+4)
		}
		union := c.Union(all)
		simple(t, union)
		for range 20 { // what is in one of them is in the union, and nothing else
			p := point()
			in := false
			for i := range shapes {
				in = in || c.Shape(i).Holds(p)
			}
			require.Equal(t, in, union.Holds(p), "%v", p)
		}
	})
}

func TestShapesThatTouchThemselves(t *testing.T) {
	hole := reversed(square(10, 0, 10)) // shares part of the outer ring's edge: a bay
	island := square(100, 100, 10)
	corner := square(110, 110, 10) // meets the island at a corner
	lake := reversed([]Point{{X: 0, Y: 20}, {X: 5, Y: 25}, {X: 5, Y: 15}, {X: 0, Y: 20}})
	c, err := outline.New([]Shape{{{square(0, 0, 30), hole, lake}, {island}, {corner}}})
	require.NoError(t, err)
	s := c.Shape(0)
	simple(t, s)
	require.Len(t, s, 3)
	require.Equal(t, int64(2*(900-100-25+100+100)), area2(s))
	require.Len(t, s[0], 2, "the bay is part of the coast, the lake touches it and stays a hole")
}

func TestNarrowShapesCloseUp(t *testing.T) {
	c, err := outline.New([]Shape{{{{{X: 0, Y: 0}, {X: 50, Y: 0}, {X: 100, Y: 0}, {X: 0, Y: 0}}}}, {}, {{nil}}})
	require.NoError(t, err)
	require.Empty(t, c.Shape(0))
	require.Empty(t, c.Shape(1))
	require.Empty(t, c.Union([]int{0, 1, 2}))
	require.Equal(t, 3, c.Len())
}

func TestTooFar(t *testing.T) {
	_, err := outline.New([]Shape{{{square(outline.MaxCoordinate, 0, 1)}}})
	require.ErrorIs(t, err, outline.ErrTooFar)
	edge := int32(outline.MaxCoordinate)
	c, err := outline.New([]Shape{{{square(-edge, -edge, edge), square(-edge+3, -edge+4, 5)}}})
	require.NoError(t, err)
	require.Len(t, c.Shape(0)[0], 2)
}

// lattice is n by n squares, each edge of which has a few corners more.
func lattice(n int) []Shape {
	var out []Shape
	for i := range n * n {
		x, y := int32(i%n)*9656, int32(i/n)*9656 // six miles in meters
		out = append(out, Shape{{square(x, y, 9656)}})
	}
	return out
}

func BenchmarkLattice90000(b *testing.B) {
	shapes := lattice(300)
	same := make([]int32, len(shapes))
	for i := range same {
		same[i] = 20
	}
	b.ReportAllocs()
	for b.Loop() {
		c, err := outline.New(shapes)
		require.NoError(b, err)
		require.Equal(b, 1, rings(c.Simplify(same).Shape(0)))
	}
}
