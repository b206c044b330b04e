package postgres

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/twpayne/go-geom"

	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/place"
)

// Accepted says what accepting a boundary set did.
type Accepted struct {
	Set, Counties, Townships, Districts int
	New                                 bool // false: the same files had been accepted before
}

// Boundaries loads and reads places, over a Staff or Admin connection.
type Boundaries struct{ db DB }

// NewBoundaries makes the store.
func NewBoundaries(db DB) *Boundaries { return &Boundaries{db} }

// Accept makes a boundary set the current one: places keep their ids by kind,
// county and code; outlines are computed; districts are cut. The same files
// again change nothing. A shape that crosses itself is refused by name in a
// *fault.Invalid.
func (s *Boundaries) Accept(ctx context.Context, in geofile.Set, today time.Time) (out Accepted, err error) {
	defer wrap(&err, "Boundaries.Accept")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		out, err = accept(ctx, tx, in, today)
		return err
	})
	return out, err
}

func accept(ctx context.Context, tx pgx.Tx, in geofile.Set, today time.Time) (out Accepted, err error) {
	out = Accepted{Counties: len(in.Counties), Townships: len(in.Townships)}
	if _, err = tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile boundaries'))`); err != nil {
		return out, err
	}
	err = tx.QueryRow(ctx, `SELECT id FROM open.boundary_set WHERE digest = $1`, in.Digest[:]).Scan(&out.Set)
	if err == nil {
		err = tx.QueryRow(ctx, `SELECT count(DISTINCT district) FROM open.district WHERE set = $1`, out.Set).Scan(&out.Districts)
		return out, err
	}
	if err != pgx.ErrNoRows {
		return out, err
	}
	out.New = true
	if err = stageShapes(ctx, tx, in); err != nil {
		return out, err
	}
	if err = refuseBroken(ctx, tx); err != nil {
		return out, err
	}
	err = tx.QueryRow(ctx, `
		INSERT INTO open.boundary_set (id, digest, accepted, srid, outline)
		SELECT (SELECT coalesce(max(id), 0) + 1 FROM open.boundary_set), $1, $2, z.srid,
		       (SELECT ST_Multi(ST_Union(ST_SnapToGrid(ST_Transform(geom, z.srid), 1))) FROM staged WHERE kind = 'county')
		  FROM (SELECT ST_Centroid(ST_Extent(geom)::geometry) AS c FROM staged) m,
		       -- the universal transverse Mercator zone of the middle of it all
		       LATERAL (SELECT CASE WHEN ST_Y(m.c) < 0 THEN 32700 ELSE 32600 END
		                       + floor((ST_X(m.c) + 180) / 6)::int % 60 + 1 AS srid) z
		RETURNING id`, in.Digest[:], today).Scan(&out.Set)
	if err != nil {
		return out, err
	}
	if err = keepPlaces(ctx, tx, in); err != nil {
		return out, err
	}
	for _, sql := range []string{placeShapes, neighbors} {
		if _, err = tx.Exec(ctx, sql, out.Set); err != nil {
			return out, err
		}
	}
	if out.Districts, err = cutDistricts(ctx, tx, out.Set); err != nil {
		return out, err
	}
	_, err = tx.Exec(ctx, districtShapes, out.Set)
	return out, err
}

// stageShapes puts the file's shapes into a temporary table, in longitude and latitude.
func stageShapes(ctx context.Context, tx pgx.Tx, in geofile.Set) error {
	_, err := tx.Exec(ctx, `
		CREATE TEMPORARY TABLE staged (
		    kind text, code text, name text, slug text, county text, geom geometry
		) ON COMMIT DROP`)
	if err != nil {
		return err
	}
	rows := make([][]any, 0, len(in.Counties)+len(in.Townships))
	add := func(kind, code, name, county string, outline *geom.MultiPolygon) {
		shape := outline.Clone()
		shape.SetSRID(in.SRID)
		rows = append(rows, []any{kind, code, name, slug(code, name), county, geom.T(shape)})
	}
	for _, c := range in.Counties {
		add("county", c.Code, c.Name, "", c.Geometry)
	}
	for _, t := range in.Townships {
		add("township", t.Code, t.Name, t.County, t.Geometry)
	}
	_, err = tx.CopyFrom(ctx, pgx.Identifier{"staged"},
		[]string{"kind", "code", "name", "slug", "county", "geom"}, pgx.CopyFromRows(rows))
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `UPDATE staged SET geom = ST_Transform(geom, 4326) WHERE ST_SRID(geom) <> 4326`)
	return err
}

