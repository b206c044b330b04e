package place

import (
	"cmp"
	"slices"
)

// Outlines are the townships of a boundary set as they are drawn: closed rings
// of whole meters in the set's metric coordinate system. The browser matches a
// phone's position against them, so that the position itself goes nowhere.
type Outlines struct {
	Set       int
	SRID      int     // EPSG code of the metric system
	Counties  []Place // by name
	Townships []Outlined
}

// Outlined is a township with its rings, outer and inner ones alike: a point is
// inside where a ray from it crosses them an odd number of times. A ring is x
// and y in turn; its last point is its first.
type Outlined struct {
	Place
	Rings [][]int32
}

// Zone is the zone of the universal transverse Mercator system that the
// outlines are in: EPSG numbers them 32601 to 32660 north of the equator and
// 32701 to 32760 south of it. ok is false for any other system.
func (o *Outlines) Zone() (zone int, south, ok bool) {
	zone = o.SRID % 100
	hundred := o.SRID / 100
	return zone, hundred == 327, (hundred == 326 || hundred == 327) && zone >= 1 && zone <= 60
}

// County is the part of the outlines that lies in one county.
func (o *Outlines) County(id ID) []Outlined {
	var out []Outlined
	for _, t := range o.Townships {
		if t.Place.County == id {
			out = append(out, t)
		}
	}
	return out
}

// Bounds are the least and greatest x and y; false where there is no outline.
func Bounds(list []Outlined) (minX, minY, maxX, maxY int32, ok bool) {
	for _, t := range list {
		for _, ring := range t.Rings {
			for i := 0; i+1 < len(ring); i += 2 {
				x, y := ring[i], ring[i+1]
				if !ok {
					minX, minY, maxX, maxY, ok = x, y, x, y, true
				}
				minX, minY, maxX, maxY = min(minX, x), min(minY, y), max(maxX, x), max(maxY, y)
			}
		}
	}
	return minX, minY, maxX, maxY, ok
}

// Label is where a name fits best: the middle of the longest level line inside
// the township among a few, and how long that line is, in meters.
func (t Outlined) Label() (x, y, width float64) {
	_, minY, _, maxY, ok := Bounds([]Outlined{t})
	if !ok {
		return 0, 0, 0
	}
	for _, part := range []float64{0.5, 0.42, 0.58, 0.34, 0.66} {
		at := float64(minY) + part*float64(maxY-minY) + 0.25 // between whole meters: no corner lies on it
		crossings := t.crossings(at)
		for i := 0; i+1 < len(crossings); i += 2 {
			// A line farther from the middle has to be a good deal longer.
			if w := crossings[i+1] - crossings[i]; w > 1.15*width {
				x, y, width = (crossings[i]+crossings[i+1])/2, at, w
			}
		}
	}
	return x, y, width
}

// crossings are where the outline crosses a level line, from west to east.
func (t Outlined) crossings(y float64) []float64 {
	var out []float64
	for _, ring := range t.Rings {
		for i := 0; i+3 < len(ring); i += 2 {
			x0, y0, x1, y1 := float64(ring[i]), float64(ring[i+1]), float64(ring[i+2]), float64(ring[i+3])
			if (y0 > y) != (y1 > y) {
				out = append(out, x0+(y-y0)/(y1-y0)*(x1-x0))
			}
		}
	}
	slices.SortFunc(out, func(a, b float64) int { return cmp.Compare(a, b) })
	return out
}
