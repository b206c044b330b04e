package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/place"
)

// setOfEdition is the boundary set that an edition $1 is drawn with; before the
// first edition it is the one in force.
const setOfEdition = `(SELECT coalesce((SELECT set FROM open.edition WHERE no = $1), (SELECT max(id) FROM open.boundary_set)))`

// Extent is where the places of an edition lie, in degrees: west, south, east,
// north. fault.ErrNotFound: there are none.
func (s *Published) Extent(ctx context.Context, no int) (box [4]float64, err error) {
	defer wrap(&err, "Published.Extent")
	err = s.db.QueryRow(ctx, `
		SELECT ST_XMin(e), ST_YMin(e), ST_XMax(e), ST_YMax(e)
		  FROM (SELECT ST_Extent(s.geom) AS e
		          FROM open.place_shape s
		          JOIN open.place p ON p.id = s.place AND p.kind = 'county'
		         WHERE s.set = `+setOfEdition+`) x
		 WHERE e IS NOT NULL`, no).Scan(&box[0], &box[1], &box[2], &box[3])
	return box, err
}

// Meeting are the places of an edition that meet any of some boxes (west, south,
// east, north in degrees), touching them included.
func (s *Published) Meeting(ctx context.Context, no int, boxes [][4]float64) (out map[place.ID]bool, err error) {
	defer wrap(&err, "Published.Meeting")
	out = map[place.ID]bool{}
	for _, b := range boxes {
		rows, err := s.db.Query(ctx, `
			SELECT s.place
			  FROM open.place_shape s
			  CROSS JOIN (SELECT ST_MakeEnvelope($2, $3, $4, $5, 4326) AS box) b
			 WHERE s.set = `+setOfEdition+` AND s.geom && b.box AND ST_Intersects(s.geom, b.box)`, no, b[0], b[1], b[2], b[3])
		if err != nil {
			return nil, err
		}
		var id place.ID
		if _, err := pgx.ForEachRow(rows, []any{(*int32)(&id)}, func() error { out[id] = true; return nil }); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Ground is the outline in an edition of each group of places, those of a group
// together, as a GeoJSON geometry in degrees: nine decimals, a tenth of a
// millimeter; outer rings counter-clockwise (RFC 7946, section 3.1.6). A group
// none of whose places the edition has gives nothing.
func (s *Published) Ground(ctx context.Context, no int, groups [][]place.ID) (out [][]byte, err error) {
	defer wrap(&err, "Published.Ground")
	var at, of []int32
	for i, g := range groups {
		for _, id := range g {
			at, of = append(at, int32(i)), append(of, int32(id))
		}
	}
	rows, err := s.db.Query(ctx, `
		SELECT u.n, ST_AsGeoJSON(ST_ForcePolygonCCW(CASE count(*) WHEN 1 THEN (array_agg(s.geom))[1] ELSE ST_Multi(ST_Union(s.geom)) END), 9)
		  FROM unnest($2::int[], $3::int[]) u(n, place)
		  JOIN open.place_shape s ON s.place = u.place AND s.set = `+setOfEdition+`
		 GROUP BY u.n`, no, at, of)
	if err != nil {
		return nil, err
	}
	out = make([][]byte, len(groups))
	var n int
	var shape []byte
	_, err = pgx.ForEachRow(rows, []any{&n, &shape}, func() error {
		out[n] = append([]byte(nil), shape...)
		return nil
	})
	return out, err
}
