package postgres

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/twpayne/go-geom"

	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// places fills in counties, townships and districts with their outlines.
func (s *Published) places(ctx context.Context, set int, out *gazette.Issue) error {
	rows, err := s.db.Query(ctx, `
		SELECT p.id, p.kind, s.code, s.name, p.slug, coalesce(p.county, 0), coalesce(d.district, 0), s.outline
		  FROM open.place_shape s
		  JOIN open.place p ON p.id = s.place
		  LEFT JOIN open.place c ON c.id = p.county
		  LEFT JOIN open.district d ON d.set = s.set AND d.township = p.id
		 WHERE s.set = $1
		 ORDER BY p.kind, coalesce(c.name, s.name), s.code`, set)
	if err != nil {
		return err
	}
	at := map[place.ID]int{}
	var p place.Place
	var district int32
	var shape geom.T
	_, err = pgx.ForEachRow(rows, []any{(*int32)(&p.ID), (*string)(&p.Kind), &p.Code, &p.Name, &p.Slug,
		(*int32)(&p.County), &district, &shape}, func() error {
		outline, err := atlasShape(shape)
		if err != nil {
			return err
		}
		// Kinds sort county, district, township: a county comes before what lies in it.
		switch p.Kind {
		case place.County:
			at[p.ID] = len(out.Counties)
			out.Counties = append(out.Counties, gazette.County{Place: p, Outline: outline})
		case place.District:
			c := &out.Counties[at[p.County]]
			c.Districts = append(c.Districts, gazette.District{ID: p.ID, County: p.County, Outline: outline})
		case place.Township:
			c := &out.Counties[at[p.County]]
			c.Townships = append(c.Townships, gazette.Township{Place: p, District: place.ID(district), Outline: outline})
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.neighbors(ctx, set, at, out)
}

// neighbors fills in which counties, and which townships, share a boundary.
func (s *Published) neighbors(ctx context.Context, set int, at map[place.ID]int, out *gazette.Issue) error {
	townships := map[place.ID]*gazette.Township{}
	for i := range out.Counties {
		for k := range out.Counties[i].Townships {
			t := &out.Counties[i].Townships[k]
			townships[t.ID] = t
		}
	}
	rows, err := s.db.Query(ctx, `
		SELECT a.a, a.b
		  FROM open.adjacency a
		 WHERE a.set = $1
		 ORDER BY a.a, a.b`, set)
	if err != nil {
		return err
	}
	var a, b place.ID
	_, err = pgx.ForEachRow(rows, []any{(*int32)(&a), (*int32)(&b)}, func() error {
		i, isCounty := at[a]
		k, too := at[b]
		if isCounty && too {
			out.Counties[i].Neighbors = append(out.Counties[i].Neighbors, b)
			out.Counties[k].Neighbors = append(out.Counties[k].Neighbors, a)
			return nil
		}
		if s, t := townships[a], townships[b]; s != nil && t != nil {
			s.Neighbors, t.Neighbors = append(s.Neighbors, b), append(t.Neighbors, a)
		}
		return nil
	})
	return err
}

// layers fills in the outline of the whole state and the reference layers.
func (s *Published) layers(ctx context.Context, set int, out *gazette.Issue) error {
	rows, err := s.db.Query(ctx, `
		SELECT kind, name, rank, position, outline
		  FROM (SELECT id, kind, name, rank, position, outline FROM open.layer WHERE set = $1
		        UNION ALL
		        SELECT 0, 'state', '', 0, 0, outline FROM open.boundary_set WHERE id = $1) l
		 ORDER BY rank, name, id`, set)
	if err != nil {
		return err
	}
	var kind, name string
	var rank, position int
	var shape geom.T
	_, err = pgx.ForEachRow(rows, []any{&kind, &name, &rank, &position, &shape}, func() (err error) {
		switch kind {
		case "state":
			out.Outline, err = atlasShape(shape)
		case "ridge":
			var ridge atlas.Shape
			ridge, err = atlasShape(shape)
			out.Ridge = append(out.Ridge, ridge...)
		case "river", "road":
			path, ok := shape.(*geom.LineString)
			if !ok {
				return fmt.Errorf("a %s is a %T", kind, shape)
			}
			line := atlas.Line{Name: name, Path: points(path.FlatCoords(), path.Stride()), Order: position}
			if kind == "river" {
				out.Rivers = append(out.Rivers, line)
			} else {
				out.Roads = append(out.Roads, line)
			}
		case "town":
			at, ok := shape.(*geom.Point)
			if !ok {
				return fmt.Errorf("a town is a %T", shape)
			}
			out.Towns = append(out.Towns, gazette.Town{Name: name, Rank: rank, At: points(at.FlatCoords(), at.Stride())[0]})
		}
		return err
	})
	return err
}

// atlasShape turns an outline of whole meters into the atlas's form.
func atlasShape(g geom.T) (atlas.Shape, error) {
	switch g := g.(type) {
	case *geom.MultiPolygon:
		out := make(atlas.Shape, g.NumPolygons())
		for i := range out {
			out[i] = rings(g.Polygon(i))
		}
		return out, nil
	case *geom.Polygon:
		return atlas.Shape{rings(g)}, nil
	}
	return nil, fmt.Errorf("an outline is a %T", g)
}

func rings(p *geom.Polygon) [][]atlas.Point {
	out := make([][]atlas.Point, p.NumLinearRings())
	for i := range out {
		r := p.LinearRing(i)
		out[i] = points(r.FlatCoords(), r.Stride())
	}
	return out
}

func points(flat []float64, stride int) []atlas.Point {
	out := make([]atlas.Point, 0, len(flat)/stride)
	for i := 0; i+1 < len(flat); i += stride {
		out = append(out, atlas.Point{X: int32(flat[i]), Y: int32(flat[i+1])})
	}
	return out
}
