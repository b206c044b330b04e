package geofile

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"

	"github.com/twpayne/go-geom"
)

// errNumber is wrapped when a coordinate is no number JSON can hold.
var errNumber = errors.New("coordinate is not a finite number")

// WriteGeoJSON writes a layer as a feature collection of multipolygons (of
// multilines and multipoints where it has lines and points), one feature a line, properties sorted and as text. Coordinates keep every digit.
// A layer in another system than WGS 84 gets the member "crs" of the 2008
// format, since RFC 7946 has no way to say so. ReadGeoJSON gives the layer back.
func WriteGeoJSON(w io.Writer, l Layer) error {
	out := bufio.NewWriter(w)
	out.WriteString(`{"type":"FeatureCollection",`)
	if l.SRID != wgs84 && l.SRID != 0 {
		fmt.Fprintf(out, `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::%d"}},`, l.SRID)
	}
	out.WriteString(`"features":[`)
	for i, f := range l.Features {
		if i > 0 {
			out.WriteByte(',')
		}
		if err := writeFeature(out, f); err != nil {
			return fmt.Errorf("write GeoJSON: feature %d: %w", i+1, err)
		}
	}
	out.WriteString("\n]}\n")
	if err := out.Flush(); err != nil { // a failed write above is kept and told here
		return fmt.Errorf("write GeoJSON: %w", err)
	}
	return nil
}

func writeFeature(out *bufio.Writer, f Feature) error {
	out.WriteString("\n" + `{"type":"Feature","properties":{`)
	for i, name := range slices.Sorted(maps.Keys(f.Properties)) {
		if i > 0 {
			out.WriteByte(',')
		}
		for j, text := range []string{name, f.Properties[name]} {
			b, err := json.Marshal(text)
			if err != nil {
				return err
			}
			if j > 0 {
				out.WriteByte(':')
			}
			out.Write(b)
		}
	}
	out.WriteString(`},"geometry":{"type":"`)
	if err := writeShape(out, f.shape()); err != nil {
		return err
	}
	out.WriteString("}}")
	return nil
}

// writeShape writes the name of the type and what follows it.
func writeShape(out *bufio.Writer, shape geom.T) error {
	flat, stride, start := shape.FlatCoords(), shape.Stride(), 0
	lines := func(ends []int) error {
		for j, end := range ends {
			comma(out, j)
			if err := writeRing(out, flat[start:end], stride); err != nil {
				return err
			}
			start = end
		}
		out.WriteByte(']')
		return nil
	}
	switch shape := shape.(type) {
	case *geom.MultiPoint:
		out.WriteString(`MultiPoint","coordinates":`)
		return writeRing(out, flat, stride)
	case *geom.MultiLineString:
		out.WriteString(`MultiLineString","coordinates":[`)
		return lines(shape.Ends())
	case *geom.MultiPolygon:
		out.WriteString(`MultiPolygon","coordinates":[`)
		for i, ends := range shape.Endss() {
			comma(out, i)
			out.WriteByte('[')
			if err := lines(ends); err != nil {
				return err
			}
		}
		out.WriteByte(']')
	}
	return nil
}

func writeRing(out *bufio.Writer, ring []float64, stride int) error {
	var digits [40]byte
	out.WriteByte('[')
	for i := 0; i+1 < len(ring); i += stride {
		comma(out, i)
		for j, v := range ring[i : i+2] {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return errNumber
			}
			out.WriteByte("[,"[j])
			out.Write(strconv.AppendFloat(digits[:0], v, 'g', -1, 64))
		}
		out.WriteByte(']')
	}
	out.WriteByte(']')
	return nil
}

// comma separates all items but the first.
func comma(out *bufio.Writer, i int) {
	if i > 0 {
		out.WriteByte(',')
	}
}
