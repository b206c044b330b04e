package outline_test

import (
	"pgregory.net/rapid"

	"sixmile/internal/outline"
)

// Point, Shape: short names for the tests.
type (
	Point = outline.Point
	Shape = outline.Shape
)

// grid is a coverage made by chance: a lattice with bent corners and jagged
// edges, whose cells are dealt out to places. Every place may be in several
// parts, have holes, and touch itself at corners.
type grid struct {
	w, h   int
	corner [][]Point
	east   [][][]Point // between a corner and the next to the east
	north  [][][]Point
	owner  []int // by cell: place, or -1 for water
	places int
}

const spacing = 1000

// drawGrid bends corners by up to an eighth of the spacing and edges by up to a
// twenty-fifth: no two edges can meet but at corners.
func drawGrid(t *rapid.T) grid {
	g := grid{w: rapid.IntRange(1, 6).Draw(t, "w"), h: rapid.IntRange(1, 6).Draw(t, "h")}
	bend := func(most int) int { return rapid.IntRange(-most, most).Draw(t, "bend") }
	for y := 0; y <= g.h; y++ {
		var row []Point
		for x := 0; x <= g.w; x++ {
			row = append(row, Point{X: int32(x*spacing + bend(spacing/8)), Y: int32(y*spacing + bend(spacing/8))})
		}
		g.corner = append(g.corner, row)
	}
	jag := func(a, b Point) []Point {
		n := rapid.IntRange(0, 8).Draw(t, "jags")
		out := []Point{a}
		for i := 1; i <= n; i++ {
			f := func(p, q int32) int32 { return p + (q-p)*int32(i)/int32(n+1) }
			p := Point{X: f(a.X, b.X), Y: f(a.Y, b.Y)}
			// Across the edge only: along it points keep their order.
			if abs(b.X-a.X) > abs(b.Y-a.Y) {
				p.Y += int32(bend(spacing / 25))
			} else {
				p.X += int32(bend(spacing / 25))
			}
			out = append(out, p)
		}
		return append(out, b)
	}
	for y := 0; y <= g.h; y++ {
		var east, north [][]Point
		for x := 0; x <= g.w; x++ {
			if x < g.w {
				east = append(east, jag(g.corner[y][x], g.corner[y][x+1]))
			}
			if y < g.h {
				north = append(north, jag(g.corner[y][x], g.corner[y+1][x]))
			}
		}
		g.east, g.north = append(g.east, east), append(g.north, north)
	}
	g.places = rapid.IntRange(1, g.w*g.h).Draw(t, "places")
	for range g.w * g.h {
		g.owner = append(g.owner, rapid.IntRange(-1, g.places-1).Draw(t, "owner"))
	}
	return g
}

func abs(v int32) int32 { return max(v, -v) }

// cell is the ring around a cell, counter-clockwise.
func (g grid) cell(x, y int) []Point {
	var ring []Point
	add := func(line []Point, back bool) {
		for i := range len(line) - 1 {
			if back {
				ring = append(ring, line[len(line)-1-i])
			} else {
				ring = append(ring, line[i])
			}
		}
	}
	add(g.east[y][x], false)
	add(g.north[y][x+1], false)
	add(g.east[y+1][x], true)
	add(g.north[y][x], true)
	return append(ring, ring[0])
}

// cells are all cells as shapes of their own.
func (g grid) cells() []Shape {
	var out []Shape
	for i := range g.owner {
		out = append(out, Shape{{g.cell(i%g.w, i/g.w)}})
	}
	return out
}

// shapes are the places, each a heap of cells.
func (g grid) shapes() []Shape {
	out := make([]Shape, g.places)
	for i, o := range g.owner {
		if o >= 0 {
			out[o] = append(out[o], [][]Point{g.cell(i%g.w, i/g.w)})
		}
	}
	return out
}

// square is the ring of a square, counter-clockwise.
func square(x, y, side int32) []Point {
	return []Point{{X: x, Y: y}, {X: x + side, Y: y}, {X: x + side, Y: y + side}, {X: x, Y: y + side}, {X: x, Y: y}}
}

func reversed(ring []Point) []Point {
	out := make([]Point, len(ring))
	for i, p := range ring {
		out[len(ring)-1-i] = p
	}
	return out
}
