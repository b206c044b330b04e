// Package geofile reads and writes boundary files: GeoJSON of RFC 7946 and the
// older kind of 2008 that names its coordinate system in a member "crs", zipped
// shapefiles, and GeoPackages.
//
// It checks what can be seen in the file alone. Rings that cross themselves or
// each other, overlaps, and borders shared between places are for the database
// to find.
package geofile

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/twpayne/go-geom"
)

// Feature is one thing on the map: its table row and its outline. Coordinates
// are X (east, longitude) then Y (north, latitude), whatever the coordinate
// system says about their order.
type Feature struct {
	Properties map[string]string  // numbers as written in the file, true and false as words, null as ""
	Geometry   *geom.MultiPolygon // nil only for what is no area
	Sketch     geom.T             // a *geom.MultiLineString or *geom.MultiPoint where Geometry is nil
}

// Layer is a whole boundary file, or one layer of several in it.
type Layer struct {
	Name     string // of the layer; "" if the format has none
	SRID     int    // EPSG code of the coordinates; 0 where it is not known
	WKT      string // the coordinate system in words, where no code is known
	Features []Feature
}

// CRS is the layer's coordinate system.
func (l Layer) CRS() CRS { return CRS{EPSG: l.SRID, WKT: l.WKT} }

// Options say what of a file is wanted.
type Options struct {
	Layer string // the layer's name, for files of several; "" where there is one
	Any   bool   // lines and points too, not areas alone
	CRS   CRS    // the coordinate system, where the file does not say
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
	Bytes    int64 // of the file, unpacked
	Features int
	Points   int // corners of all outlines together
	Columns  int // fields of the table
	Cells    int // fields of all features together
}

// DefaultLimits are far above a state's counties and townships in full detail.
func DefaultLimits() Limits {
	return Limits{Bytes: 256 << 20, Features: 120_000, Points: 4_000_000, Columns: 255, Cells: 4_000_000}
}

// LimitError says which limit a file is over.
type LimitError struct {
	What string // "bytes", "features", "points", "fields" or "cells"
	Most int64
}

func (e *LimitError) Error() string {
	switch e.What {
	case "fields":
		return fmt.Sprintf("the file's table has more than %d fields; leave out those that are not needed", e.Most)
	case "cells":
		return fmt.Sprintf("the file's table has more than %d cells; leave out fields that are not needed", e.Most)
	}
	return fmt.Sprintf("the file has more than %d %s; simplify or split it first", e.Most, e.What)
}

// ErrNotGeoJSON is wrapped when a file is something else, or is broken.
var ErrNotGeoJSON = errors.New("not a usable GeoJSON file")

// ErrFormat is wrapped when a file is of none of the kinds that can be read, or
// is broken.
var ErrFormat = errors.New("not a usable boundary file")

// ErrCRS is wrapped when the file names its coordinate system in a way that
// gives no EPSG code.
var ErrCRS = errors.New("the coordinate system of the file is not known")

// ChooseError: the file has several layers and none was named, or one it does
// not have.
type ChooseError struct{ Layers []string }

func (e *ChooseError) Error() string {
	if len(e.Layers) == 0 {
		return "the file has no layer of shapes"
	}
	return "the file has these layers, say which one: " + strings.Join(e.Layers, ", ")
}
