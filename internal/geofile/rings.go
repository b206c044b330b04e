package geofile

import (
	"fmt"

	"github.com/twpayne/go-geom"
)

// checkRings reports what is wrong with the outlines of a feature, each kind
// once.
func checkRings(degrees bool, feature int, shape *geom.MultiPolygon, report *Report) {
	seen := map[Kind]bool{}
	add := func(kind Kind, detail string) {
		if !seen[kind] {
			seen[kind] = true
			report.add(Problem{Feature: feature, Kind: kind, Detail: detail})
		}
	}
	flat := shape.FlatCoords()
	for i := 0; i+1 < len(flat); i += 2 {
		if x, y := flat[i], flat[i+1]; !inRange(degrees, x, y) {
			add(OutOfRange, fmt.Sprintf("%g, %g", x, y))
			break
		}
	}
	start := 0
	for _, ends := range shape.Endss() {
		for _, end := range ends {
			if kind := ringProblem(flat[start:end]); kind != "" {
				add(kind, "")
			}
			if degrees && leaps(flat[start:end]) {
				add(Antimeridian, "")
			}
			start = end
		}
	}
}

// leaps reports whether an edge of a ring goes more than half around the earth,
// as where the outline of one side goes on at the other.
func leaps(ring []float64) bool {
	for i := 2; i+1 < len(ring); i += 2 {
		if d := ring[i] - ring[i-2]; d > 180 || d < -180 {
			return true
		}
	}
	return false
}

// maxProjected is farther than any projected coordinate in meters or feet
// reaches on the earth.
const maxProjected = 1e9

func inRange(degrees bool, x, y float64) bool {
	if degrees {
		return x >= -180 && x <= 180 && y >= -90 && y <= 90
	}
	return x >= -maxProjected && x <= maxProjected && y >= -maxProjected && y <= maxProjected
}

// ringProblem says what is wrong with a ring of X and Y in turn, "" if nothing.
func ringProblem(ring []float64) Kind {
	n := len(ring)
	switch {
	case n < 2*4:
		return ShortRing
	case ring[0] != ring[n-2] || ring[1] != ring[n-1]:
		return OpenRing
	}
	twice := 0.0 // the area, about the first point so that small rings far away keep their digits
	for i := 2; i+3 < n; i += 2 {
		twice += (ring[i]-ring[0])*(ring[i+3]-ring[1]) - (ring[i+2]-ring[0])*(ring[i+1]-ring[1])
	}
	if twice == 0 {
		return FlatRing
	}
	return ""
}
