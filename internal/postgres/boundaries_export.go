package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"
	"github.com/twpayne/go-geom"

	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
)

// Export reads a set as layers in longitude and latitude: counties, townships,
// districts, and one per reference layer. Rings run as RFC 7946 wants: outer ones
// counter-clockwise. Set 0 is the one in force. fault.ErrNotFound: no such set.
func (s *Boundaries) Export(ctx context.Context, set int) (_ []geofile.Layer, err error) {
	defer wrap(&err, "Boundaries.Export")
	if set == 0 {
		if set, err = currentSet(ctx, s.db); err != nil {
			return nil, err
		}
	}
	rows, err := s.db.Query(ctx, `
		SELECT p.kind, s.code, s.name, coalesce(c.code, ''), coalesce(d.code, ''), ST_ForcePolygonCCW(s.geom)
		  FROM open.place_shape s
		  JOIN open.place p ON p.id = s.place
		  LEFT JOIN open.place_shape c ON c.set = s.set AND c.place = p.county
		  LEFT JOIN open.district m ON m.set = s.set AND m.township = s.place
		  LEFT JOIN open.place_shape d ON d.set = s.set AND d.place = m.district
		 WHERE s.set = $1
		 ORDER BY p.kind, coalesce(c.code, s.code), s.code`, set)
	if err != nil {
		return nil, err
	}
	layers := []geofile.Layer{{Name: "counties", SRID: 4326}, {Name: "townships", SRID: 4326}, {Name: "districts", SRID: 4326}}
	at := map[string]int{"county": 0, "township": 1, "district": 2}
	var kind, code, name, county, district string
	var shape geom.T
	_, err = pgx.ForEachRow(rows, []any{&kind, &code, &name, &county, &district, &shape}, func() error {
		f := geofile.Feature{Properties: map[string]string{"code": code, "name": name}, Geometry: shape.(*geom.MultiPolygon)}
		if kind != "county" {
			f.Properties["county"] = county
		}
		if kind == "township" {
			f.Properties["district"] = district
		}
		l := &layers[at[kind]]
		l.Features = append(l.Features, f)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(layers[0].Features) == 0 {
		return nil, fault.ErrNotFound
	}
	reference, err := s.exportLayers(ctx, set)
	return append(layers, reference...), err
}

func (s *Boundaries) exportLayers(ctx context.Context, set int) ([]geofile.Layer, error) {
	rows, err := s.db.Query(ctx, `
		SELECT title, kind, name, rank::text, ST_Multi(ST_ForcePolygonCCW(geom))
		  FROM open.layer
		 WHERE set = $1
		 ORDER BY position, title, id`, set)
	if err != nil {
		return nil, err
	}
	var out []geofile.Layer
	var title, kind, name, rank string
	var shape geom.T
	_, err = pgx.ForEachRow(rows, []any{&title, &kind, &name, &rank, &shape}, func() error {
		if n := len(out); n == 0 || out[n-1].Name != "layer "+title {
			out = append(out, geofile.Layer{Name: "layer " + title, SRID: 4326})
		}
		f := geofile.Feature{Properties: map[string]string{"kind": kind, "name": name, "rank": rank}}
		if area, is := shape.(*geom.MultiPolygon); is {
			f.Geometry = area
		} else {
			f.Sketch = shape
		}
		l := &out[len(out)-1]
		l.Features = append(l.Features, f)
		return nil
	})
	return out, err
}

// StagedPlace is a place of a set that is laid out, for a map to look at.
type StagedPlace = desk.StagedPlace

// StagedMap reads the outlines of what was laid out: counties, then townships.
func (s *Boundaries) StagedMap(ctx context.Context, t geofile.Ticket) (_ []StagedPlace, err error) {
	defer wrap(&err, "Boundaries.StagedMap")
	rows, err := s.db.Query(ctx, `
		SELECT s.kind, s.code, s.name, coalesce(c.code, ''), s.place IS NOT NULL, s.outline
		  FROM priv.stage_shape s
		  LEFT JOIN priv.stage_shape c ON c.ticket = s.ticket AND c.n = s.county
		 WHERE s.ticket = $1
		 ORDER BY s.n`, [16]byte(t))
	if err != nil {
		return nil, err
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (p StagedPlace, err error) {
		var shape geom.T
		if err = row.Scan(&p.Kind, &p.Code, &p.Name, &p.County, &p.Known, &shape); err == nil {
			p.Outline, err = atlasShape(shape)
		}
		return p, err
	})
	if err == nil && len(out) == 0 {
		err = fault.ErrNotFound
	}
	return out, err
}
