package postgres

import (
	"context"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/twpayne/go-geom"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
)

// layerOutline is a reference shape in whole meters of a set b, with no more
// corners than a letter sheet of half a degree shows.
const layerOutline = `ST_SnapToGrid(ST_SimplifyPreserveTopology(ST_Transform(g.geom, b.srid), 10), 1)`

// carryLayers puts the reference layers of one set on the next.
func (a *accepting) carryLayers(from int) error {
	_, err := a.tx.Exec(a.ctx, `
		INSERT INTO open.layer (set, title, position, kind, name, rank, geom, outline)
		SELECT b.id, g.title, g.position, g.kind, g.name, g.rank, g.geom, `+layerOutline+`
		  FROM open.layer g
		  JOIN open.boundary_set b ON b.id = $2
		 WHERE g.set = $1
		 ORDER BY g.id`, from, a.set)
	return err
}

// AddLayers stores reference layers with the current boundary set, those of a
// kind as one layer.
func (s *Boundaries) AddLayers(ctx context.Context, layers []geofile.Landmark) (err error) {
	defer wrap(&err, "Boundaries.AddLayers")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		for _, l := range layers {
			if _, err := addLandmark(ctx, tx, geofile.Titles[l.Kind], 1, geofile.CRS{EPSG: 4326}, l); err != nil {
				return err
			}
		}
		return indexTowns(ctx, tx)
	})
}

// LayerAdded says what became of a reference layer's features.
type LayerAdded = desk.LayerAdded

// PutLayer stores a reference layer with the set in force, in place of what had
// its title. fault.ErrNotFound: there is no set yet.
func (s *Boundaries) PutLayer(ctx context.Context, l geofile.ReferenceLayer) (out LayerAdded, err error) {
	defer wrap(&err, "Boundaries.PutLayer")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		if err := lockBoundaries(ctx, tx); err != nil {
			return err
		}
		set, err := currentSet(ctx, tx)
		if err != nil {
			return err
		}
		if set == 0 {
			return fault.ErrNotFound
		}
		if _, err := tx.Exec(ctx, `DELETE FROM open.layer WHERE set = $1 AND title = $2`, set, l.Title); err != nil {
			return err
		}
		for _, f := range l.Features {
			n, err := addLandmark(ctx, tx, l.Title, l.Position, l.CRS, f)
			if err != nil {
				return err
			}
			if n > 0 {
				out.Shown++
			} else {
				out.Beyond++
			}
		}
		if err := indexTowns(ctx, tx); err != nil {
			return err
		}
		return noteLayer(ctx, tx)
	})
	return out, err
}

// noteLayer writes into the trail that reference layers changed.
func noteLayer(ctx context.Context, tx pgx.Tx) error {
	_, err := tx.Exec(ctx, `SELECT priv.note($1, current_date, '{}', NULL)`, string(account.DidLayer))
	return err
}

// ArrangeLayer gives a reference layer of the set in force another title, place
// in the order or kind. A kind goes with its shapes: rivers and roads are lines,
// and no other two kinds change into each other; *fault.Invalid says so, and
// where the title is taken or empty. fault.ErrNotFound: no layer of that title.
func (s *Boundaries) ArrangeLayer(ctx context.Context, title string, to desk.ReferenceLayer) (err error) {
	defer wrap(&err, "Boundaries.ArrangeLayer")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		if err := lockBoundaries(ctx, tx); err != nil {
			return err
		}
		var kind string
		var taken bool
		err := tx.QueryRow(ctx, `
			SELECT min(kind) FILTER (WHERE title = $1), coalesce(bool_or(title = $2), false)
			  FROM open.layer
			 WHERE set = (SELECT max(id) FROM open.boundary_set)
			HAVING count(*) FILTER (WHERE title = $1) > 0`, title, to.Title).Scan(&kind, &taken)
		if err != nil {
			return err
		}
		lines := []string{"river", "road"}
		var invalid fault.Invalid
		if to.Title == "" {
			invalid.Add("title", "boundary.problem.title")
		} else if taken && to.Title != title {
			invalid.Add("title", "boundary.problem.taken")
		}
		if to.Kind != kind && (!slices.Contains(lines, kind) || !slices.Contains(lines, to.Kind)) {
			invalid.Add("kind", "boundary.problem.kind")
		}
		if err := invalid.OrNil(); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			UPDATE open.layer SET title = $2, position = $3, kind = $4
			 WHERE set = (SELECT max(id) FROM open.boundary_set) AND title = $1`, title, to.Title, to.Position, to.Kind)
		if err != nil {
			return err
		}
		return noteLayer(ctx, tx)
	})
}

// addLandmark stores the simple shapes that a landmark is made of, where they
// come near the set in force, and returns how many.
func addLandmark(ctx context.Context, tx pgx.Tx, title string, position int, crs geofile.CRS, l geofile.Landmark) (int64, error) {
	shape := l.Shape
	geographic := `ST_Transform(ST_SetSRID($6::geometry, $7::int), 4326)`
	args := []any{title, position, l.Kind, l.Name, l.Rank, geom.T(shape), crs.EPSG}
	if crs.EPSG == 0 {
		geographic = `ST_Transform(ST_SetSRID($6::geometry, 0), $7::text, 4326)`
		args[6] = crs.WKT
	}
	tag, err := tx.Exec(ctx, `
		INSERT INTO open.layer (set, title, position, kind, name, rank, geom, outline)
		SELECT b.id, $1, $2, $3, $4, $5, g.geom, `+layerOutline+`
		  FROM open.boundary_set b
		  CROSS JOIN LATERAL ST_Dump(`+geographic+`) g
		 WHERE b.id = (SELECT max(id) FROM open.boundary_set)
		   AND ST_Intersects(ST_Transform(g.geom, b.srid), ST_Expand(ST_Envelope(b.outline), 50000))
		   AND NOT ST_IsEmpty(`+layerOutline+`)`, args...)
	if err != nil {
		return 0, fmt.Errorf("%s %s: %w", l.Kind, l.Name, err)
	}
	return tag.RowsAffected(), nil
}

// LayerInfo is a reference layer as a list shows it.
type LayerInfo = desk.ReferenceLayer

// Layers lists the reference layers of a set in their order.
func (s *Boundaries) Layers(ctx context.Context, set int) (_ []LayerInfo, err error) {
	defer wrap(&err, "Boundaries.Layers")
	rows, err := s.db.Query(ctx, `
		SELECT title, min(kind), min(position), count(*)
		  FROM open.layer
		 WHERE set = $1
		 GROUP BY title
		 ORDER BY min(position), title`, set)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (i LayerInfo, err error) {
		err = row.Scan(&i.Title, &i.Kind, &i.Position, &i.Features)
		return i, err
	})
}

// DropLayer takes a reference layer off the set in force. fault.ErrNotFound:
// there is none of that title.
func (s *Boundaries) DropLayer(ctx context.Context, title string) (err error) {
	defer wrap(&err, "Boundaries.DropLayer")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `
			DELETE FROM open.layer WHERE set = (SELECT max(id) FROM open.boundary_set) AND title = $1`, title)
		if err == nil && tag.RowsAffected() == 0 {
			err = fault.ErrNotFound
		}
		if err != nil {
			return err
		}
		return noteLayer(ctx, tx)
	})
}
