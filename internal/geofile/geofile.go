// Package geofile reads and writes boundary files: GeoJSON of RFC 7946, and
// the older kind of 2008 that names its coordinate system in a member "crs".
//
// It checks what can be seen in the file alone. Rings that cross themselves or
// each other, overlaps, and borders shared between places are for the database
// to find.
package geofile

import (
	"errors"
	"fmt"
	"slices"

	"github.com/twpayne/go-geom"
)

// Feature is one thing on the map: its table row and its outline. Coordinates
// are X (east, longitude) then Y (north, latitude), whatever the coordinate
// system says about their order.
type Feature struct {
	Properties map[string]string // numbers as written in the file, true and false as words, null as ""
	Geometry   *geom.MultiPolygon
}

// Layer is a whole boundary file.
type Layer struct {
	SRID     int // EPSG code of the coordinates; 4326 unless the file names another
	Features []Feature
}

// Fields lists the names of all properties in the layer, sorted.
func (l Layer) Fields() []string {
	seen := map[string]bool{}
	var names []string
	for _, f := range l.Features {
		for name := range f.Properties {
			if !seen[name] {
				seen[name] = true
				names = append(names, name)
			}
		}
	}
	slices.Sort(names)
	return names
}

// Limits bound what a file may ask of the machine.
type Limits struct {
	Bytes    int64
	Features int
	Points   int // corners of all outlines together
}

// DefaultLimits are far above a state's counties and townships in full detail.
func DefaultLimits() Limits {
	return Limits{Bytes: 256 << 20, Features: 20_000, Points: 4_000_000}
}

// LimitError says which limit a file is over.
type LimitError struct {
	What string // "bytes", "features" or "points"
	Most int64
}

func (e *LimitError) Error() string {
	return fmt.Sprintf("the file has more than %d %s; simplify or split it first", e.Most, e.What)
}

// ErrNotGeoJSON is wrapped when a file is something else, or is broken.
var ErrNotGeoJSON = errors.New("not a usable GeoJSON file")

// ErrCRS is wrapped when the file names its coordinate system in a way that
// gives no EPSG code.
var ErrCRS = errors.New("the coordinate system of the file is not known")
