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
			  JOIN placed b ON b.kind = a.kind AND b.n > a.n AND b.geom && a.geom
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
	return b.narrowGaps(slivers)
}

// narrow reports whether something of an area and an edge all round is a sliver:
// twice the area over the edge is about the width of a strip.
func narrow(area, edge float64) bool { return edge > 0 && 2*area/edge < geofile.SliverWidth }

// gaps finds parts of counties in no township, and ground among the counties in
// no county. Narrow ones have been noted with the slivers.
func (b *bench) gaps() error {
	for kind, sql := range map[geofile.FindingKind]string{geofile.Gap: townshipGaps, geofile.CountyGap: countyGaps} {
		f := geofile.Finding{Kind: kind, Weight: geofile.Look}
		err := b.list(&f, sql+` WHERE g.area >= $1 AND 2 * g.area / g.edge >= $2 LIMIT $3`,
			geofile.LeastArea, geofile.SliverWidth, maxPairs)
		if err != nil {
			return err
		}
		b.note(f)
	}
	return nil
}

// narrowGaps adds gaps that are slivers to overlaps that are.
func (b *bench) narrowGaps(f geofile.Finding) error {
	for _, sql := range []string{townshipGaps, countyGaps} {
		err := b.list(&f, sql+` WHERE g.area >= $1 AND 2 * g.area / g.edge < $2 LIMIT $3`,
			geofile.LeastArea, geofile.SliverWidth, maxPairs)
		if err != nil {
			return err
		}
	}
	b.note(f)
	return nil
}

// What counties with townships hold beside them.
const townshipGaps = `
	SELECT g.name, '', g.area, '', ST_X(ST_PointOnSurface(g.geom)), ST_Y(ST_PointOnSurface(g.geom))
	  FROM (SELECT c.name, d.geom, ST_Area(d.geom::geography) AS area, ST_Perimeter(d.geom::geography) AS edge
	          FROM placed c
	          JOIN (SELECT county, ST_Union(geom) AS geom FROM placed WHERE kind = 'township' GROUP BY county) u ON u.county = c.n
	          CROSS JOIN LATERAL ST_Dump(ST_CollectionExtract(ST_Difference(c.geom, u.geom), 3)) d) g`

// The holes of all counties together.
const countyGaps = `
	SELECT 'the counties', '', g.area, '', ST_X(ST_PointOnSurface(g.geom)), ST_Y(ST_PointOnSurface(g.geom))
	  FROM (SELECT h.geom, ST_Area(h.geom::geography) AS area, ST_Perimeter(h.geom::geography) AS edge
	          FROM (SELECT (ST_Dump(ST_Union(geom))).geom FROM placed WHERE kind = 'county') u
	          CROSS JOIN LATERAL generate_series(1, ST_NumInteriorRings(u.geom)) i
	          CROSS JOIN LATERAL (SELECT ST_MakePolygon(ST_InteriorRingN(u.geom, i)) AS geom) h) g`
