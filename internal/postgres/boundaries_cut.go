package postgres

import (
	"fmt"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/geofile"
)

// cut makes the places: counties, and townships each in one county. Where the
// file names the county it is believed. Where it does not, a township is cut by
// the county lines; a part under geofile.SliverArea goes with the township's
// largest part, and what is beyond every county is left out.
func (b *bench) cut() error {
	err := b.exec(`
		CREATE TEMPORARY TABLE piece ON COMMIT DROP AS
		SELECT t.n AS township, c.n AS county, t.name, t.whole, g.geom, ST_Area(g.geom::geography) AS area
		  FROM (SELECT n, name, geom, ST_Area(geom::geography) AS whole
		          FROM raw_shape WHERE kind = 'township' AND county = '') t
		  JOIN raw_shape c ON c.kind = 'county' AND ST_Intersects(c.geom, t.geom)
		  CROSS JOIN LATERAL (
		       SELECT CASE WHEN ST_CoveredBy(t.geom, c.geom) THEN t.geom
		                   ELSE ST_CollectionExtract(ST_Intersection(t.geom, c.geom), 3) END AS geom) g
		 WHERE NOT ST_IsEmpty(g.geom)`)
	if err != nil {
		return err
	}
	// A township of which only a sliver, and less than half, is in any county is
	// a neighboring state's.
	err = b.exec(`
		DELETE FROM piece
		 WHERE township IN (SELECT township FROM piece GROUP BY township
		                    HAVING max(area) < $1 AND sum(area) < min(whole) / 2)`, geofile.SliverArea)
	if err != nil {
		return err
	}
	for _, step := range []func() error{b.cutNotes, b.place, b.named} {
		if err := step(); err != nil {
			return err
		}
	}
	return b.where()
}

// cutNotes tells what the cutting did.
func (b *bench) cutNotes() error {
	for _, q := range []struct {
		kind   geofile.FindingKind
		weight geofile.Weight
		sql    string
	}{
		{geofile.CutByLine, geofile.Note, `
			SELECT p.name, '', sum(p.area), string_agg(c.name, ', ' ORDER BY p.county), ST_PointOnSurface((array_agg(p.geom ORDER BY p.county))[1])
			  FROM piece p
			  JOIN raw_shape c ON c.n = p.county
			 WHERE p.area >= $1
			 GROUP BY p.township, p.name
			HAVING count(*) > 1`},
		{geofile.SmallPart, geofile.Note, `
			SELECT p.name, c.name, p.area, '', ST_PointOnSurface(p.geom)
			  FROM (SELECT *, row_number() OVER (PARTITION BY township ORDER BY area DESC, county) AS rank FROM piece) p
			  JOIN raw_shape c ON c.n = p.county
			 WHERE p.rank > 1 AND p.area < $1 AND p.area > 1`},
		{geofile.OutsideAll, geofile.Look, `
			SELECT t.name, '', ST_Area(t.geom::geography), '', ST_PointOnSurface(t.geom)
			  FROM raw_shape t
			 WHERE t.kind = 'township' AND t.county = '' AND $1 > 0
			   AND NOT EXISTS (SELECT FROM piece p WHERE p.township = t.n)`},
		{geofile.CutOff, geofile.Note, fmt.Sprintf(`
			SELECT p.name, '', min(p.whole) - sum(p.area), '', ST_PointOnSurface(ST_Collect(p.geom))
			  FROM piece p
			 GROUP BY p.township, p.name
			HAVING min(p.whole) - sum(p.area) > %g AND $1 > 0`, geofile.LeastArea)},
		{geofile.WrongCounty, geofile.Stop, `
			SELECT t.name, c.name, ST_Area(t.geom::geography), '', ST_PointOnSurface(t.geom)
			  FROM raw_shape t
			  JOIN raw_shape c ON c.kind = 'county' AND c.code = t.county
			 WHERE t.kind = 'township' AND NOT ST_CoveredBy(t.geom, c.geom) AND $1 > 0
			   AND ST_Area(ST_Intersection(t.geom, c.geom)) < ST_Area(t.geom) / 2`},
		{geofile.OverLine, geofile.Look, fmt.Sprintf(`
			SELECT t.name, c.name, o.area, '', ST_PointOnSurface(t.geom)
			  FROM raw_shape t
			  JOIN raw_shape c ON c.kind = 'county' AND c.code = t.county
			  CROSS JOIN LATERAL (SELECT ST_Area(ST_CollectionExtract(ST_Difference(t.geom, c.geom), 3)::geography) AS area) o
			 WHERE t.kind = 'township' AND NOT ST_CoveredBy(t.geom, c.geom) AND o.area > %g AND $1 > 0
			   AND ST_Area(ST_Intersection(t.geom, c.geom)) >= ST_Area(t.geom) / 2`, geofile.LeastArea)},
	} {
		f := geofile.Finding{Kind: q.kind, Weight: q.weight}
		if err := b.list(&f, `SELECT a, b, area, detail, ST_X(at), ST_Y(at) FROM (`+q.sql+`) q (a, b, area, detail, at)`, geofile.SliverArea); err != nil {
			return err
		}
		b.note(f)
	}
	return nil
}

