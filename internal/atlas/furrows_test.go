package atlas

import (
	"cmp"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// ragged draws a star-shaped polygon of 5 to 40 corners, often squeezed to a
// sliver one way or the other.
func ragged() *rapid.Generator[Ring] {
	return rapid.Custom(func(t *rapid.T) Ring {
		n := rapid.IntRange(5, 40).Draw(t, "corners")
		size := float64(rapid.IntRange(200, 3000).Draw(t, "size"))
		sx := float64(rapid.IntRange(5, 100).Draw(t, "squeezeX")) / 100
		sy := float64(rapid.IntRange(5, 100).Draw(t, "squeezeY")) / 100
		r := make(Ring, 0, n)
		for i := range n {
			radius := size * float64(rapid.IntRange(30, 100).Draw(t, "radius")) / 100
			a := 2 * math.Pi * float64(i) / float64(n)
			r = append(r, XY{5000 + Unit(radius*sx*math.Cos(a)), 5000 + Unit(radius*sy*math.Sin(a))})
		}
		return tidy(r)
	})
}

// boxInside reports, by ray casting and by exact crossings, whether the whole box
// lies inside the rings without touching them: written apart from the code it
// checks.
func boxInside(rings []Ring, b Box) bool {
	corners := []XY{{b.X0, b.Y0}, {b.X1, b.Y0}, {b.X1, b.Y1}, {b.X0, b.Y1}}
	odd := 0
	c := corners[0]
	for _, r := range rings {
		for i := range r {
			p, q := r[i], r[(i+1)%len(r)]
			for j := range corners {
				if segmentsCross(p, q, corners[j], corners[(j+1)%4]) {
					return false
				}
			}
			if b.has(p) {
				return false // a corner of the figure inside the box
			}
			if (p.Y > c.Y) != (q.Y > c.Y) {
				x := float64(p.X) + float64(c.Y-p.Y)*float64(q.X-p.X)/float64(q.Y-p.Y)
				if x > float64(c.X) {
					odd++
				}
			}
		}
	}
	return odd%2 == 1
}

func turn(a, b, c XY) int64 {
	return int64(b.X-a.X)*int64(c.Y-a.Y) - int64(b.Y-a.Y)*int64(c.X-a.X)
}

// segmentsCross reports whether two segments have a point in common.
func segmentsCross(a, b, c, d XY) bool {
	if max(a.X, b.X) < min(c.X, d.X) || max(c.X, d.X) < min(a.X, b.X) ||
		max(a.Y, b.Y) < min(c.Y, d.Y) || max(c.Y, d.Y) < min(a.Y, b.Y) {
		return false
	}
	sign := func(v int64) int { return cmp.Compare(v, 0) }
	return sign(turn(a, b, c))*sign(turn(a, b, d)) <= 0 && sign(turn(c, d, a))*sign(turn(c, d, b)) <= 0
}

func TestFurrowsLieInsideAnyShape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ring := ragged().Draw(t, "ring")
		if len(ring) < 3 || area2(ring) < 20000 {
			t.Skip("no room for anything")
		}
		f := newFigure([]Ring{ring})
		k := rapid.IntRange(1, MaxClasses).Draw(t, "lines")
		var avoid []Box
		if rapid.Bool().Draw(t, "label") {
			x := f.box.X0 + Unit(rapid.IntRange(0, int(f.box.width())).Draw(t, "x"))
			avoid = []Box{{x, f.box.Y0, x + f.box.width()/4, f.box.Y0 + f.box.height()/4}}
		}
		lines, r := new(scanner).furrows(f, k, MaxClasses, avoid)
		require.Len(t, lines, k, "the number of lines is the class")
		for i, l := range lines {
			require.Equal(t, l.A.Y, l.B.Y)
			require.Greater(t, l.B.X, l.A.X)
			if i > 0 {
				require.Equal(t, r.pitch, l.A.Y-lines[i-1].A.Y, "evenly spaced")
			}
			ink := Box{l.A.X, l.A.Y - r.width/2, l.B.X, l.B.Y + r.width/2}
			require.True(t, boxInside([]Ring{ring}, ink), "line %d of %d: %v", i, k, ink)
			require.False(t, meetsAny(ink, avoid), "line %d under the label", i)
		}
		require.Less(t, r.width, r.pitch, "lines do not touch")
	})
}

func TestFurrowsOfASquareAreCenteredAndEqual(t *testing.T) {
	f := newFigure([]Ring{{{0, 0}, {1500, 0}, {1500, 1500}, {0, 1500}}})
	for k := 1; k <= MaxClasses; k++ {
		lines, _ := new(scanner).furrows(f, k, MaxClasses, nil)
		require.Len(t, lines, k)
		require.InDelta(t, 750, float64(lines[0].A.Y+lines[k-1].A.Y)/2, 2)
		for _, l := range lines {
			require.Equal(t, lines[0].A.X, l.A.X)
			require.Equal(t, lines[0].B.X, l.B.X)
			require.InDelta(t, 750, float64(l.A.X+l.B.X)/2, 1, "equal side margins")
			require.Greater(t, l.A.X, Unit(100), "side margin")
		}
	}
}

