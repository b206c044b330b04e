package world

import (
	"bytes"
	"encoding/json"
	"strconv"
)

// The layers below are GeoJSON by RFC 7946: longitude first, WGS 84, outer
// rings counter-clockwise, rings closed. The same world gives the same bytes.

// CountiesGeoJSON is the counties, with properties code and name.
func (w *World) CountiesGeoJSON() []byte {
	var l layer
	for _, c := range w.Counties {
		l.add(polygonText(c.Outline), "code", c.Code, "name", c.Name)
	}
	return l.bytes()
}

// TownshipsGeoJSON is the places, with properties code, name and county (its
// code). The code repeats where a county line cuts a township; code and county
// together do not.
func (w *World) TownshipsGeoJSON() []byte {
	var l layer
	for _, t := range w.Townships {
		l.add(polygonText(t.Outline), "code", t.Code, "name", t.Name, "county", t.County)
	}
	return l.bytes()
}

// layer gathers features as text.
type layer struct{ features bytes.Buffer }

// add writes a feature with text properties given as name, value pairs.
func (l *layer) add(geometry []byte, properties ...string) {
	if l.features.Len() > 0 {
		l.features.WriteString(",\n")
	}
	l.features.WriteString(`{"type":"Feature","properties":{`)
	for i, p := range properties {
		if i > 0 {
			l.features.WriteByte(",:"[i%2])
		}
		text, err := json.Marshal(p)
		if err != nil { // a string always has a JSON form
			panic(err)
		}
		l.features.Write(text)
	}
	l.features.WriteString(`},"geometry":`)
	l.features.Write(geometry)
	l.features.WriteByte('}')
}

func (l *layer) bytes() []byte {
	return append(append([]byte(`{"type":"FeatureCollection","features":[`+"\n"), l.features.Bytes()...), "\n]}\n"...)
}

func geometry(kind string, coordinates []byte) []byte {
	return append(append([]byte(`{"type":"`+kind+`","coordinates":`), coordinates...), '}')
}

func polygonText(p Polygon) []byte {
	return geometry("Polygon", append(append([]byte{'['}, positions(p.Outer)...), ']'))
}

func positions(line []LonLat) []byte {
	out := []byte{'['}
	for i, p := range line {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(out, position(p)...)
	}
	return append(out, ']')
}

func position(p LonLat) []byte {
	out := strconv.AppendFloat([]byte{'['}, p.Lon, 'f', -1, 64)
	out = append(out, ',')
	return append(strconv.AppendFloat(out, p.Lat, 'f', -1, 64), ']')
}
