package geofile

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/twpayne/go-geom"
)

// ErrShapefile is wrapped when a part of a shapefile is broken or missing.
var ErrShapefile = errors.New("not a usable shapefile")

// Shape types, from the "ESRI Shapefile Technical Description", July 1998. Those
// with heights are ten more, those with measures only twenty more.
const (
	shpNull       = 0
	shpPoint      = 1
	shpPolyline   = 3
	shpPolygon    = 5
	shpMultipoint = 8
)

// shapes reads the .shp part record by record.
type shapes struct {
	in  *bufio.Reader
	b   *builder
	buf []byte
	n   int
}

func newShapes(r io.Reader, b *builder) (*shapes, error) {
	s := &shapes{in: bufio.NewReaderSize(r, 64<<10), b: b}
	var head [100]byte
	if _, err := io.ReadFull(s.in, head[:]); err != nil {
		return nil, shpError(err, "its .shp part ends within the header")
	}
	if binary.BigEndian.Uint32(head[:]) != 9994 || binary.LittleEndian.Uint32(head[28:]) != 1000 {
		return nil, fmt.Errorf("%w: its .shp part does not begin like one", ErrShapefile)
	}
	return s, nil
}

// shpError keeps a limit and a failing disk, and calls the rest a broken file.
func shpError(err error, what string) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Errorf("%w: %s", ErrShapefile, what)
	}
	return err
}

// next reads a shape: nil without an error where the record holds none. io.EOF:
// there are no more.
func (s *shapes) next() (geom.T, error) {
	var head [8]byte
	if _, err := io.ReadFull(s.in, head[:]); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, io.EOF
		}
		return nil, shpError(err, "its .shp part ends within a record")
	}
	s.n++
	size := int64(binary.BigEndian.Uint32(head[4:])) * 2
	// A record holds at most its points and parts with height and measure. The
	// claim is checked before any memory is asked for.
	if most := 100 + 40*int64(s.b.left) + 4; size < 4 || size > most {
		if size > most {
			return nil, s.b.tooManyPoints()
		}
		return nil, fmt.Errorf("%w: record %d has no room for a shape", ErrShapefile, s.n)
	}
	if err := s.fill(int(size)); err != nil {
		return nil, shpError(err, fmt.Sprintf("its .shp part ends within record %d", s.n))
	}
	shape, err := s.shape(s.buf)
	if err != nil {
		var over *LimitError
		if !errors.As(err, &over) {
			err = fmt.Errorf("%w: record %d: %w", ErrShapefile, s.n, err)
		}
	}
	return shape, err
}

// fill reads a record into buf, growing it as data comes and not as is claimed.
func (s *shapes) fill(size int) error {
	s.buf = s.buf[:0]
	const step = 1 << 20
	for len(s.buf) < size {
		from := len(s.buf)
		s.buf = append(s.buf, make([]byte, min(step, size-from))...)
		if _, err := io.ReadFull(s.in, s.buf[from:]); err != nil {
			if errors.Is(err, io.EOF) {
				err = io.ErrUnexpectedEOF
			}
			return err
		}
	}
	return nil
}

var (
	errShortRecord = errors.New("it ends too early")
	errParts       = errors.New("its parts are not in order")
)

func (s *shapes) shape(b []byte) (geom.T, error) {
	kind := binary.LittleEndian.Uint32(b)
	if kind > 30 { // 31 is made of patches, for bodies in space
		return nil, fmt.Errorf("shapes of type %d cannot be used", kind)
	}
	switch kind % 10 {
	case shpNull:
		if kind == shpNull {
			return nil, nil
		}
	case shpPoint:
		if len(b) < 20 {
			return nil, errShortRecord
		}
		return geom.NewMultiPointFlat(geom.XY, []float64{float(b[4:]), float(b[12:])}), s.b.take(1)
	case shpMultipoint:
		if len(b) < 40 {
			return nil, errShortRecord
		}
		flat, err := s.points(b[40:], binary.LittleEndian.Uint32(b[36:]))
		if err != nil {
			return nil, err
		}
		return geom.NewMultiPointFlat(geom.XY, flat), nil
	case shpPolyline, shpPolygon:
		flat, ends, err := s.parts(b)
		if err != nil {
			return nil, err
		}
		if kind%10 == shpPolyline {
			return geom.NewMultiLineStringFlat(geom.XY, flat, ends), nil
		}
		return nest(flat, ends), nil
	}
	return nil, fmt.Errorf("shapes of type %d cannot be used", kind)
}

