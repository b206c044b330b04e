package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/twpayne/go-geom"

	"sixmile/internal/geofile"
)

// stage lays a set out within a transaction, which it locks for it.
func (s *Boundaries) stage(ctx context.Context, tx pgx.Tx, in geofile.Set, day time.Time) (t geofile.Ticket, found geofile.Inspection, err error) {
	if err = lockBoundaries(ctx, tx); err != nil {
		return t, found, err
	}
	if _, err = tx.Exec(ctx, `DELETE FROM priv.stage WHERE made < $1::date - $2::int`, day, stageDays); err != nil {
		return t, found, err
	}
	if found.Known, err = findSet(ctx, tx, in.Digest[:]); err != nil || found.Known > 0 {
		return t, found, err
	}
	b := &bench{ctx: ctx, tx: tx, in: in, found: &found, tell: s.tell}
	for _, step := range []struct {
		name string
		do   func() error
	}{
		{"reading the file in", b.layOut},
		{"mending outlines", b.mend},
		{"cutting townships by county lines", b.cut},
		{"looking for gaps", b.gaps},
		{"looking for overlaps", b.overlaps},
		{"making the outlines to draw", b.draw},
		{"finding places again", b.walk},
	} {
		s.tell(step.name, b.share)
		if err = step.do(); err != nil {
			return t, found, err
		}
		b.share += 1.0 / 8
	}
	s.tell("laying it out", b.share)
	t = geofile.NewTicket()
	if err = b.keep(t, day); err != nil {
		return t, found, err
	}
	s.tell("done", 1)
	return t, found, nil
}

// bench is where one set is worked on: temporary tables, gone with the
// transaction.
type bench struct {
	ctx   context.Context
	tx    pgx.Tx
	in    geofile.Set
	found *geofile.Inspection
	tell  func(string, float64)
	share float64

	base, srid int
}

func (b *bench) exec(sql string, args ...any) error {
	_, err := b.tx.Exec(b.ctx, sql, args...)
	return err
}

func (b *bench) note(f geofile.Finding) {
	if f.Total > 0 {
		b.found.Findings = append(b.found.Findings, f)
	}
}

// layOut copies the layers into a table and turns them into longitude and
// latitude.
func (b *bench) layOut() error {
	err := b.exec(`
		SET LOCAL statement_timeout = '20min';
		DROP TABLE IF EXISTS pg_temp.raw_shape, pg_temp.piece, pg_temp.placed, pg_temp.gap, pg_temp.drawn;
		CREATE TEMPORARY TABLE raw_shape (
		    n int PRIMARY KEY, kind text, code text, name text, county text, geom geometry
		) ON COMMIT DROP`)
	if err != nil {
		return err
	}
	counties := len(b.in.Counties)
	row := func(n int, kind, code, name, county string, crs geofile.CRS, shape *geom.MultiPolygon) []any {
		shape = geom.NewMultiPolygonFlat(geom.XY, shape.FlatCoords(), shape.Endss()).SetSRID(crs.EPSG)
		return []any{n, kind, code, name, county, geom.T(shape)}
	}
	_, err = b.tx.CopyFrom(b.ctx, pgx.Identifier{"raw_shape"}, []string{"n", "kind", "code", "name", "county", "geom"},
		pgx.CopyFromSlice(counties+len(b.in.Townships), func(i int) ([]any, error) {
			if i < counties {
				c := b.in.Counties[i]
				return row(i+1, "county", c.Code, c.Name, "", b.in.CountyCRS, c.Geometry), nil
			}
			t := b.in.Townships[i-counties]
			return row(i+1, "township", t.Code, t.Name, t.County, b.in.TownshipCRS, t.Geometry), nil
		}))
	if err != nil {
		return err
	}
	for kind, crs := range map[string]geofile.CRS{"county": b.in.CountyCRS, "township": b.in.TownshipCRS} {
		if err := b.transform(kind, crs); err != nil {
			return err
		}
	}
	if b.base, err = currentSet(b.ctx, b.tx); err != nil {
		return err
	}
	return b.oldDatum()
}

