package postgres

import (
	"github.com/jackc/pgx/v5"

	"sixmile/internal/geofile"
)

// walk finds the places in force again among the new ones: by code, a township
// within the same county; then by ground, where more than half of either lies in
// the other. What it could not find is noted.
func (b *bench) walk() error {
	for _, step := range []func() error{
		func() error {
			return b.exec(`
				UPDATE placed s SET place = p.id
				  FROM open.place p
				 WHERE s.kind = 'county' AND p.kind = 'county' AND p.code = s.code`)
		},
		func() error { return b.sameGround("county") },
		func() error {
			return b.exec(`
				UPDATE placed s SET place = p.id
				  FROM placed c, open.place p
				 WHERE s.kind = 'township' AND c.n = s.county
				   AND p.kind = 'township' AND p.county = c.place AND p.code = s.code`)
		},
		func() error { return b.sameGround("township") },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	if err := b.exec(`CREATE INDEX ON placed (place)`); err != nil {
		return err
	}
	err := b.tx.QueryRow(b.ctx, `SELECT count(place), count(*) - count(place) FROM placed`).Scan(&b.found.Kept, &b.found.New)
	if err != nil || b.base == 0 {
		return err
	}
	return b.walkNotes()
}

// sameGround matches places of a kind that no code matched.
func (b *bench) sameGround(kind string) error {
	return b.exec(`
		UPDATE placed s SET place = m.place
		  FROM (SELECT DISTINCT ON (o.place) o.place, s.n
		          FROM placed s
		          LEFT JOIN placed c ON c.n = s.county
		          JOIN open.place_shape o ON o.set = $1 AND o.geom && s.geom
		          JOIN open.place p ON p.id = o.place AND p.kind = s.kind AND p.county IS NOT DISTINCT FROM c.place
		          CROSS JOIN LATERAL (SELECT ST_Area(ST_Intersection(s.geom, o.geom)) AS area) x
		         WHERE s.kind = $2 AND s.place IS NULL
		           AND x.area > 0.5 * greatest(ST_Area(s.geom), ST_Area(o.geom))
		           AND NOT EXISTS (SELECT FROM placed t WHERE t.place = o.place)
		         ORDER BY o.place, x.area DESC, s.n) m
		 WHERE m.n = s.n`, b.base, kind)
}

func (b *bench) walkNotes() error {
	for _, q := range []struct {
		kind   geofile.FindingKind
		weight geofile.Weight
		sql    string
	}{
		{geofile.Renamed, geofile.Look, `
			SELECT o.name || ' ' || o.code, s.name || ' ' || s.code, 0::float8, '', 0::float8, 0::float8
			  FROM placed s
			  JOIN open.place_shape o ON o.set = $1 AND o.place = s.place
			 WHERE o.code <> s.code
			 ORDER BY s.n`},
		{geofile.Moved, geofile.Look, `
			SELECT s.name || ' ' || s.code, '', ST_Area(s.geom::geography), '', ST_X(p), ST_Y(p)
			  FROM placed s
			  JOIN open.place_shape o ON o.set = $1 AND o.place = s.place
			  CROSS JOIN LATERAL ST_PointOnSurface(s.geom) p
			 WHERE NOT ST_Equals(s.geom, o.geom)
			   AND ST_Area(ST_Intersection(s.geom, o.geom)) < 0.5 * least(ST_Area(s.geom), ST_Area(o.geom))
			 ORDER BY s.n`},
		{geofile.Lost, geofile.Look, lost(false)},
		{geofile.LostWaiting, geofile.Stop, lost(true)},
	} {
		f := geofile.Finding{Kind: q.kind, Weight: q.weight}
		if err := b.list(&f, q.sql, b.base); err != nil {
			return err
		}
		b.note(f)
	}
	return nil
}

// lost finds places in force that are no more; only those where results wait, or
// all.
func lost(waiting bool) string {
	sql := `
		SELECT p.kind || ' ' || o.name, '', ST_Area(o.geom::geography), '', ST_X(c), ST_Y(c)
		  FROM open.place_shape o
		  JOIN open.place p ON p.id = o.place AND p.kind IN ('county', 'township')
		  CROSS JOIN LATERAL ST_PointOnSurface(o.geom) c
		 WHERE o.set = $1 AND NOT EXISTS (SELECT FROM placed s WHERE s.place = o.place)`
	if waiting {
		sql += `
		   AND EXISTS (SELECT FROM priv.sample w
		                WHERE o.place IN (w.place, w.county)
		                  AND NOT EXISTS (SELECT FROM priv.tranche_member m WHERE m.sample = w.id))`
	}
	return sql
}

// placeRow is a place to be, as it was laid out.
type placeRow struct {
	n, county  int // county is 0 for counties
	kind       string
	code, name string
	id         int32 // 0 for a new one
}

func readPlaceRows(rows pgx.Rows) ([]placeRow, error) {
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (p placeRow, err error) {
		err = row.Scan(&p.n, &p.county, &p.kind, &p.code, &p.name, &p.id)
		return p, err
	})
}
