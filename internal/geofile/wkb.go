package geofile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/twpayne/go-geom"
)

var errWKB = errors.New("its shape cannot be read")

// Geometry types of well-known binary, OGC 06-103r4 (from memory; checked
// against files that GDAL wrote in the tests).
const (
	wkbPoint = iota + 1
	wkbLine
	wkbPolygon
	wkbMultiPoint
	wkbMultiLine
	wkbMultiPolygon
)

// wkbReader reads well-known binary. No claim of a count makes it ask for
// memory: it takes points one by one, each out of the file's allowance.
type wkbReader struct {
	b     []byte
	order binary.ByteOrder
	dims  int
	left  *builder

	flat  []float64
	ends  []int
	endss [][]int
}

// readWKB reads a shape; a nil one is empty.
func readWKB(b []byte, left *builder) (geom.T, error) {
	r := &wkbReader{b: b, left: left}
	kind, err := r.head()
	if err != nil {
		return nil, err
	}
	switch kind {
	case wkbPoint:
		err = r.position()
	case wkbLine:
		err = r.line()
	case wkbPolygon:
		err = r.polygon()
	case wkbMultiPoint:
		err = r.members(wkbPoint, r.position)
	case wkbMultiLine:
		err = r.members(wkbLine, r.line)
	case wkbMultiPolygon:
		err = r.members(wkbPolygon, r.polygon)
	default:
		return nil, fmt.Errorf("%w: a shape of type %d", errWKB, kind)
	}
	if err != nil {
		return nil, err
	}
	if len(r.b) > 0 {
		return nil, errWKB
	}
	return r.geometry(kind), nil
}

func (r *wkbReader) geometry(kind int) geom.T {
	switch kind {
	case wkbPoint, wkbMultiPoint:
		if len(r.flat) == 2 && math.IsNaN(r.flat[0]) && math.IsNaN(r.flat[1]) {
			return geom.NewMultiPoint(geom.XY) // how an empty point is written
		}
		return geom.NewMultiPointFlat(geom.XY, r.flat)
	case wkbLine, wkbMultiLine:
		return geom.NewMultiLineStringFlat(geom.XY, r.flat, r.ends)
	}
	return geom.NewMultiPolygonFlat(geom.XY, r.flat, r.endss)
}

// head reads byte order and type, and how many numbers a position has.
func (r *wkbReader) head() (kind int, err error) {
	if len(r.b) < 5 {
		return 0, errWKB
	}
	switch r.b[0] {
	case 0:
		r.order = binary.BigEndian
	case 1:
		r.order = binary.LittleEndian
	default:
		return 0, errWKB
	}
	code := r.order.Uint32(r.b[1:])
	r.b = r.b[5:]
	if code >= 4000 {
		return 0, errWKB
	}
	r.dims = 2 + [4]int{0, 1, 1, 2}[code/1000] // heights, measures, both
	return int(code % 1000), nil
}

func (r *wkbReader) count() (uint32, error) {
	if len(r.b) < 4 {
		return 0, errWKB
	}
	n := r.order.Uint32(r.b)
	r.b = r.b[4:]
	return n, nil
}

// position keeps X and Y and drops the rest.
func (r *wkbReader) position() error {
	if len(r.b) < 8*r.dims {
		return errWKB
	}
	if err := r.left.take(1); err != nil {
		return err
	}
	for i := range 2 {
		r.flat = append(r.flat, math.Float64frombits(r.order.Uint64(r.b[8*i:])))
	}
	r.b = r.b[8*r.dims:]
	return nil
}

func (r *wkbReader) positions() error {
	n, err := r.count()
	for ; n > 0 && err == nil; n-- {
		err = r.position()
	}
	return err
}

func (r *wkbReader) line() error {
	err := r.positions()
	r.ends = append(r.ends, len(r.flat))
	return err
}

func (r *wkbReader) polygon() error {
	n, err := r.count()
	var ends []int
	for ; n > 0 && err == nil; n-- {
		err = r.positions()
		ends = append(ends, len(r.flat))
	}
	if len(ends) > 0 {
		r.endss = append(r.endss, ends)
	}
	return err
}

// members reads the parts of a multi-shape, each with a head of its own.
func (r *wkbReader) members(want int, read func() error) error {
	n, err := r.count()
	for ; n > 0 && err == nil; n-- {
		var kind int
		if kind, err = r.head(); err == nil && kind != want {
			err = errWKB
		}
		if err == nil {
			err = read()
		}
	}
	return err
}
