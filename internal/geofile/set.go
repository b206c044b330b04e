package geofile

import (
	"crypto/sha256"
	"fmt"

	"github.com/twpayne/go-geom"
)

// Set is a county layer and a township layer that belong together, ready to be
// accepted as the boundaries in force.
type Set struct {
	SRID      int
	Digest    [32]byte // of everything in it: the same files give the same digest
	Counties  []County
	Townships []Township
}

// Landmark is a river, a ridge or a town: something that helps a reader find
// the way on a map. Its shape is in longitude and latitude.
type Landmark struct {
	Kind  string // river, ridge, town
	Name  string
	Rank  int // towns: 1 before 2 where there is no room for both
	Shape geom.T
}

// NewSet reads both layers by their field names. Its error is a *Report of all
// that is wrong with the file at fault.
func NewSet(counties, townships Layer, countyFields, townshipFields Fields) (Set, error) {
	if counties.SRID != townships.SRID {
		return Set{}, fmt.Errorf("the county file is in coordinate system %d and the township file in %d: convert one of them",
			counties.SRID, townships.SRID)
	}
	s := Set{SRID: counties.SRID}
	var err error
	if s.Counties, err = counties.Counties(countyFields); err != nil {
		return Set{}, fmt.Errorf("counties: %w", err)
	}
	if s.Townships, err = townships.Townships(townshipFields, s.Counties); err != nil {
		return Set{}, fmt.Errorf("townships: %w", err)
	}
	h := sha256.New()
	fmt.Fprintln(h, "srid", s.SRID)
	for _, c := range s.Counties {
		fmt.Fprintf(h, "county %q %q %v\n", c.Code, c.Name, c.Geometry.FlatCoords())
	}
	for _, t := range s.Townships {
		fmt.Fprintf(h, "township %q %q %q %v\n", t.Code, t.Name, t.County, t.Geometry.FlatCoords())
	}
	s.Digest = [32]byte(h.Sum(nil))
	return s, nil
}