// slug is the name's place in an address; a name without a Latin letter is
// found by its code.
func slug(code, name string) string {
	if s := place.Slug(name); s != "" {
		return s
	}
	return place.Slug("place " + code)
}

// refuseBroken names the shapes that are not simple polygons.
func refuseBroken(ctx context.Context, tx pgx.Tx) error {
	rows, err := tx.Query(ctx, `
		SELECT kind || ' ' || name
		  FROM staged
		 WHERE NOT ST_IsValid(geom) OR ST_IsEmpty(geom)
		 ORDER BY kind, code
		 LIMIT 5`)
	if err != nil {
		return err
	}
	broken, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil || len(broken) == 0 {
		return err
	}
	bad := &fault.Invalid{}
	bad.Add("", "boundaries.error.crossing", "places", strings.Join(broken, ", "))
	return bad
}

// keepPlaces gives every staged county and township its id: the one it had, or
// the next free one in the order of the codes.
func keepPlaces(ctx context.Context, tx pgx.Tx, in geofile.Set) error {
	const sql = `
		INSERT INTO open.place (id, kind, code, name, slug, county)
		SELECT (SELECT coalesce(max(id), 0) FROM open.place) + row_number() OVER (ORDER BY s.county, s.code),
		       s.kind, s.code, s.name, s.slug, c.id
		  FROM staged s
		  LEFT JOIN open.place c ON s.kind = 'township' AND c.kind = 'county' AND c.code = s.county
		 WHERE s.kind = $1
		ON CONFLICT (kind, county, code) DO UPDATE SET name = excluded.name, slug = excluded.slug`
	for _, kind := range []string{"county", "township"} {
		if _, err := tx.Exec(ctx, sql, kind); err != nil {
			return err
		}
	}
	var places int
	err := tx.QueryRow(ctx, `
		SELECT count(*) FROM staged s JOIN open.place p ON p.kind = s.kind AND p.code = s.code
		  LEFT JOIN open.place c ON c.id = p.county
		 WHERE c.code IS NOT DISTINCT FROM nullif(s.county, '')`).Scan(&places)
	if err == nil && places != len(in.Counties)+len(in.Townships) {
		err = fmt.Errorf("%d of %d places were kept", places, len(in.Counties)+len(in.Townships))
	}
	return err
}

const placeShapes = `
	INSERT INTO open.place_shape (set, place, geom, outline)
	SELECT b.id, p.id, ST_Multi(s.geom), ST_Multi(ST_SnapToGrid(ST_Transform(s.geom, b.srid), 1))
	  FROM staged s
	  JOIN open.boundary_set b ON b.id = $1
	  LEFT JOIN open.place c ON s.kind = 'township' AND c.kind = 'county' AND c.code = s.county
	  JOIN open.place p ON p.kind = s.kind AND p.code = s.code AND p.county IS NOT DISTINCT FROM c.id`

const districtShapes = `
	INSERT INTO open.place_shape (set, place, geom, outline)
	SELECT d.set, d.district, ST_Multi(ST_Union(s.geom)), ST_Multi(ST_Union(s.outline))
	  FROM open.district d
	  JOIN open.place_shape s ON s.set = d.set AND s.place = d.township
	 WHERE d.set = $1
	 GROUP BY d.set, d.district`

// Neighbors share more than 200 meters of boundary: a corner does not count.
const neighbors = `
	INSERT INTO open.adjacency (set, a, b)
	SELECT $1, a.place, b.place
	  FROM open.place_shape a
	  JOIN open.place pa ON pa.id = a.place
	  JOIN open.place_shape b ON b.set = a.set AND b.place > a.place AND b.outline && ST_Expand(a.outline, 2)
	  JOIN open.place pb ON pb.id = b.place AND pb.kind = pa.kind
	 WHERE a.set = $1
	   AND ST_Length(ST_Intersection(ST_Boundary(a.outline), ST_Buffer(b.outline, 2))) > 200`

