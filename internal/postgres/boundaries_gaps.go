package postgres

import (
	"github.com/jackc/pgx/v5"

	"sixmile/internal/geofile"
)

// maxPairs is how many overlaps and gaps are measured: a file that has more is
// not a coverage at all.
const maxPairs = 20_000

// overlaps finds places over each other: counties with counties, townships with
// townships.
func (b *bench) overlaps() error {
	kinds := map[string]geofile.FindingKind{"county": geofile.CountyOverlap, "township": geofile.Overlap}
	slivers := geofile.Finding{Kind: geofile.Sliver, Weight: geofile.Note}
	twice := geofile.Finding{Kind: geofile.Twice, Weight: geofile.Stop}
	for _, kind := range []string{"county", "township"} {
		f := geofile.Finding{Kind: kinds[kind], Weight: geofile.Look}
		rows, err := b.tx.Query(b.ctx, `
			SELECT a.name, b.name, ST_Area(x.geom::geography), ST_Perimeter(x.geom::geography),
			       ST_Area(x.geom) > 0.5 * least(ST_Area(a.geom), ST_Area(b.geom)), ST_X(p), ST_Y(p)
			  FROM placed a
			  -- written as a difference so that no index on n is used, which has half the table to offer
			  JOIN placed b ON b.kind = a.kind AND b.n - a.n > 0 AND b.geom && a.geom
			   -- boxes that only touch, as in a lattice, need no closer look
			   AND least(ST_XMax(a.geom), ST_XMax(b.geom)) - greatest(ST_XMin(a.geom), ST_XMin(b.geom)) > 1e-9
			   AND least(ST_YMax(a.geom), ST_YMax(b.geom)) - greatest(ST_YMin(a.geom), ST_YMin(b.geom)) > 1e-9
			   AND ST_Relate(a.geom, b.geom, '2********')
			  CROSS JOIN LATERAL (SELECT ST_CollectionExtract(ST_Intersection(a.geom, b.geom), 3) AS geom) x
			  CROSS JOIN LATERAL ST_PointOnSurface(x.geom) p
			 WHERE a.kind = $1 AND NOT ST_IsEmpty(x.geom)
			 LIMIT $2`, kind, maxPairs)
		if err != nil {
			return err
		}
		var one, two string
		var area, edge, lon, lat float64
		var mostly bool
		_, err = pgx.ForEachRow(rows, []any{&one, &two, &area, &edge, &mostly, &lon, &lat}, func() error {
			item := itemOf(one, two, area, "", lon, lat)
			switch {
			case mostly && kind == "township":
				add(&twice, item)
			case area < geofile.LeastArea:
			case narrow(area, edge):
				add(&slivers, item)
			default:
				add(&f, item)
			}
			return nil
		})
		if err != nil {
			return err
		}
		b.note(f)
	}
	b.note(twice)
	err := b.list(&slivers, gapItems+` AND 2 * area / edge < $2`, geofile.LeastArea, geofile.SliverWidth)
	b.note(slivers)
	return err
}

// narrow reports whether something of an area and an edge all round is a sliver:
// twice the area over the edge is about the width of a strip.
func narrow(area, edge float64) bool { return edge > 0 && 2*area/edge < geofile.SliverWidth }

// gaps finds parts of counties in no township, and ground among the counties in
// no county. Narrow ones are noted with the slivers.
func (b *bench) gaps() error {
	err := b.exec(`
		CREATE TEMPORARY TABLE gap ON COMMIT DROP AS
		SELECT g.kind, g.name, g.geom, ST_Area(g.geom::geography) AS area, ST_Perimeter(g.geom::geography) AS edge
		  FROM (-- what a county with townships holds beside all townships, those that
		        -- reach over its line included
		        SELECT 'gap' AS kind, c.name, d.geom
		          FROM placed c
		          CROSS JOIN LATERAL (
		               SELECT ST_Union(t.geom) AS geom
		                 FROM placed t
		                WHERE t.kind = 'township' AND ST_Intersects(t.geom, c.geom)) u
		          CROSS JOIN LATERAL ST_Dump(ST_CollectionExtract(ST_Difference(c.geom, u.geom), 3)) d
		         WHERE c.kind = 'county' AND EXISTS (SELECT FROM placed t WHERE t.county = c.n)
		        UNION ALL
		        -- the holes of all counties together
		        SELECT 'county gap', 'the counties', ST_MakePolygon(ST_InteriorRingN(u.geom, i))
		          FROM (SELECT (ST_Dump(ST_Union(geom))).geom FROM placed WHERE kind = 'county') u
		          CROSS JOIN LATERAL generate_series(1, ST_NumInteriorRings(u.geom)) i) g`)
	if err != nil {
		return err
	}
	for _, kind := range []geofile.FindingKind{geofile.Gap, geofile.CountyGap} {
		f := geofile.Finding{Kind: kind, Weight: geofile.Look}
		err := b.list(&f, gapItems+` AND 2 * area / edge >= $2 AND kind = $3`, geofile.LeastArea, geofile.SliverWidth, string(kind))
		if err != nil {
			return err
		}
		b.note(f)
	}
	return nil
}

// gapItems lists gaps over an area.
const gapItems = `
	SELECT name, '', area, '', ST_X(ST_PointOnSurface(geom)), ST_Y(ST_PointOnSurface(geom))
	  FROM gap
	 WHERE area >= $1`
