package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
)

// Accepted says what accepting a boundary set did.
type Accepted = desk.Accepted

// Boundaries loads and reads places, over a Staff or Admin connection.
type Boundaries struct {
	db   DB
	tell func(doing string, share float64)
}

// NewBoundaries makes the store.
func NewBoundaries(db DB) *Boundaries { return &Boundaries{db, func(string, float64) {}} }

// Telling is the store with a func that is told how far it has come, from 0 to 1.
func (s *Boundaries) Telling(tell func(doing string, share float64)) *Boundaries {
	return &Boundaries{s.db, tell}
}

// stageDays is how long what was laid out and neither accepted nor discarded stays.
const stageDays = 7

// Stage lays a set out beside what is in force and looks it over: outlines are
// mended, townships cut by county lines, the outlines for drawing made, and the
// places in force looked for among the new ones. Nothing else changes. The
// ticket is for StagedMap, AcceptStaged and Discard.
//
// Files that are in force or were once are not laid out again: Inspection.Known
// says as which set, and the ticket is of no use. The error wraps geofile.ErrCRS
// if PostGIS cannot make longitude and latitude of the coordinates.
func (s *Boundaries) Stage(ctx context.Context, in geofile.Set, day time.Time) (t geofile.Ticket, found geofile.Inspection, err error) {
	defer wrap(&err, "Boundaries.Stage")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		t, found, err = s.stage(ctx, tx, in, day)
		return err
	})
	return t, found, err
}

// Staged reads the report of what was laid out again. fault.ErrNotFound: it was
// accepted, discarded or swept away.
func (s *Boundaries) Staged(ctx context.Context, t geofile.Ticket) (_ geofile.Inspection, err error) {
	defer wrap(&err, "Boundaries.Staged")
	st, err := readStage(ctx, s.db, t)
	return st.found, err
}

// Discard throws away what was laid out. A ticket that is not known is none.
func (s *Boundaries) Discard(ctx context.Context, t geofile.Ticket) (err error) {
	defer wrap(&err, "Boundaries.Discard")
	_, err = s.db.Exec(ctx, `DELETE FROM priv.stage WHERE ticket = $1`, [16]byte(t))
	return err
}

// AcceptStaged puts what was laid out in force: a new set, never changed again.
// Places known again keep their ids, districts are cut, the reference layers of
// the set before are put on this one too.
//
// The error is a *geofile.Refused if the report says that the set cannot be
// accepted; wraps fault.ErrConflict if other boundaries were accepted since it
// was laid out: stage it again; wraps fault.ErrNotFound as Staged does.
func (s *Boundaries) AcceptStaged(ctx context.Context, t geofile.Ticket, today time.Time) (out Accepted, err error) {
	defer wrap(&err, "Boundaries.AcceptStaged")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		if err := lockBoundaries(ctx, tx); err != nil {
			return err
		}
		out, err = s.accept(ctx, tx, t, today)
		return err
	})
	return out, err
}

// Accept stages a set and accepts it at once, whatever is only worth a look. The
// same files again change nothing. Errors are those of Stage and AcceptStaged.
func (s *Boundaries) Accept(ctx context.Context, in geofile.Set, today time.Time) (out Accepted, err error) {
	defer wrap(&err, "Boundaries.Accept")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		t, found, err := s.stage(ctx, tx, in, today)
		if err != nil {
			return err
		}
		if found.Known > 0 {
			out, err = knownSet(ctx, tx, found.Known)
			return err
		}
		out, err = s.accept(ctx, tx, t, today)
		return err
	})
	return out, err
}

// lockBoundaries lets one set be laid out or accepted at a time.
func lockBoundaries(ctx context.Context, tx pgx.Tx) error {
	_, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile boundaries'))`)
	return err
}

// findSet is the set of a digest, 0 if there is none.
func findSet(ctx context.Context, db DB, digest []byte) (set int, err error) {
	err = db.QueryRow(ctx, `SELECT id FROM open.boundary_set WHERE digest = $1`, digest).Scan(&set)
	if err == pgx.ErrNoRows {
		return 0, nil
	}
	return set, err
}

func knownSet(ctx context.Context, db DB, set int) (out Accepted, err error) {
	out.Set = set
	err = db.QueryRow(ctx, `
		SELECT count(*) FILTER (WHERE p.kind = 'county'), count(*) FILTER (WHERE p.kind = 'township'),
		       count(*) FILTER (WHERE p.kind = 'district')
		  FROM open.place_shape s
		  JOIN open.place p ON p.id = s.place
		 WHERE s.set = $1`, set).Scan(&out.Counties, &out.Townships, &out.Districts)
	return out, err
}

// currentSet is the set in force, 0 before the first.
func currentSet(ctx context.Context, db DB) (set int, err error) {
	err = db.QueryRow(ctx, `SELECT coalesce(max(id), 0) FROM open.boundary_set`).Scan(&set)
	return set, err
}

// staged is a row of priv.stage.
type staged struct {
	digest     []byte
	srid, base int
	found      geofile.Inspection
}

func readStage(ctx context.Context, db DB, t geofile.Ticket) (st staged, err error) {
	var raw []byte
	err = db.QueryRow(ctx, `
		SELECT digest, srid, base, inspection FROM priv.stage WHERE ticket = $1`, [16]byte(t)).
		Scan(&st.digest, &st.srid, &st.base, &raw)
	if err != nil {
		return st, err
	}
	return st, json.Unmarshal(raw, &st.found)
}

// SetInfo is a boundary set as a list shows it.
type SetInfo = desk.BoundarySet

// Sets lists all sets, the one in force last.
func (s *Boundaries) Sets(ctx context.Context) (_ []SetInfo, err error) {
	defer wrap(&err, "Boundaries.Sets")
	rows, err := s.db.Query(ctx, `
		SELECT b.id, b.accepted, b.srid, count(*) FILTER (WHERE p.kind = 'county'),
		       count(*) FILTER (WHERE p.kind = 'township'), count(*) FILTER (WHERE p.kind = 'district')
		  FROM open.boundary_set b
		  JOIN open.place_shape s ON s.set = b.id
		  JOIN open.place p ON p.id = s.place
		 GROUP BY b.id
		 ORDER BY b.id`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (i SetInfo, err error) {
		err = row.Scan(&i.Set, &i.Day, &i.SRID, &i.Counties, &i.Townships, &i.Districts)
		return i, err
	})
}

// PlaceAt is the township of the set in force that holds a point, by the rule
// of outline.Shape.Holds on outlines for drawing. fault.ErrNotFound: there is none.
func (s *Boundaries) PlaceAt(ctx context.Context, lon, lat float64) (id int32, err error) {
	defer wrap(&err, "Boundaries.PlaceAt")
	if lon < -180 || lon > 180 || lat < -90 || lat > 90 {
		return 0, fmt.Errorf("no such point: %w", fault.ErrNotFound)
	}
	err = s.db.QueryRow(ctx, `
		SELECT s.place
		  FROM open.boundary_set b
		  CROSS JOIN LATERAL (SELECT ST_SnapToGrid(ST_Transform(ST_SetSRID(ST_MakePoint($1, $2), 4326), b.srid), 1) AS at) p
		  JOIN open.place_shape s ON s.set = b.id AND s.outline && p.at
		  JOIN open.place l ON l.id = s.place AND l.kind = 'township'
		 WHERE b.id = (SELECT max(id) FROM open.boundary_set)
		   AND open.holds(s.outline, ST_X(p.at)::bigint, ST_Y(p.at)::bigint)
		 ORDER BY s.place
		 LIMIT 1`, lon, lat).Scan(&id)
	return id, err
}
