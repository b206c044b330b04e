package postgres

import (
	"context"
	"fmt"

	"github.com/twpayne/go-geom"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/place"
)

// Set is the number of the current boundary set; 0 before there is one.
func (s *PlaceNames) Set(ctx context.Context) (set int, err error) {
	defer wrap(&err, "PlaceNames.Set")
	err = s.db.QueryRow(ctx, `SELECT coalesce(max(id), 0) FROM open.boundary_set`).Scan(&set)
	return set, err
}

// Outlines reads the outlines of the current boundary set as they are drawn.
// fault.ErrNotFound: there is no set yet.
func (s *PlaceNames) Outlines(ctx context.Context) (_ *place.Outlines, err error) {
	defer wrap(&err, "PlaceNames.Outlines")
	out := &place.Outlines{}
	err = s.db.QueryRow(ctx, `SELECT id, srid FROM open.boundary_set ORDER BY id DESC LIMIT 1`).Scan(&out.Set, &out.SRID)
	if err != nil {
		return nil, err
	}
	rows, err := s.db.Query(ctx, `
		SELECT p.id, p.kind, p.code, p.name, p.slug, coalesce(p.county, 0), CASE WHEN p.kind = 'township' THEN s.outline END
		  FROM open.place_shape s
		  JOIN open.place p ON p.id = s.place AND p.kind IN ('county', 'township')
		 WHERE s.set = $1
		 ORDER BY p.kind, p.name, p.id`, out.Set)
	if err != nil {
		return nil, err
	}
	var p place.Place
	var shape geom.T
	_, err = pgx.ForEachRow(rows, []any{(*int32)(&p.ID), (*string)(&p.Kind), &p.Code, &p.Name, &p.Slug, (*int32)(&p.County), &shape}, func() error {
		if p.Kind == place.County {
			out.Counties = append(out.Counties, p)
			return nil
		}
		rings, err := flatRings(shape)
		out.Townships = append(out.Townships, place.Outlined{Place: p, Rings: rings})
		return err
	})
	return out, err
}

// flatRings lists all rings of an outline of whole meters.
func flatRings(g geom.T) ([][]int32, error) {
	m, ok := g.(*geom.MultiPolygon)
	if !ok {
		return nil, fmt.Errorf("an outline is a %T", g)
	}
	var out [][]int32
	for i := range m.NumPolygons() {
		poly := m.Polygon(i)
		for j := range poly.NumLinearRings() {
			r := poly.LinearRing(j)
			flat, stride := r.FlatCoords(), r.Stride()
			ring := make([]int32, 0, 2*len(flat)/stride)
			for k := 0; k+1 < len(flat); k += stride {
				ring = append(ring, int32(flat[k]), int32(flat[k+1]))
			}
			out = append(out, ring)
		}
	}
	return out, nil
}
