// Package outline turns the outlines of places that border each other into
// outlines for drawing. An edge that two places share is found once, simplified
// once, and put back into both, so that neighbors meet without gap or overlap
// whatever the paper.
//
// All coordinates are whole numbers and all decisions are made in whole
// numbers: the same boundaries give the same outlines on every machine.
package outline

import (
	"errors"
	"fmt"
)

// Point is a place on a plane, y northward. Units are the caller's.
type Point struct{ X, Y int32 }

// Shape is a set of polygons, each its outer ring first, then its holes. A
// ring's last point is its first again.
type Shape [][][]Point

// MaxCoordinate is how far from zero a coordinate may be: products of
// differences then fit into 64 bits. It is more than ten times around the
// earth in meters, and 360 degrees in millionths have room too.
const MaxCoordinate = 1 << 29

// ErrTooFar is wrapped when a coordinate is beyond MaxCoordinate.
var ErrTooFar = errors.New("coordinate too far out")

// errUnsettled should never be met: edges were still crossing after so many
// rounds of putting corners where they cross.
var errUnsettled = errors.New("outlines do not settle on whole numbers")

// cross is the product of b-a and c-a: positive if c is left of the line from
// a to b, twice the area of their triangle.
func cross(a, b, c Point) int64 {
	return (int64(b.X)-int64(a.X))*(int64(c.Y)-int64(a.Y)) - (int64(b.Y)-int64(a.Y))*(int64(c.X)-int64(a.X))
}

// area2 is twice the area of a closed ring, positive if it runs counter-clockwise.
func area2(ring []Point) int64 {
	sum := int64(0)
	for i := 1; i+1 < len(ring); i++ {
		sum += cross(ring[0], ring[i], ring[i+1])
	}
	return sum
}

// Holds reports whether a point belongs to the shape. Of places that border
// each other exactly one holds a point on their border: that to the east of it;
// on an edge that runs due east and west, that to the north. (The point counts
// as moved east by less than anything that can be measured, and north by less
// still.) So every point within a county belongs to one township.
func (s Shape) Holds(p Point) bool {
	in := false
	for _, polygon := range s {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				if eastOf(p, ring[i-1], ring[i]) {
					in = !in
				}
			}
		}
	}
	return in
}

// eastOf reports whether a line from p due east crosses the edge from a to b,
// whose lower end counts as part of it and whose upper end does not.
func eastOf(p, a, b Point) bool {
	switch {
	case a.Y <= p.Y && p.Y < b.Y:
		return cross(a, b, p) > 0
	case b.Y <= p.Y && p.Y < a.Y:
		return cross(b, a, p) > 0
	}
	return false
}

func checkRange(shapes []Shape) error {
	for i, s := range shapes {
		for _, polygon := range s {
			for _, ring := range polygon {
				for _, p := range ring {
					if p.X > MaxCoordinate || p.X < -MaxCoordinate || p.Y > MaxCoordinate || p.Y < -MaxCoordinate {
						return fmt.Errorf("outline: shape %d: %w", i, ErrTooFar)
					}
				}
			}
		}
	}
	return nil
}
