package postgres

import (
	"context"
	"encoding/json"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/virulence"
)

// Indicators keeps tests on indicator lines, over a Staff connection.
type Indicators struct{ db DB }

// NewIndicators makes the store.
func NewIndicators(db DB) *Indicators { return &Indicators{db} }

// pots is a test as it is stored: the check at 0, line n at n.
type pots [virulence.NumLines + 1][]int

func potsOf(t virulence.Test) (p pots) {
	p[0] = t.Check
	for i, line := range t.Pots {
		p[i+1] = line
	}
	return p
}

func (p pots) test() virulence.Test {
	t := virulence.Test{Check: p[0]}
	copy(t.Pots[:], p[1:])
	return t
}

// Record stores a test of a bag. What it replaces is the test its keyer saw, zero
// for none: if another stands by now the answer is fault.ErrConflict.
// fault.ErrNotFound: no such bag, or nothing says where it is from. The error of a
// test that cannot be read is assay's.
func (s *Indicators) Record(ctx context.Context, code bag.Code, t virulence.Test, replaces desk.ID, by account.ID, today time.Time) (err error) {
	defer wrap(&err, "Indicators.Record")
	if err = t.Valid(); err != nil {
		return err
	}
	doc, err := json.Marshal(potsOf(t))
	if err != nil {
		return err
	}
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var sample, head [16]byte
		err := tx.QueryRow(ctx, `
			SELECT l.sample FROM priv.bag b JOIN priv.bag_link l ON l.bag = b.code
			 WHERE b.code = $1 AND b.state <> 'void' FOR UPDATE OF b`, string(code)).Scan(&sample)
		if err != nil {
			return err
		}
		err = tx.QueryRow(ctx, `
			SELECT id FROM priv.indicator i
			 WHERE sample = $1 AND NOT EXISTS (SELECT FROM priv.indicator n WHERE n.supersedes = i.id)`, sample).Scan(&head)
		if err != nil && err != pgx.ErrNoRows {
			return err
		}
		if desk.ID(head) != replaces {
			return fault.ErrConflict
		}
		_, err = tx.Exec(ctx, `
			INSERT INTO priv.indicator (sample, pots, day, supersedes, by_staff) VALUES ($1, $2, $3, $4, $5)`,
			sample, string(doc), today, orNull(replaces), orNull(by))
		return err
	})
}

const indicatorColumns = `
	SELECT i.id, l.bag, m.season, i.day, coalesce(p.login, ''), i.pots
	  FROM priv.indicator i
	  JOIN priv.sample m ON m.id = i.sample
	  JOIN priv.bag_link l ON l.sample = m.id
	  LEFT JOIN priv.staff p ON p.id = i.by_staff
	 WHERE NOT EXISTS (SELECT FROM priv.indicator n WHERE n.supersedes = i.id)`

// Find gives the test that stands for a bag; one without an ID where there is
// none. fault.ErrNotFound: no such bag, or nothing says where it is from.
func (s *Indicators) Find(ctx context.Context, code bag.Code) (_ desk.Indicator, err error) {
	defer wrap(&err, "Indicators.Find")
	out := desk.Indicator{Code: code}
	err = s.db.QueryRow(ctx, `
		SELECT m.season FROM priv.bag b JOIN priv.bag_link l ON l.bag = b.code JOIN priv.sample m ON m.id = l.sample
		 WHERE b.code = $1 AND b.state <> 'void'`, string(code)).Scan(&out.Season)
	if err != nil {
		return out, err
	}
	list, err := s.list(ctx, indicatorColumns+` AND l.bag = $1`, string(code))
	if err == nil && len(list) > 0 {
		out = list[0]
	}
	return out, err
}

// List gives a fall's tests that stand, by day.
func (s *Indicators) List(ctx context.Context, season int) (_ []desk.Indicator, err error) {
	defer wrap(&err, "Indicators.List")
	return s.list(ctx, indicatorColumns+` AND m.season = $1 ORDER BY i.day, l.bag`, season)
}

// Closed gives the falls that had closed before today and have tests, newest
// first, with the tests as they stood when their fall closed: what came or was
// corrected later stays out for ever, so that a figure once told does not change.
func (s *Indicators) Closed(ctx context.Context, today time.Time) (_ []desk.IndicatorFall, err error) {
	defer wrap(&err, "Indicators.Closed")
	rows, err := s.db.Query(ctx, `
		SELECT e.year, z.k, z.dominance, m.county, coalesce(x.merged_into, x.id, '00000000-0000-0000-0000-000000000000'), m.standing > 0, i.pots
		  FROM priv.indicator i
		  JOIN priv.sample m ON m.id = i.sample
		  JOIN open.season e ON e.year = m.season AND e.closes < $1
		  LEFT JOIN priv.sender x ON x.id = m.sender
		 CROSS JOIN open.program p
		  JOIN open.parameter_set z ON z.id = p.parameters
		 WHERE i.day <= e.closes
		   AND NOT EXISTS (SELECT FROM priv.indicator n WHERE n.supersedes = i.id AND n.day <= e.closes)
		 ORDER BY e.year DESC, i.id`, today)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []desk.IndicatorFall
	for rows.Next() {
		var fall desk.IndicatorFall
		var t virulence.Sent
		var doc []byte
		if err := rows.Scan(&fall.Season, &fall.K, &fall.Dominance, &t.County, &t.Sender, &t.Sure, &doc); err != nil {
			return nil, err
		}
		var p pots
		if err := json.Unmarshal(doc, &p); err != nil {
			return nil, err
		}
		result, err := p.test().Result()
		if err != nil {
			return nil, err
		}
		t.Type = result.Type
		if n := len(out); n == 0 || out[n-1].Season != fall.Season {
			out = append(out, fall)
		}
		last := &out[len(out)-1]
		last.Tests = append(last.Tests, t)
	}
	return out, rows.Err()
}

func (s *Indicators) list(ctx context.Context, sql string, args ...any) ([]desk.Indicator, error) {
	rows, err := s.db.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Indicator, error) {
		var out desk.Indicator
		var doc []byte
		if err := row.Scan((*[16]byte)(&out.ID), (*string)(&out.Code), &out.Season, &out.Day, &out.By, &doc); err != nil {
			return out, err
		}
		var p pots
		err := json.Unmarshal(doc, &p)
		out.Test = p.test()
		return out, err
	})
}
