package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/atlas"
	"sixmile/internal/desk"
	"sixmile/internal/geofile"
)

// Pending lists the sets that are laid out to be looked over, newest first.
func (s *Boundaries) Pending(ctx context.Context) (_ []desk.PendingSet, err error) {
	defer wrap(&err, "Boundaries.Pending")
	rows, err := s.db.Query(ctx, `SELECT ticket, made FROM priv.stage ORDER BY made DESC, ticket`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (p desk.PendingSet, err error) {
		err = row.Scan((*[16]byte)(&p.Ticket), &p.Day)
		return p, err
	})
}

// StagedPoints takes positions to the whole meters in which StagedMap has its
// outlines, in their order. fault.ErrNotFound as for Staged.
func (s *Boundaries) StagedPoints(ctx context.Context, t geofile.Ticket, at []desk.LonLat) (_ []atlas.Point, err error) {
	defer wrap(&err, "Boundaries.StagedPoints")
	st, err := readStage(ctx, s.db, t)
	if err != nil || len(at) == 0 {
		return nil, err
	}
	lon, lat := make([]float64, len(at)), make([]float64, len(at))
	for i, p := range at {
		lon[i], lat[i] = p.Lon, p.Lat
	}
	rows, err := s.db.Query(ctx, `
		SELECT round(ST_X(p))::int, round(ST_Y(p))::int
		  FROM unnest($1::float8[], $2::float8[]) WITH ORDINALITY u(lon, lat, n)
		  CROSS JOIN LATERAL ST_Transform(ST_SetSRID(ST_MakePoint(lon, lat), 4326), $3::int) p
		 ORDER BY n`, lon, lat, st.srid)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (p atlas.Point, err error) {
		err = row.Scan(&p.X, &p.Y)
		return p, err
	})
}

// Districts lists the districts of a set in the order of counties and codes.
func (s *Boundaries) Districts(ctx context.Context, set int) (_ []desk.District, err error) {
	defer wrap(&err, "Boundaries.Districts")
	rows, err := s.db.Query(ctx, `
		SELECT c.name, d.code, array_agg(t.code ORDER BY t.code)
		  FROM open.district m
		  JOIN open.place_shape t ON t.set = m.set AND t.place = m.township
		  JOIN open.place_shape d ON d.set = m.set AND d.place = m.district
		  JOIN open.place p ON p.id = m.township
		  JOIN open.place_shape c ON c.set = m.set AND c.place = p.county
		 WHERE m.set = $1
		 GROUP BY c.name, c.code, d.code
		 ORDER BY c.name, c.code, d.code`, set)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (d desk.District, err error) {
		err = row.Scan(&d.County, &d.Code, &d.Townships)
		return d, err
	})
}

// mostCrossings is how many lines of a crosswalk are read out; the rest are
// counted.
const mostCrossings = 1000

// Crosswalk says what became of the counties and townships of one set in
// another: found again by code, then by ground, when the later set was accepted.
func (s *Boundaries) Crosswalk(ctx context.Context, from, to int) (out desk.Crosswalk, err error) {
	defer wrap(&err, "Boundaries.Crosswalk")
	out = desk.Crosswalk{From: from, To: to, Total: map[desk.Passage]int{}}
	rows, err := s.db.Query(ctx, `
		WITH both_sets AS (
		    SELECT p.id, p.kind, a.place AS was, b.place AS is_now, a.code AS code_was, b.code AS code_now,
		           a.name AS name_was, b.name AS name_now, a.geom AS before, b.geom AS after,
		           coalesce(cb.name, ca.name, '') AS county
		      FROM open.place p
		      LEFT JOIN open.place_shape a ON a.place = p.id AND a.set = $1
		      LEFT JOIN open.place_shape b ON b.place = p.id AND b.set = $2
		      LEFT JOIN open.place_shape ca ON ca.place = p.county AND ca.set = $1
		      LEFT JOIN open.place_shape cb ON cb.place = p.county AND cb.set = $2
		     WHERE p.kind IN ('county', 'township') AND (a.place IS NOT NULL OR b.place IS NOT NULL)),
		passed AS (
		    SELECT *, CASE WHEN is_now IS NULL THEN 'vanished' WHEN was IS NULL THEN 'appeared'
		                   WHEN NOT ST_Equals(before, after) THEN 'reshaped'
		                   WHEN code_was <> code_now OR name_was <> name_now THEN 'renamed'
		                   ELSE 'same' END AS passage
		      FROM both_sets)
		SELECT kind, passage, count(*) OVER (PARTITION BY passage),
		       CASE WHEN was IS NULL THEN '' ELSE concat_ws(' ', nullif(name_was, code_was), code_was) END,
		       CASE WHEN is_now IS NOT NULL THEN concat_ws(' ', nullif(name_now, code_now), code_now) ELSE coalesce(heir.label, '') END,
		       county,
		       CASE WHEN was IS NULL THEN 0
		            WHEN is_now IS NULL THEN coalesce(heir.area / nullif(ST_Area(before), 0), 0)
		            WHEN passage = 'reshaped' THEN coalesce(ST_Area(ST_Intersection(before, after)) / nullif(ST_Area(before), 0), 0)
		            ELSE 1 END,
		       CASE WHEN passage IN ('same', 'renamed') THEN 0 ELSE coalesce(ST_Area(before::geography), 0) / 1e6 END,
		       CASE WHEN passage IN ('same', 'renamed') THEN 0 ELSE coalesce(ST_Area(after::geography), 0) / 1e6 END
		  FROM passed
		  LEFT JOIN LATERAL (
		       SELECT concat_ws(' ', nullif(n.name, n.code), n.code) AS label, ST_Area(ST_Intersection(n.geom, before)) AS area
		         FROM open.place_shape n
		         JOIN open.place q ON q.id = n.place AND q.kind = passed.kind
		        WHERE passage = 'vanished' AND n.set = $2 AND n.geom && before
		          AND ST_Area(ST_Intersection(n.geom, before)) > 0
		        ORDER BY 2 DESC, n.place
		        LIMIT 1) heir ON true
		 ORDER BY array_position(ARRAY['vanished', 'appeared', 'reshaped', 'renamed', 'same'], passage), kind, county, coalesce(code_now, code_was)`,
		from, to)
	if err != nil {
		return out, err
	}
	var c desk.Crossing
	var total int
	_, err = pgx.ForEachRow(rows, []any{(*string)(&c.Kind), (*string)(&c.Passage), &total, &c.Before, &c.After, &c.County,
		&c.Share, &c.BeforeKM2, &c.AfterKM2}, func() error {
		if c.Passage == "same" {
			out.Same = total
			return nil
		}
		out.Total[c.Passage] = total
		if len(out.Lines) < mostCrossings {
			out.Lines = append(out.Lines, c)
		}
		return nil
	})
	return out, err
}