func TestFurrowsSkipHoles(t *testing.T) {
	outer := Ring{{0, 0}, {3000, 0}, {3000, 3000}, {0, 3000}}
	hole := Ring{{800, 800}, {2800, 800}, {2800, 2200}, {800, 2200}}
	rings := []Ring{outer, hole}
	lines, r := new(scanner).furrows(newFigure(rings), 3, 3, nil)
	require.Len(t, lines, 3)
	for _, l := range lines {
		require.True(t, boxInside(rings, Box{l.A.X, l.A.Y - r.width/2, l.B.X, l.B.Y + r.width/2}))
	}
}

func TestStippleLiesInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ring := ragged().Draw(t, "ring")
		if len(ring) < 3 {
			t.Skip()
		}
		for _, d := range new(scanner).stipple(newFigure([]Ring{ring}), nil) {
			require.True(t, boxInside([]Ring{ring}, Box{d.A.X - 19, d.A.Y - 19, d.A.X + 19, d.A.Y + 19}))
		}
	})
}

func TestBrokenLineBeginsAndEndsWithADash(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := Unit(rapid.IntRange(60, 6000).Draw(t, "length"))
		r := rule{width: Unit(rapid.IntRange(5, 90).Draw(t, "width"))}
		l, d := broken(Segment{XY{700, 5}, XY{700 + length, 5}}, r)
		require.Len(t, d, 2)
		require.Zero(t, (l.length()-d[0])%(d[0]+d[1]), "it ends with a whole dash")
		require.Greater(t, l.length(), d[0]+d[1], "at least two dashes, or it would look solid")
		require.LessOrEqual(t, l.length(), length)
		require.GreaterOrEqual(t, l.length()*10, length*8, "most of the line is used")
		require.InDelta(t, 700+float64(length)/2, float64(l.A.X+l.B.X)/2, 1, "centered")
	})
}

func TestClippedRingsStayInTheFrame(t *testing.T) {
	frame := Box{4000, 4200, 6000, 5800}
	rapid.Check(t, func(t *rapid.T) {
		ring := ragged().Draw(t, "ring")
		out := clipRing(append(Ring{}, ring...), frame)
		for _, p := range out {
			require.True(t, frame.has(p), "%v", p)
		}
		// A point of a coarse lattice is inside both or outside both.
		for x := frame.X0 + 7; x < frame.X1; x += 199 {
			for y := frame.Y0 + 7; y < frame.Y1; y += 199 {
				at := Box{x - 2, y - 2, x + 2, y + 2}
				if boxInside([]Ring{ring}, at) {
					require.True(t, boxInside([]Ring{out}, Box{x, y, x, y}), "%d %d", x, y)
				}
			}
		}
	})
}

func TestClippedLinesStayInTheFrame(t *testing.T) {
	frame := Box{4000, 4200, 6000, 5800}
	rapid.Check(t, func(t *rapid.T) {
		for _, part := range clipLine(ragged().Draw(t, "line"), frame) {
			require.GreaterOrEqual(t, len(part), 2)
			for _, p := range part {
				require.True(t, frame.grow(1).has(p), "%v", p)
			}
		}
	})
	require.Empty(t, clipLine(Ring{{0, 0}, {100, 100}}, frame))
	require.Equal(t, []Ring{{{4000, 5000}, {6000, 5000}}}, clipLine(Ring{{0, 5000}, {9000, 5000}}, frame))
}

func TestJoinedLinesLeaveOwnFiguresFree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 4).Draw(t, "columns")
		k := rapid.IntRange(1, MaxClasses).Draw(t, "lines")
		side := Unit(rapid.IntRange(300, 2500).Draw(t, "side"))
		var cells, own []*figure
		for i := range n * 3 {
			x, y := Unit(i%n)*side, Unit(i/n)*side
			f := newFigure([]Ring{rect(x, y, side, side)})
			if len(own) < n*3-2 && rapid.Bool().Draw(t, "own") {
				own = append(own, f)
			} else {
				cells = append(cells, f)
			}
		}
		union := newFigure([]Ring{rect(0, 0, side*Unit(n), side*3)})
		r := ruleFor(side, k, MaxClasses)
		lines := new(scanner).across(union, k, r, cells, own, nil)
		heights := map[Unit]bool{}
		for _, l := range lines {
			heights[l.A.Y] = true
			ink := Box{l.A.X, l.A.Y - r.width/2, l.B.X, l.B.Y + r.width/2}
			require.True(t, boxInside(union.rings, ink))
			for _, o := range own {
				require.False(t, o.box.meets(ink), "over a township with figures of its own")
			}
		}
		require.Len(t, heights, k, "the number of lines is the class")
	})
}

func TestInsetLiesInside(t *testing.T) {
	ring := rect(0, 0, 1000, 800)
	require.Equal(t, []Ring{{{40, 40}, {960, 40}, {960, 760}, {40, 760}}}, insetAll([]Ring{ring}, 40))
	hole := rect(300, 300, 200, 200)
	got := insetAll([]Ring{ring, hole}, 40)
	require.Len(t, got, 2)
	require.Equal(t, Box{260, 260, 540, 540}, newFigure(got[1:]).box, "away from the hole, into the figure")
}
