package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/twpayne/go-geom"

	"sixmile/internal/account"
	"sixmile/internal/annual"
	"sixmile/internal/annual/tally"
	"sixmile/internal/assay"
	"sixmile/internal/place"
)

// Land reads the outlines that an edition was drawn on, over the Public
// connection.
type Land struct{ db DB }

// NewLand makes the store.
func NewLand(db DB) *Land { return &Land{db} }

// Outlines hands on the places of a kind as the edition's boundaries have them, in
// longitude and latitude, outer rings counter-clockwise as RFC 7946 wants, each
// with its area in square kilometers on the ellipsoid. Counties come by name,
// townships by their county's name and their code: the order of an annual table.
func (s *Land) Outlines(ctx context.Context, editionNo int, kind place.Kind, see func(place.ID, *geom.MultiPolygon, float64) error) (err error) {
	defer wrap(&err, "Land.Outlines")
	rows, err := s.db.Query(ctx, `
		SELECT p.id, ST_ForcePolygonCCW(s.geom), ST_Area(s.geom::geography) / 1e6
		  FROM open.edition e
		  JOIN open.place_shape s ON s.set = e.set
		  JOIN open.place p ON p.id = s.place AND p.kind = $2
		  LEFT JOIN open.place c ON c.id = p.county
		 WHERE e.no = $1
		 ORDER BY coalesce(c.name, s.name), s.code`, editionNo, string(kind))
	if err != nil {
		return err
	}
	var id int32
	var shape geom.T
	var area float64
	_, err = pgx.ForEachRow(rows, []any{&id, &shape, &area}, func() error {
		return see(place.ID(id), shape.(*geom.MultiPolygon), area)
	})
	return err
}

// Annual reads the office's side of the annual summary, over the Staff
// connection.
type Annual struct{ db DB }

// NewAnnual makes the store.
func NewAnnual(db DB) *Annual { return &Annual{db} }

// Season is a season as a period of the summary. fault.ErrNotFound: there is no
// such season. It works over the Public connection too.
func (s *Annual) Season(ctx context.Context, year int) (p annual.Period, err error) {
	defer wrap(&err, "Annual.Season")
	p.Year = year
	err = s.db.QueryRow(ctx, `SELECT opens, closes FROM open.season WHERE year = $1`, year).Scan(&p.From, &p.To)
	return p, err
}

// Figures are the office's figures of a period as they stand on a day: what came
// in or was counted later is left out of a fiscal year's flows, and of a season
// nothing can be later. The level table is that of the edition they stand beside.
func (s *Annual) Figures(ctx context.Context, p annual.Period, on time.Time, scheme assay.Scheme) (f tally.Figures, err error) {
	defer wrap(&err, "Annual.Figures")
	err = pgx.BeginTxFunc(ctx, beginner{s.db}, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		if f.Bags, err = annualBags(ctx, tx, p, on); err != nil {
			return err
		}
		if f.Falls, err = annualFalls(ctx, tx, p, scheme); err != nil {
			return err
		}
		if f.Waits, err = annualWaits(ctx, tx); err != nil {
			return err
		}
		f.Work, err = annualWork(ctx, tx, p, on)
		return err
	})
	return f, err
}

// annualBags counts bags by the county of their lot: the season's lots, or each
// step by its own day. When a season is unlinked its bags forget on which day they
// came, and which result is theirs: of a season what was counted had come, and of a
// fiscal year each such result counts, and stands for its bag's arrival, on its own
// day and in its sample's county, as it does where money is worked out.
func annualBags(ctx context.Context, db DB, p annual.Period, on time.Time) ([]tally.Bags, error) {
	until := p.To
	if on.Before(until) {
		until = on
	}
	rows, err := db.Query(ctx, `
		WITH bag AS (
		    SELECT t.county, b.state, b.received, r.day AS counted,
		           CASE WHEN $1 THEN t.issued BETWEEN $3 AND $4 ELSE t.season = $2 END AS ours,
		           $1 AS flow
		      FROM priv.lot t
		      JOIN priv.bundle u ON u.lot = t.id
		      JOIN priv.bag b ON b.bundle = u.id
		      LEFT JOIN priv.bag_link l ON l.bag = b.code
		      LEFT JOIN priv.result r ON r.sample = l.sample AND r.supersedes IS NULL
		), linked AS (
		    SELECT county,
		           count(*) FILTER (WHERE ours) AS issued,
		           count(*) FILTER (WHERE ours AND state NOT IN ('issued', 'void')) AS handed_out,
		           count(*) FILTER (WHERE CASE WHEN flow THEN received BETWEEN $3 AND $4
		                                       ELSE ours AND (received IS NOT NULL OR state IN ('counted', 'signed', 'released')) END) AS returned,
		           count(*) FILTER (WHERE CASE WHEN flow THEN counted BETWEEN $3 AND $4 ELSE ours AND state IN ('counted', 'signed', 'released') END) AS counted,
		           count(*) FILTER (WHERE ours AND state IN ('signed', 'released')) AS signed,
		           count(*) FILTER (WHERE ours AND state = 'void') AS void,
		           count(*) FILTER (WHERE ours AND state = 'released') AS on_map,
		           count(*) FILTER (WHERE ours AND state = 'signed') AS waiting
		      FROM bag
		     GROUP BY county
		), forgotten AS (
		    SELECT s.county, count(*) AS n
		      FROM priv.result r
		      JOIN priv.sample s ON s.id = r.sample AND s.source <> 'past'
		     WHERE $1 AND r.supersedes IS NULL AND r.day BETWEEN $3 AND $4
		       AND NOT EXISTS (SELECT FROM priv.bag_link k WHERE k.sample = s.id)
		     GROUP BY s.county
		)
		SELECT coalesce(b.county, f.county), coalesce(b.issued, 0), coalesce(b.handed_out, 0),
		       coalesce(b.returned, 0) + coalesce(f.n, 0), coalesce(b.counted, 0) + coalesce(f.n, 0),
		       coalesce(b.signed, 0), coalesce(b.void, 0), coalesce(b.on_map, 0), coalesce(b.waiting, 0)
		  FROM linked b
		  FULL JOIN forgotten f ON f.county = b.county
		 ORDER BY 1`, p.Fiscal, p.Year, p.From, until)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (b tally.Bags, err error) {
		err = row.Scan((*int32)(&b.County), &b.Issued, &b.HandedOut, &b.Returned, &b.Counted, &b.Signed, &b.Void, &b.OnMap, &b.InWait)
		return b, err
	})
}