// list adds the rows of a query to a finding: two names, an area in square
// meters, a detail, and a point.
func (b *bench) list(f *geofile.Finding, sql string, args ...any) error {
	rows, err := b.tx.Query(b.ctx, sql, args...)
	if err != nil {
		return err
	}
	var one, two, detail string
	var area, lon, lat float64
	_, err = pgx.ForEachRow(rows, []any{&one, &two, &area, &detail, &lon, &lat}, func() error {
		add(f, itemOf(one, two, area, detail, lon, lat))
		return nil
	})
	return err
}

func itemOf(one, two string, area float64, detail string, lon, lat float64) geofile.Item {
	item := geofile.Item{Places: []string{one}, Area: area, Detail: detail, Lon: lon, Lat: lat}
	if two != "" {
		item.Places = append(item.Places, two)
	}
	return item
}

// place fills the table of places, counties first, each township with the
// number of its county.
func (b *bench) place() error {
	if err := b.exec(`
		CREATE TEMPORARY TABLE placed (
		    n int PRIMARY KEY, kind text, code text, name text, county int, place int, geom geometry
		) ON COMMIT DROP`); err != nil {
		return err
	}
	err := b.exec(`
		INSERT INTO placed (n, kind, code, name, county, geom)
		SELECT row_number() OVER (ORDER BY n), kind, code, name, NULL, geom FROM raw_shape WHERE kind = 'county'`)
	if err != nil {
		return err
	}
	err = b.exec(`
		WITH ranked AS (
		    SELECT *, row_number() OVER (PARTITION BY township ORDER BY area DESC, county) AS rank FROM piece
		), part AS ( -- small parts take the county of the largest
		    SELECT township, geom,
		           CASE WHEN rank > 1 AND area < $1 THEN first_value(county) OVER (PARTITION BY township ORDER BY rank)
		                ELSE county END AS county
		      FROM ranked
		), township AS (
		    SELECT township, county, CASE WHEN count(*) = 1 THEN (array_agg(geom))[1] ELSE ST_Union(geom) END AS geom
		      FROM part
		     GROUP BY township, county
		    UNION ALL
		    SELECT t.n, c.n, t.geom
		      FROM raw_shape t
		      JOIN raw_shape c ON c.kind = 'county' AND c.code = t.county
		     WHERE t.kind = 'township' AND t.county <> ''
		)
		INSERT INTO placed (n, kind, code, name, county, geom)
		SELECT (SELECT count(*) FROM placed) + row_number() OVER (ORDER BY t.township, p.n),
		       'township', r.code, r.name, p.n, t.geom
		  FROM township t
		  JOIN raw_shape r ON r.n = t.township
		  JOIN raw_shape c ON c.n = t.county
		  JOIN placed p ON p.kind = 'county' AND p.code = c.code`, geofile.SliverArea)
	if err != nil {
		return err
	}
	return b.exec(`CREATE INDEX ON placed USING gist (geom); CREATE INDEX ON placed (county); ANALYZE placed`)
}

// named counts the places and names counties that have none.
func (b *bench) named() error {
	err := b.tx.QueryRow(b.ctx, `SELECT count(*) FROM placed WHERE kind = 'township'`).Scan(&b.found.Places)
	if err != nil {
		return err
	}
	empty := geofile.Finding{Kind: geofile.Empty, Weight: geofile.Look}
	err = b.list(&empty, `
		SELECT c.name, '', ST_Area(c.geom::geography), '', ST_X(p), ST_Y(p)
		  FROM placed c
		  CROSS JOIN LATERAL ST_PointOnSurface(c.geom) p
		 WHERE c.kind = 'county' AND NOT EXISTS (SELECT FROM placed t WHERE t.county = c.n)`)
	if b.found.Places > 0 {
		b.note(empty)
	}
	return err
}

// where compares where the layers are, and where the set in force is.
func (b *bench) where() error {
	c, t := b.found.Counties, b.found.Townships
	extent := func(l geofile.Layout) string {
		return fmt.Sprintf("%.2f to %.2f north, %.2f to %.2f east", l.South, l.North, l.West, l.East)
	}
	if apart(c, t) || b.found.Places == 0 && t.Features > 0 {
		b.note(geofile.Finding{Kind: geofile.Elsewhere, Weight: geofile.Stop, Total: 1, Items: []geofile.Item{
			{Places: []string{"counties"}, Detail: extent(c)}, {Places: []string{"townships"}, Detail: extent(t)}}})
	}
	if b.base == 0 {
		return nil
	}
	var old geofile.Layout
	err := b.tx.QueryRow(b.ctx, `
		SELECT ST_XMin(e), ST_YMin(e), ST_XMax(e), ST_YMax(e)
		  FROM (SELECT ST_Extent(geom) AS e FROM open.place_shape WHERE set = $1) x`, b.base).
		Scan(&old.West, &old.South, &old.East, &old.North)
	if err == nil && apart(c, old) {
		b.note(geofile.Finding{Kind: geofile.NotWhereBefore, Weight: geofile.Look, Total: 1, Items: []geofile.Item{
			{Places: []string{"new"}, Detail: extent(c)}, {Places: []string{"in force"}, Detail: extent(old)}}})
	}
	return err
}

func apart(a, b geofile.Layout) bool {
	return a.West > b.East || b.West > a.East || a.South > b.North || b.South > a.North
}
