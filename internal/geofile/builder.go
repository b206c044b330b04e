package geofile

import (
	"math"

	"github.com/twpayne/go-geom"
)

// builder gathers a layer feature by feature, whatever the format, within the
// limits.
type builder struct {
	lim    Limits
	opt    Options
	left   int // points still allowed
	cells  int // fields met so far
	at     int // number of the feature being read, from 1
	fields map[string]bool
	layer  Layer
	report Report
}

func newBuilder(lim Limits, opt Options) *builder {
	return &builder{lim: lim, opt: opt, left: lim.Points, fields: map[string]bool{}}
}

// next begins a feature.
func (b *builder) next() error {
	if b.at == b.lim.Features {
		return &LimitError{What: "features", Most: int64(b.lim.Features)}
	}
	b.at++
	return nil
}

// columns checks how many fields a table has.
func (b *builder) columns(n int) error {
	if n > b.lim.Columns {
		return &LimitError{What: "fields", Most: int64(b.lim.Columns)}
	}
	return nil
}

// take uses up points.
func (b *builder) take(n int) error {
	if n > b.left {
		return b.tooManyPoints()
	}
	b.left -= n
	return nil
}

func (b *builder) tooManyPoints() error {
	return &LimitError{What: "points", Most: int64(b.lim.Points)}
}

func (b *builder) problem(kind Kind, detail string) {
	b.report.add(Problem{Feature: b.at, Kind: kind, Detail: detail})
}

// add keeps the feature, or reports why it cannot be used.
func (b *builder) add(properties map[string]string, shape geom.T) error {
	b.cells += len(properties)
	if b.cells > b.lim.Cells {
		return &LimitError{What: "cells", Most: int64(b.lim.Cells)}
	}
	for name := range properties {
		b.fields[name] = true
	}
	if err := b.columns(len(b.fields)); err != nil {
		return err
	}
	f := Feature{Properties: properties}
	switch shape := shape.(type) {
	case *geom.MultiPolygon:
		f.Geometry = shape
	case *geom.MultiLineString, *geom.MultiPoint:
		f.Sketch = shape
		if !b.opt.Any {
			b.problem(NotPolygon, kindOf(shape))
			return nil
		}
	default:
		b.problem(NoGeometry, "")
		return nil
	}
	switch {
	case len(shape.FlatCoords()) == 0:
		b.problem(NoGeometry, "")
	case !finite(shape.FlatCoords()):
		b.problem(BadPosition, "")
	default:
		b.layer.Features = append(b.layer.Features, f)
	}
	return nil
}

func kindOf(shape geom.T) string {
	if _, is := shape.(*geom.MultiPoint); is {
		return "point"
	}
	return "line"
}

func finite(flat []float64) bool {
	for _, v := range flat {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// done ends the layer: the error is the report, if there is anything in it.
func (b *builder) done() error {
	if err := b.report.err(); err != nil {
		return err
	}
	if crs := b.opt.CRS; !b.layer.CRS().Known() {
		b.layer.SRID, b.layer.WKT = crs.EPSG, crs.WKT
	}
	for _, f := range b.layer.Features {
		switch {
		case f.Geometry != nil:
			f.Geometry.SetSRID(b.layer.SRID)
		default:
			setSRID(f.Sketch, b.layer.SRID)
		}
	}
	return nil
}

func setSRID(shape geom.T, srid int) {
	switch g := shape.(type) {
	case *geom.MultiLineString:
		g.SetSRID(srid)
	case *geom.MultiPoint:
		g.SetSRID(srid)
	}
}
