package postgres

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/past"
	"sixmile/internal/place"
	"sixmile/internal/tabular"
)

// History takes in files of past results, over a Staff connection: all of a file
// or nothing, and the same file once. What is kept of a row is a past.Kept.
type History struct{ db DB }

// NewHistory makes the store.
func NewHistory(db DB) *History { return &History{db} }

// Memory is what the office has said columns of past results mean.
func (s *History) Memory(ctx context.Context) (m tabular.Memory, err error) {
	defer wrap(&err, "History.Memory")
	var doc []byte
	err = s.db.QueryRow(ctx, `SELECT columns FROM priv.past_memory`).Scan(&doc)
	if err == pgx.ErrNoRows {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return m, json.Unmarshal(doc, &m)
}

// Remember keeps it.
func (s *History) Remember(ctx context.Context, m tabular.Memory) (err error) {
	defer wrap(&err, "History.Remember")
	doc, err := json.Marshal(m)
	if err != nil {
		return err
	}
	_, err = s.db.Exec(ctx, `
		INSERT INTO priv.past_memory (columns) VALUES ($1)
		ON CONFLICT (only_one) DO UPDATE SET columns = excluded.columns`, string(doc))
	return err
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

// Taken tells on which day a file that says the same was taken; the zero time
// for none.
func (s *History) Taken(ctx context.Context, digest string) (day time.Time, err error) {
	defer wrap(&err, "History.Taken")
	err = s.db.QueryRow(ctx, `SELECT day FROM priv.past_load WHERE digest = $1`, digest).Scan(&day)
	if err == pgx.ErrNoRows {
		return time.Time{}, nil
	}
	return day, err
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
		// One file at a time, and not while an edition is made.
		_, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile history')), pg_advisory_xact_lock(hashtext('sixmile release')),
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

// addPastSeasons adds falls the program has no days for, with the days of its
// earliest known one, else August 15 to the end of June.
func addPastSeasons(ctx context.Context, tx pgx.Tx, kept []past.Kept) error {
	var years []int
	for _, k := range kept {
		if !slices.Contains(years, k.Season) {
			years = append(years, k.Season)
		}
	}
	_, err := tx.Exec(ctx, `
		INSERT INTO open.season (year, opens, closes)
		SELECT y, coalesce(f.opens + make_interval(years => y - f.year), make_date(y, 8, 15))::date,
		          coalesce(f.closes + make_interval(years => y - f.year), make_date(y + 1, 6, 30))::date
		  FROM unnest($1::int[]) y
		  LEFT JOIN (SELECT * FROM open.season ORDER BY year LIMIT 1) f ON true
		ON CONFLICT DO NOTHING`, years)
	return err
}

// pastRow is a row as it is stored.
type pastRow struct {
	past.Kept
	sample, result [16]byte
	sender         any
	standing       edition.Standing
}

// storePast stores samples, results and their signatures, in the order of the
// samples' random numbers: the order of the file tells who stood beside whom.
func storePast(ctx context.Context, tx pgx.Tx, kept []past.Kept, by account.ID, today time.Time) error {
	others, err := readOthers(ctx, tx)
	if err != nil {
		return err
	}
	rows := make([]pastRow, len(kept))
	senders := map[int][16]byte{}
	for i, standing := range past.Standings(kept, others) {
		r := pastRow{Kept: kept[i], sample: randomID(), result: randomID(), standing: standing}
		if r.Farm != 0 {
			if _, there := senders[r.Farm]; !there {
				senders[r.Farm] = randomID()
			}
			r.sender = senders[r.Farm]
		}
		rows[i] = r
	}
	slices.SortFunc(rows, func(a, b pastRow) int { return bytes.Compare(a.sample[:], b.sample[:]) })
	var batch [16]byte
	if err := tx.QueryRow(ctx, `INSERT INTO priv.batch (day, by_staff) VALUES ($1, $2) RETURNING id`, today, orNull(by)).Scan(&batch); err != nil {
		return err
	}
	var scheme int
	if err := tx.QueryRow(ctx, `SELECT open.scheme_in_force()`).Scan(&scheme); err != nil {
		return err
	}
	methods, err := methodIDs(ctx, tx)
	if err != nil {
		return err
	}
	ids := make([][]any, 0, len(senders))
	for _, id := range senders {
		ids = append(ids, []any{id})
	}
	for _, c := range []struct {
		table   string
		columns []string
		rows    pgx.CopyFromSource
	}{
		{"sender", []string{"id"}, pgx.CopyFromRows(ids)},
		{"sample", []string{"id", "sender", "place", "county", "season", "day", "standing", "source"},
			pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) {
				r := rows[i]
				return []any{r.sample, r.sender, int32(r.Place), int32(r.County), r.Season, today, int(r.standing), "past"}, nil
			})},
		{"result", []string{"id", "sample", "kind", "method", "density", "cyst", "juveniles", "day", "by_staff", "given", "unit", "bulk", "scheme"},
			pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) { return rows[i].resultValues(methods, scheme, by, today) })},
		{"signature", []string{"result", "batch"}, pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) {
			return []any{rows[i].result, batch}, nil
		})},
	} {
		if _, err := tx.CopyFrom(ctx, pgx.Identifier{"priv", c.table}, c.columns, c.rows); err != nil {
			return err
		}
	}
	return nil
}

// resultValues are the values of a result, in the order of its columns above.
func (r pastRow) resultValues(methods map[recipeKey]int, scheme int, by account.ID, today time.Time) ([]any, error) {
	var method, given, unit, bulk, table any
	if r.Method.Name != "" {
		id, known := methods[recipeKey{r.Method.Name, r.Method.Version}]
		if !known {
			return nil, assay.Unknown
		}
		method = id
	}
	kind := "density"
	if r.ClassOnly {
		kind, table = "class", scheme
	} else {
		given, unit = r.Report.Value, r.Report.Unit.String()
		if r.Report.Unit.ByMass() {
			bulk = r.Report.BulkDensity
		}
	}
	return []any{r.result, r.sample, kind, method, float64(r.Reading.Density), r.Reading.CystSeen, r.Reading.JuvenilesSeen,
		today, orNull(by), given, unit, bulk, table}, nil
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

// randomID is a random number that tells nothing (RFC 9562, version 4).
func randomID() (id [16]byte) {
	_, _ = rand.Read(id[:]) // never fails
	id[6], id[8] = id[6]&0x0f|0x40, id[8]&0x3f|0x80
	return id
}
