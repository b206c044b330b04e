package geofile

import (
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/twpayne/go-geom"
)

// Set is a county layer and a township layer that belong together, ready to be
// looked over and accepted as the boundaries in force. The layers may be in
// different coordinate systems.
type Set struct {
	CountyCRS, TownshipCRS CRS
	Digest                 [32]byte // of everything in it: the same files give the same digest
	Counties               []County
	Townships              []Township
	CountySays             bool // the township file names the county of each
}

// Landmark is a river, a road, a ridge or a town: something that helps a reader
// find the way on a map. Its shape is in longitude and latitude.
type Landmark struct {
	Kind  string // see Kinds
	Name  string
	Rank  int // 1 before 2 where there is no room for both
	Shape geom.T
}

// NewSet reads both layers by their field names. Its error is a *Report of all
// that is wrong with the file at fault.
func NewSet(counties, townships Layer, countyFields, townshipFields Fields) (Set, error) {
	s := Set{CountyCRS: counties.CRS(), TownshipCRS: townships.CRS(), CountySays: townshipFields.County != ""}
	var err error
	if s.Counties, err = counties.Counties(countyFields); err != nil {
		return Set{}, fmt.Errorf("counties: %w", err)
	}
	if s.Townships, err = townships.Townships(townshipFields, s.Counties); err != nil {
		return Set{}, fmt.Errorf("townships: %w", err)
	}
	s.Digest = s.digest()
	return s, nil
}

// digest is of what the files say, not of how they are written.
func (s Set) digest() [32]byte {
	h := sha256.New()
	line := func(kind, code, name, county string, shape *geom.MultiPolygon) {
		fmt.Fprintf(h, "%s %q %q %q %v\n", kind, code, name, county, shape.Endss())
		var b []byte
		for _, v := range shape.FlatCoords() {
			if b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v)); len(b) > 32<<10 {
				h.Write(b)
				b = b[:0]
			}
		}
		h.Write(b)
	}
	fmt.Fprintf(h, "%q %q\n", s.CountyCRS, s.TownshipCRS)
	for _, c := range s.Counties {
		line("county", c.Code, c.Name, "", c.Geometry)
	}
	for _, t := range s.Townships {
		line("township", t.Code, t.Name, t.County, t.Geometry)
	}
	return [32]byte(h.Sum(nil))
}

// Titles are the kinds of reference layer there are, and what a layer of one is
// called unless it is given a title.
var Titles = map[string]string{"town": "Towns", "river": "Rivers", "road": "Roads", "ridge": "Ridges"}

// ReferenceLayer is a file of landmarks ready to be laid on maps.
type ReferenceLayer struct {
	Title    string // also what it is replaced by
	Position int    // those with a lower one are drawn first
	CRS      CRS
	Features []Landmark
}

// ErrKind is wrapped when a layer's shapes are not what its kind is drawn with.
var ErrKind = errors.New("the wrong kind of shape")

// NewReferenceLayer makes one of a layer read with Options.Any: towns from
// points, rivers and roads from lines, ridges from areas. name is the field with
// the name, rank the one with a number, 1 before 2, where there is no room for
// all; both may be "".
func NewReferenceLayer(l Layer, kind, name, rank string) (ReferenceLayer, error) {
	title, known := Titles[kind]
	if !known {
		return ReferenceLayer{}, fmt.Errorf("%w: %q is none of town, river, road, ridge", ErrKind, kind)
	}
	if !l.CRS().Known() {
		return ReferenceLayer{}, errNoCRS
	}
	out := ReferenceLayer{Title: title, Position: 1, CRS: l.CRS()}
	r := &records{layer: l, fields: Fields{Name: name}}
	for _, field := range []string{name, rank} {
		if !r.have(field, false) {
			return ReferenceLayer{}, &r.report
		}
	}
	for i, f := range l.Features {
		var fits bool
		switch kind {
		case "town":
			_, fits = f.Sketch.(*geom.MultiPoint)
		case "ridge":
			fits = f.Geometry != nil
		default:
			_, fits = f.Sketch.(*geom.MultiLineString)
		}
		if !fits {
			return ReferenceLayer{}, fmt.Errorf("%w: feature %d cannot be drawn as a %s", ErrKind, i+1, kind)
		}
		m := Landmark{Kind: kind, Rank: 1, Shape: f.shape()}
		if name != "" {
			m.Name = strings.ToValidUTF8(strings.TrimSpace(f.Properties[name]), "")
		}
		if rank != "" {
			if n, err := strconv.Atoi(strings.TrimSpace(f.Properties[rank])); err == nil && n > 0 && n < 1000 {
				m.Rank = n
			}
		}
		out.Features = append(out.Features, m)
	}
	return out, nil
}