// transform turns one layer into longitude and latitude.
func (b *bench) transform(kind string, crs geofile.CRS) error {
	var err error
	switch {
	case crs.EPSG == 4326:
	case crs.EPSG != 0:
		err = b.exec(`UPDATE raw_shape SET geom = ST_Transform(geom, 4326) WHERE kind = $1`, kind)
	default:
		err = b.exec(`UPDATE raw_shape SET geom = ST_Transform(ST_SetSRID(geom, 0), $2::text, 4326) WHERE kind = $1`, kind, crs.WKT)
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) && pg.Code == "XX000" { // PostGIS does not tell its errors apart
		return fmt.Errorf("%w: %s cannot be turned into longitude and latitude", geofile.ErrCRS, crs)
	}
	if err != nil {
		return err
	}
	var outside int
	err = b.tx.QueryRow(b.ctx, `
		SELECT count(*)
		  FROM raw_shape
		 WHERE kind = $1
		   AND NOT (ST_XMin(geom) >= -180.001 AND ST_XMax(geom) <= 180.001 AND ST_YMin(geom) >= -90.001 AND ST_YMax(geom) <= 90.001)`,
		kind).Scan(&outside)
	if err == nil && outside > 0 {
		err = fmt.Errorf("%w: %d outlines lie where %s does not reach", geofile.ErrCRS, outside, crs)
	}
	return err
}

// nad27 finds the datum of 1927 in a definition.
var nad27 = regexp.MustCompile(`(?i)NORTH[_ ]AMERICAN[_ ](DATUM[_ ])?1927|NAD[_ ]?27|CLARKE[_ ]1866|CLRK66`)

// oldDatum notes a layer of 1927 where PROJ has not got the grids for it.
func (b *bench) oldDatum() error {
	old := false
	for _, crs := range []geofile.CRS{b.in.CountyCRS, b.in.TownshipCRS} {
		text := crs.WKT
		if crs.EPSG != 0 {
			err := b.tx.QueryRow(b.ctx, `SELECT coalesce(max(srtext || proj4text), '') FROM spatial_ref_sys WHERE srid = $1`, crs.EPSG).Scan(&text)
			if err != nil {
				return err
			}
		}
		old = old || nad27.MatchString(text)
	}
	if !old {
		return nil
	}
	sub, err := b.tx.Begin(b.ctx)
	if err != nil {
		return err
	}
	_, err = sub.Exec(b.ctx, `
		SELECT ST_Transform(ST_MakePoint(-93, 42), '+proj=longlat +ellps=clrk66 +nadgrids=conus +no_defs'::text, 4326)`)
	if err := sub.Rollback(b.ctx); err != nil {
		return err
	}
	var pg *pgconn.PgError
	switch {
	case errors.As(err, &pg):
		b.note(geofile.Finding{Kind: geofile.OldDatum, Weight: geofile.Look, Total: 1})
	case err != nil:
		return err
	}
	return nil
}

// keep stores what was laid out under a ticket.
func (b *bench) keep(t geofile.Ticket, day time.Time) error {
	raw, err := json.Marshal(b.found)
	if err != nil {
		return err
	}
	err = b.exec(`
		INSERT INTO priv.stage (ticket, made, digest, srid, base, inspection) VALUES ($1, $2, $3, $4, $5, $6)`,
		[16]byte(t), day, b.in.Digest[:], b.srid, b.base, raw)
	if err != nil {
		return err
	}
	return b.exec(`
		INSERT INTO priv.stage_shape (ticket, n, kind, code, name, county, place, geom, outline)
		SELECT $1, p.n, p.kind, p.code, p.name, p.county, p.place, ST_Multi(p.geom), d.outline
		  FROM placed p
		  JOIN drawn d USING (n)`, [16]byte(t))
}
