package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/past"
	"sixmile/internal/place"
)

// History takes in files of past results, over a Staff connection: all of a file
// or nothing, and the same file once. What is kept of a row is a past.Kept.
type History struct{ sentFiles }

// NewHistory makes the store.
func NewHistory(db DB) *History {
	return &History{sentFiles{db, "History", "priv.past_memory", "priv.past_load"}}
}

// Setup is what a file's rows go by, as the program stands today.
func (s *History) Setup(ctx context.Context, today time.Time) (out past.Setup, err error) {
	defer wrap(&err, "History.Setup")
	rows, err := s.db.Query(ctx, `SELECT year, opens, closes FROM open.season ORDER BY year`)
	if err != nil {
		return out, err
	}
	if out.Seasons, err = pgx.CollectRows(rows, pgx.RowToStructByPos[past.SeasonDays]); err != nil {
		return out, err
	}
	out.Latest = out.SeasonOf(today) - 1
	for _, k := range out.Seasons {
		if !k.Closes.Before(today) {
			out.Latest = min(out.Latest, k.Year-1)
		}
	}
	if out.Methods, err = readMethods(ctx, s.db); err != nil {
		return out, err
	}
	out.Scheme, err = NewLevels(s.db).Scheme(ctx)
	return out, err
}

// Gazetteer reads what the places of the current boundary set may be called.
func (s *History) Gazetteer(ctx context.Context) (_ *past.Gazetteer, err error) {
	defer wrap(&err, "History.Gazetteer")
	rows, err := s.db.Query(ctx, `
		WITH cur AS (SELECT max(id) AS set FROM open.boundary_set), name AS (
		    SELECT place, coalesce(array_agg(name) FILTER (WHERE kind <> 'town'), '{}') AS names,
		           coalesce(array_agg(name) FILTER (WHERE kind = 'town'), '{}') AS towns
		      FROM open.place_name, cur WHERE place_name.set = cur.set GROUP BY 1
		)
		SELECT p.id, coalesce(p.county, p.id), coalesce(n.names, '{}'), coalesce(n.towns, '{}'),
		       v.place IS NOT NULL, coalesce(v.township, 0), coalesce(v.range, 0), coalesce(v.ns, ''), coalesce(v.ew, ''), coalesce(v.meridian, 0)
		  FROM cur
		  JOIN open.place_shape s ON s.set = cur.set
		  JOIN open.place p ON p.id = s.place AND p.kind IN ('county', 'township')
		  LEFT JOIN name n ON n.place = p.id
		  LEFT JOIN open.place_survey v ON v.set = cur.set AND v.place = p.id
		 ORDER BY p.id`)
	if err != nil {
		return nil, err
	}
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (n past.Named, err error) {
		var surveyed bool
		var v place.Survey
		var ns, ew string
		err = row.Scan((*int32)(&n.ID), (*int32)(&n.County), &n.Names, &n.Towns, &surveyed, (*uint16)(&v.Township), (*uint16)(&v.Range), &ns, &ew, (*uint8)(&v.Meridian))
		if err != nil || !surveyed {
			return n, err
		}
		if v.NorthSouth, err = place.ParseSide(ns); err == nil {
			v.EastWest, err = place.ParseSide(ew)
		}
		n.Survey = &v
		return n, err
	})
	return past.NewGazetteer(all), err
}

// Known tells whether PostGIS knows a coordinate system.
func (s *History) Known(ctx context.Context, srid int) (known bool, err error) {
	defer wrap(&err, "History.Known")
	err = s.db.QueryRow(ctx, `SELECT EXISTS (SELECT FROM spatial_ref_sys WHERE srid = $1)`, srid).Scan(&known)
	return known, err
}

// Locate gives the township of each point, else its county, else 0. The points
// go in as parameters, which the server is told not to log, are transformed in
// memory, and what fails fails inside the server (priv.place_at). past.ErrSystem: no
// such coordinate system.
func (s *History) Locate(ctx context.Context, srid int, points []past.Point) (out []place.ID, err error) {
	defer wrap(&err, "History.Locate")
	if known, err := s.Known(ctx, srid); err != nil || !known {
		return nil, errors.Join(err, fmt.Errorf("EPSG:%d: %w", srid, past.ErrSystem))
	}
	x, y := make([]float64, len(points)), make([]float64, len(points))
	for i, p := range points {
		x[i], y[i] = p.X, p.Y
	}
	rows, err := s.db.Query(ctx, `
		SELECT coalesce(priv.place_at((SELECT max(id) FROM open.boundary_set), $1, p.x, p.y), 0)
		  FROM unnest($2::float8[], $3::float8[]) WITH ORDINALITY AS p (x, y, nth)
		 ORDER BY p.nth`, srid, x, y)
	clear(x)
	clear(y)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (id place.ID, err error) {
		err = row.Scan((*int32)(&id))
		return id, err
	})
}

// Accept stores what a file came to, signed, in one transaction. A file that says
// the same as one taken before changes nothing: n is 0. Falls that the program
// does not know yet are added.
func (s *History) Accept(ctx context.Context, digest string, kept []past.Kept, by account.ID, today time.Time) (n int, err error) {
	defer wrap(&err, "History.Accept")
	if len(kept) == 0 {
		return 0, nil
	}
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		// One file at a time, and not while an edition is made. What forms wait for comes
		// last: they must not wait for the edition too.
		_, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile release')), pg_advisory_xact_lock(hashtext('sixmile history')),
			set_config('sixmile.bulk', 'on', true)`)
		if err != nil {
			return err
		}
		tag, err := tx.Exec(ctx, `
			INSERT INTO priv.past_load (digest, day, results, by_staff) VALUES ($1, $2, $3, $4)
			ON CONFLICT DO NOTHING`, digest, today, len(kept), orNull(by))
		if err != nil || tag.RowsAffected() == 0 {
			return err
		}
		if err := addPastSeasons(ctx, tx, kept); err != nil {
			return err
		}
		if err := storePast(ctx, tx, kept, by, today); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `SELECT priv.lower_standings()`); err != nil {
			return err
		}
		n = len(kept)
		return note(ctx, tx, account.DidHistory, today, account.Detail{Number: n})
	})
	return n, err
}

// readOthers reads who else sends, by county.
func readOthers(ctx context.Context, tx pgx.Tx) (map[place.ID]past.Others, error) {
	rows, err := tx.Query(ctx, `
		SELECT county, season, bool_or(source = 'past' AND standing = 2)
		  FROM priv.sample WHERE sender IS NOT NULL GROUP BY 1, 2`)
	if err != nil {
		return nil, err
	}
	out := map[place.ID]past.Others{}
	var county place.ID
	var season int
	var first bool
	_, err = pgx.ForEachRow(rows, []any{(*int32)(&county), &season, &first}, func() error {
		o, there := out[county]
		if !there {
			o = past.Others{Falls: map[int]bool{}, Firsts: map[int]bool{}}
			out[county] = o
		}
		o.Falls[season] = true
		if first {
			o.Firsts[season] = true
		}
		return nil
	})
	return out, err
}