// annualSeasons picks the seasons of a period: itself, or those that open in the
// fiscal year.
const annualSeasons = `(SELECT year FROM open.season WHERE CASE WHEN $1 THEN opens BETWEEN $3 AND $4 ELSE year = $2 END)`

// annualFalls counts the samples of the period's seasons, and sorts those that
// are signed into the levels of the table.
func annualFalls(ctx context.Context, db DB, p annual.Period, scheme assay.Scheme) ([]tally.Fall, error) {
	rows, err := db.Query(ctx, `
		SELECT s.county, s.season, h.id IS NOT NULL, m.tranche IS NOT NULL,
		       g.result IS NOT NULL, coalesce(h.kind = 'counted', false), coalesce(h.eggs, 0), coalesce(h.density, 0),
		       coalesce(h.cyst, false), coalesce(h.juveniles, false)
		  FROM priv.sample s
		  LEFT JOIN priv.head h ON h.sample = s.id
		  LEFT JOIN priv.signature g ON g.result = h.id
		  LEFT JOIN priv.tranche_member m ON m.sample = s.id
		 WHERE s.season IN `+annualSeasons, p.Fiscal, p.Year, p.From, p.To)
	if err != nil {
		return nil, err
	}
	type key struct {
		county int32
		season int
	}
	falls := make(map[key]*tally.Fall)
	var k key
	var counted, onMap, signed, slide, cyst, juveniles bool
	var eggs int
	var density float64
	_, err = pgx.ForEachRow(rows, []any{&k.county, &k.season, &counted, &onMap, &signed, &slide, &eggs, &density, &cyst, &juveniles}, func() error {
		f := falls[k]
		if f == nil {
			f = &tally.Fall{County: place.ID(k.county), Season: k.season, Readings: map[int]int{}}
			falls[k] = f
		}
		f.Samples++
		if counted {
			f.Counted++
		}
		if onMap {
			f.OnMap++
		}
		if signed {
			f.Signed++
			r := arrivalRow{isCount: slide, eggs: eggs, density: density, cyst: cyst, juveniles: juveniles}
			f.Readings[scheme.Class(r.reading()).Rank]++
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	var out []tally.Fall
	for _, f := range falls {
		out = append(out, *f)
	}
	return out, nil
}

// annualWaits counts what is signed and on no map, of whatever season.
func annualWaits(ctx context.Context, db DB) ([]tally.Waits, error) {
	rows, err := db.Query(ctx, `
		SELECT place, county, season, count(*)
		  FROM priv.arrival
		 WHERE tranche IS NULL AND result IS NOT NULL
		 GROUP BY place, county, season
		 ORDER BY county, place, season`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (w tally.Waits, err error) {
		err = row.Scan((*int32)(&w.Place), (*int32)(&w.County), &w.Season, &w.Samples)
		return w, err
	})
}

// annualWork counts results that stand by method: those of the period's seasons,
// or those of days in the fiscal year.
func annualWork(ctx context.Context, db DB, p annual.Period, on time.Time) ([]tally.Work, error) {
	until := p.To
	if on.Before(until) {
		until = on
	}
	rows, err := db.Query(ctx, `
		SELECT m.name, m.version, s.season, count(*), count(g.result)
		  FROM priv.head h
		  JOIN priv.sample s ON s.id = h.sample
		  JOIN open.method m ON m.id = h.method
		  LEFT JOIN priv.signature g ON g.result = h.id
		 WHERE CASE WHEN $1 THEN h.day BETWEEN $3 AND $4 ELSE s.season = $2 END
		 GROUP BY 1, 2, 3
		 ORDER BY 3, 1, 2`, p.Fiscal, p.Year, p.From, until)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (w tally.Work, err error) {
		err = row.Scan(&w.Method.Name, &w.Method.Version, &w.Season, &w.Results, &w.Signed)
		return w, err
	})
}

// Note writes into the trail that a copy of the summary was made of an edition.
func (s *Annual) Note(ctx context.Context, editionNo int, today time.Time) (err error) {
	defer wrap(&err, "Annual.Note")
	return note(ctx, s.db, account.DidAnnual, today, account.Detail{Edition: editionNo})
}
