package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/tray"
)

// Tray gives a tray's cups, cup 1 first. fault.ErrNotFound: no bag stands in it
// or in a later one.
func (s *Trays) Tray(ctx context.Context, season, no int) (_ []desk.Cup, err error) {
	defer wrap(&err, "Trays.Tray")
	p, err := readPlan(ctx, s.db, season, false)
	if err != nil {
		return nil, err
	}
	if no < 1 || no > p.Trays() {
		return nil, fault.ErrNotFound
	}
	kinds, err := p.Lay(no)
	if err != nil {
		return nil, err
	}
	cups := make([]desk.Cup, len(kinds))
	for i, k := range kinds {
		cups[i] = desk.Cup{No: i + 1, Kind: k}
	}
	rows, err := s.db.Query(ctx, `
		SELECT t.cup, t.bag, b.state
		  FROM priv.seat t
		  JOIN priv.bag_state b ON b.code = t.bag
		 WHERE t.season = $1 AND t.tray = $2`, season, no)
	if err != nil {
		return nil, err
	}
	var cup int
	var code, state string
	_, err = pgx.ForEachRow(rows, []any{&cup, &code, &state}, func() error {
		cups[cup-1].Code, cups[cup-1].State = bag.Code(code), bag.State(state)
		return nil
	})
	if err != nil {
		return nil, err
	}
	controls, err := s.controls(ctx, `c.season = $1 AND c.tray = $2`, season, no)
	for i := range controls {
		if at := controls[i].Cup - 1; at < len(cups) {
			cups[at].Control = &controls[i]
		}
	}
	return cups, err
}

// List gives a fall's trays that have something in them, the newest first.
func (s *Trays) List(ctx context.Context, season int) (_ []desk.TrayLine, err error) {
	defer wrap(&err, "Trays.List")
	rows, err := s.db.Query(ctx, `
		SELECT t.tray, count(*), count(*) FILTER (WHERE b.state IN ('counted', 'signed', 'released'))
		  FROM priv.seat t
		  JOIN priv.bag b ON b.code = t.bag
		 WHERE t.season = $1
		 GROUP BY t.tray
		 ORDER BY t.tray DESC`, season)
	if err != nil {
		return nil, err
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.TrayLine, error) {
		var l desk.TrayLine
		return l, row.Scan(&l.No, &l.Bags, &l.Counted)
	})
	if err != nil {
		return nil, err
	}
	controls, err := s.controls(ctx, `c.season = $1`, season)
	for _, c := range controls {
		for i := range out {
			switch {
			case out[i].No != c.Tray:
			case c.Kind == tray.Blank:
				out[i].Blanks = append(out[i].Blanks, c)
			default:
				out[i].Checks = append(out[i].Checks, c)
			}
		}
	}
	return out, err
}

// Controls lists a fall's blanks or check samples that were counted, in the
// order of their trays.
func (s *Trays) Controls(ctx context.Context, season int, kind tray.Kind) (_ []desk.Control, err error) {
	defer wrap(&err, "Trays.Controls")
	return s.controls(ctx, `c.season = $1 AND c.kind = $2`, season, kind.String())
}

func (s *Trays) controls(ctx context.Context, where string, args ...any) ([]desk.Control, error) {
	rows, err := s.db.Query(ctx, `
		SELECT c.season, c.tray, c.cup, c.kind, c.eggs, c.cyst, c.density, c.day,
		       e.name, e.version, e.soil_cm3, e.suspension_ml, e.aliquot_ml, e.recovery, e.eggs_per_cyst
		  FROM priv.standing_control c
		  JOIN open.method e ON e.id = c.method
		 WHERE `+where+`
		 ORDER BY c.tray, c.cup`, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Control, error) {
		c := desk.Control{Kind: tray.Check}
		var kind string
		err := row.Scan(&c.Season, &c.Tray, &c.Cup, &kind, &c.Eggs, &c.CystSeen, (*float64)(&c.Density), &c.Day,
			&c.Method.Name, &c.Method.Version, &c.Method.SoilCM3, &c.Method.SuspensionML, &c.Method.AliquotML, &c.Method.Recovery, &c.Method.EggsPerCyst)
		if kind == tray.Blank.String() {
			c.Kind = tray.Blank
		}
		return c, err
	})
}

// KeyControl stores a count of a blank or a check sample; keyed again, the last
// stands. fault.ErrNotFound: no control stands in that cup, or no such method.
func (s *Trays) KeyControl(ctx context.Context, season, no, cup int, count assay.Count, m assay.Method, by account.ID, today time.Time) (err error) {
	defer wrap(&err, "Trays.KeyControl")
	r, err := count.Density(m)
	if err != nil {
		return err
	}
	cups, err := s.Tray(ctx, season, no)
	if err != nil {
		return err
	}
	if cup < 1 || cup > len(cups) || cups[cup-1].Kind == tray.Sample {
		return fault.ErrNotFound
	}
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		if _, err := lockPlan(ctx, tx, season); err != nil {
			return err
		}
		tag, err := tx.Exec(ctx, `
			INSERT INTO priv.control (season, tray, cup, no, kind, method, eggs, cyst, density, day, by_staff)
			SELECT $1, $2, $3, 1 + (SELECT count(*) FROM priv.control WHERE season = $1 AND tray = $2 AND cup = $3), $4, m.id, $5, $6, $7, $8, $9
			  FROM open.method m
			 WHERE m.name = $10 AND m.version = $11`,
			season, no, cup, cups[cup-1].Kind.String(), r.Eggs, r.CystSeen, float64(r.Density), today, orNull(by), m.Name, m.Version)
		if err == nil && tag.RowsAffected() == 0 {
			err = fault.ErrNotFound
		}
		return err
	})
}