func float(b []byte) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(b)) }

// points reads n points; heights and measures follow after all of them.
func (s *shapes) points(b []byte, n uint32) ([]float64, error) {
	if uint64(n) > uint64(len(b))/16 {
		return nil, errShortRecord
	}
	if err := s.b.take(int(n)); err != nil {
		return nil, err
	}
	flat := make([]float64, 0, 2*n)
	for i := range int(n) {
		flat = append(flat, float(b[16*i:]), float(b[16*i+8:]))
	}
	return flat, nil
}

// parts reads the lines or rings of a record.
func (s *shapes) parts(b []byte) (flat []float64, ends []int, err error) {
	if len(b) < 44 {
		return nil, nil, errShortRecord
	}
	parts, points := binary.LittleEndian.Uint32(b[36:]), binary.LittleEndian.Uint32(b[40:])
	if uint64(parts) > uint64(len(b)-44)/4 {
		return nil, nil, errShortRecord
	}
	if flat, err = s.points(b[44+4*parts:], points); err != nil {
		return nil, nil, err
	}
	last := -1
	for i := range int(parts) {
		start := int64(binary.LittleEndian.Uint32(b[44+4*i:]))
		if start <= int64(last) || start >= int64(points) || i == 0 && start != 0 {
			return nil, nil, errParts
		}
		if i > 0 {
			ends = append(ends, int(2*start))
		}
		last = int(start)
	}
	if parts > 0 {
		ends = append(ends, len(flat))
	} else if points > 0 {
		return nil, nil, errParts
	}
	return flat, ends, nil
}

// nest sorts rings into polygons. Outer rings run clockwise and holes the other
// way; a hole goes to the smallest outer ring that holds its first point. Where
// no ring is an outer one, as some programs write them, all are; a hole that is
// in none stands as a polygon, and the report will name what it lies over.
func nest(flat []float64, ends []int) *geom.MultiPolygon {
	rings := make([][]float64, len(ends))
	start := 0
	for i, end := range ends {
		rings[i] = flat[start:end]
		start = end
	}
	type polygon struct {
		size  float64
		rings [][]float64
	}
	var polygons []polygon
	var holes [][]float64
	for _, r := range rings {
		if a := turned(r); a <= 0 {
			polygons = append(polygons, polygon{-a, [][]float64{r}})
		} else {
			holes = append(holes, r)
		}
	}
	if len(polygons) == 0 {
		for _, h := range holes {
			polygons = append(polygons, polygon{turned(h), [][]float64{h}})
		}
		holes = nil
	}
	outers := len(polygons)
	for _, h := range holes {
		best := -1
		for i := range polygons[:outers] {
			if inRing(h[0], h[1], polygons[i].rings[0]) && (best < 0 || polygons[i].size < polygons[best].size) {
				best = i
			}
		}
		if best < 0 {
			polygons = append(polygons, polygon{turned(h), [][]float64{h}})
			continue
		}
		polygons[best].rings = append(polygons[best].rings, h)
	}
	out := make([]float64, 0, len(flat))
	var endss [][]int
	for _, p := range polygons {
		var ends []int
		for _, r := range p.rings {
			out = append(out, r...)
			ends = append(ends, len(out))
		}
		endss = append(endss, ends)
	}
	return geom.NewMultiPolygonFlat(geom.XY, out, endss)
}

// turned is twice the area of a ring, positive if it runs counter-clockwise,
// about its first point so that rings far from zero keep their digits.
func turned(r []float64) float64 {
	sum := 0.0
	for i := 2; i+3 < len(r); i += 2 {
		sum += (r[i]-r[0])*(r[i+3]-r[1]) - (r[i+2]-r[0])*(r[i+1]-r[1])
	}
	return sum
}

func inRing(x, y float64, r []float64) bool {
	in := false
	for i, j := 0, len(r)-2; i < len(r); j, i = i, i+2 {
		if (r[i+1] > y) != (r[j+1] > y) && x < (r[j]-r[i])*(y-r[i+1])/(r[j+1]-r[i+1])+r[i] {
			in = !in
		}
	}
	return in
}
