package geofile

import (
	"errors"
	"strconv"

	"github.com/twpayne/go-geom"
)

var (
	errPoints  = errors.New("too many points")
	errPolygon = errors.New("neither polygon nor multipolygon")
	errCoords  = errors.New("coordinates not as the type asks")
)

// readGeometry makes a multipolygon of either kind, and multilines and
// multipoints likewise. left is how many more points the file may have.
func readGeometry(raw *rawGeometry, left *int) (geom.T, error) {
	s := &scanner{b: raw.Coordinates, left: left}
	switch raw.Type {
	case "Polygon", "MultiPolygon":
		read := s.polygon
		if raw.Type == "MultiPolygon" {
			read = func() error { return s.list(s.polygon) }
		}
		if err := read(); err != nil {
			return nil, err
		}
		return geom.NewMultiPolygonFlat(geom.XY, s.flat, s.endss), nil
	case "LineString", "MultiLineString":
		read := s.line
		if raw.Type == "MultiLineString" {
			read = func() error { return s.list(s.line) }
		}
		if err := read(); err != nil {
			return nil, err
		}
		return geom.NewMultiLineStringFlat(geom.XY, s.flat, s.ends), nil
	case "Point", "MultiPoint":
		read := s.position
		if raw.Type == "MultiPoint" {
			read = func() error { return s.list(s.position) }
		}
		if err := read(); err != nil {
			return nil, err
		}
		return geom.NewMultiPointFlat(geom.XY, s.flat), nil
	}
	return nil, errPolygon
}

// scanner walks nested lists of numbers straight into flat coordinates. The
// text is known to be valid JSON, so it only has to tell lists from numbers.
type scanner struct {
	b     []byte
	at    int
	left  *int
	flat  []float64
	ends  []int
	endss [][]int
}

func (s *scanner) line() error {
	if err := s.list(s.position); err != nil {
		return err
	}
	s.ends = append(s.ends, len(s.flat))
	return nil
}

func (s *scanner) polygon() error {
	var ends []int
	err := s.list(func() error {
		if err := s.list(s.position); err != nil {
			return err
		}
		ends = append(ends, len(s.flat))
		return nil
	})
	if len(ends) > 0 {
		s.endss = append(s.endss, ends)
	}
	return err
}

// position reads X and Y and drops whatever else it has.
func (s *scanner) position() error {
	if *s.left == 0 {
		return errPoints
	}
	*s.left--
	n := 0
	err := s.list(func() error {
		v, err := s.number()
		if n++; n <= 2 {
			s.flat = append(s.flat, v)
		}
		return err
	})
	if err == nil && n < 2 {
		err = errCoords
	}
	return err
}

func (s *scanner) number() (float64, error) {
	s.space()
	start := s.at
	for s.at < len(s.b) && isNumberByte(s.b[s.at]) {
		s.at++
	}
	v, err := strconv.ParseFloat(string(s.b[start:s.at]), 64)
	if err != nil {
		return 0, errCoords
	}
	return v, nil
}

// list reads a bracketed list, each item by the given func.
func (s *scanner) list(item func() error) error {
	if s.next() != '[' {
		return errCoords
	}
	s.space()
	if s.at < len(s.b) && s.b[s.at] == ']' {
		s.at++
		return nil
	}
	for {
		if err := item(); err != nil {
			return err
		}
		switch s.next() {
		case ',':
		case ']':
			return nil
		default:
			return errCoords
		}
	}
}

// next is the next byte that is no space, 0 at the end.
func (s *scanner) next() byte {
	s.space()
	if s.at == len(s.b) {
		return 0
	}
	s.at++
	return s.b[s.at-1]
}

func (s *scanner) space() {
	for s.at < len(s.b) && (s.b[s.at] == ' ' || s.b[s.at] == '\n' || s.b[s.at] == '\r' || s.b[s.at] == '\t') {
		s.at++
	}
}

func isNumberByte(c byte) bool {
	return '0' <= c && c <= '9' || c == '-' || c == '+' || c == '.' || c == 'e' || c == 'E'
}