// cutDistricts cuts each county's townships into districts, from the boundaries
// alone, and returns how many there are.
func cutDistricts(ctx context.Context, tx pgx.Tx, set int) (int, error) {
	rows, err := tx.Query(ctx, `
		SELECT p.county, s.place, ST_X(ST_Centroid(s.outline)), ST_Y(ST_Centroid(s.outline)), ST_Area(s.outline)
		  FROM open.place_shape s
		  JOIN open.place p ON p.id = s.place AND p.kind = 'township'
		 WHERE s.set = $1
		 ORDER BY p.county, s.place`, set)
	if err != nil {
		return 0, err
	}
	var counties []int32
	cells := map[int32][]place.Cell{}
	var county, id int32
	var x, y, area float64
	_, err = pgx.ForEachRow(rows, []any{&county, &id, &x, &y, &area}, func() error {
		if len(cells[county]) == 0 {
			counties = append(counties, county)
		}
		cells[county] = append(cells[county], place.Cell{ID: place.ID(id), X: int32(x), Y: int32(y), Area: area})
		return nil
	})
	if err != nil {
		return 0, err
	}
	adjacent, err := adjacency(ctx, tx, set)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, county := range counties {
		for i, group := range place.CutDistricts(cells[county], adjacent) {
			if err := keepDistrict(ctx, tx, set, county, i+1, group); err != nil {
				return 0, err
			}
			n++
		}
	}
	return n, nil
}

func adjacency(ctx context.Context, tx pgx.Tx, set int) (map[place.ID][]place.ID, error) {
	rows, err := tx.Query(ctx, `SELECT a, b FROM open.adjacency WHERE set = $1`, set)
	if err != nil {
		return nil, err
	}
	out := map[place.ID][]place.ID{}
	var a, b int32
	_, err = pgx.ForEachRow(rows, []any{&a, &b}, func() error {
		out[place.ID(a)] = append(out[place.ID(a)], place.ID(b))
		out[place.ID(b)] = append(out[place.ID(b)], place.ID(a))
		return nil
	})
	return out, err
}

// keepDistrict stores one district. Its code carries the set: districts stay
// with the boundaries they were cut from.
func keepDistrict(ctx context.Context, tx pgx.Tx, set int, county int32, nth int, townships []place.ID) error {
	code := fmt.Sprintf("%d-%d", set, nth)
	var id int32
	err := tx.QueryRow(ctx, `
		INSERT INTO open.place (id, kind, code, name, slug, county)
		SELECT max(p.id) + 1, 'district', $1, (SELECT name FROM open.place WHERE id = $2) || ' ' || $3::text,
		       (SELECT slug FROM open.place WHERE id = $2) || '-' || $3::text, $2
		  FROM open.place p
		RETURNING id`, code, county, fmt.Sprint(nth)).Scan(&id)
	if err != nil {
		return err
	}
	slices.Sort(townships)
	_, err = tx.Exec(ctx, `
		INSERT INTO open.district (set, township, district)
		SELECT $1, t, $2 FROM unnest($3::int[]) t`, set, id, ids(townships))
	return err
}

func ids(in []place.ID) []int32 {
	out := make([]int32, len(in))
	for i, v := range in {
		out[i] = int32(v)
	}
	return out
}

// AddLayers stores reference layers with the current boundary set.
func (s *Boundaries) AddLayers(ctx context.Context, layers []geofile.Landmark) (err error) {
	defer wrap(&err, "Boundaries.AddLayers")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		for _, l := range layers {
			_, err := tx.Exec(ctx, `
				INSERT INTO open.layer (set, kind, name, rank, outline)
				SELECT b.id, $1, $2, $3, ST_SnapToGrid(ST_Transform(ST_SetSRID($4::geometry, 4326), b.srid), 1)
				  FROM open.boundary_set b
				 ORDER BY b.id DESC
				 LIMIT 1`, l.Kind, l.Name, l.Rank, l.Shape)
			if err != nil {
				return err
			}
		}
		return nil
	})
}
