package postgres

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/tray"
)

// Trays takes soil in and keeps the lab's trays, over a Staff connection.
type Trays struct{ db DB }

// NewTrays makes the store.
func NewTrays(db DB) *Trays { return &Trays{db} }

// Arrive notes that a bag's soil has reached the lab and gives it the next cup,
// unless its condition keeps it from being counted. fault.ErrNotFound: no such
// bag, or one set aside. fault.ErrConflict: it had come before; the seat is the
// one it has. A condition noted later takes the place of the earlier one, and a
// bag that becomes countable by it gets its cup then.
func (s *Trays) Arrive(ctx context.Context, code bag.Code, c tray.Condition, today time.Time) (seat tray.Seat, err error) {
	defer wrap(&err, "Trays.Arrive")
	before := false
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		var season int
		var received *time.Time
		var at, cup *int
		err := tx.QueryRow(ctx, `
			SELECT l.season, b.received, t.tray, t.cup
			  FROM priv.bag b
			  JOIN priv.bundle u ON u.id = b.bundle
			  JOIN priv.lot l ON l.id = u.lot
			  LEFT JOIN priv.seat t ON t.bag = b.code
			 WHERE b.code = $1 AND b.state <> 'void'
			   FOR UPDATE OF b`, string(code)).Scan(&season, &received, &at, &cup)
		if err != nil {
			return err
		}
		before = received != nil
		_, err = tx.Exec(ctx, `
			UPDATE priv.bag
			   SET received = coalesce(received, $2), condition = CASE WHEN $4 AND $3 = 'good' THEN coalesce(condition, $3) ELSE $3 END,
			       state = CASE WHEN state IN ('issued', 'handed_out', 'form_in') THEN 'soil_in' ELSE state END
			 WHERE code = $1`, string(code), today, string(c), before)
		if err != nil {
			return err
		}
		if at != nil {
			seat = tray.Seat{Tray: *at, Cup: *cup}
			return nil
		}
		if !c.Countable() {
			return nil
		}
		seat, err = takeSeat(ctx, tx, season, code)
		return err
	})
	if err == nil && before {
		err = fault.ErrConflict
	}
	return seat, err
}

// takeSeat gives a bag the next cup. The plan's row is locked until the end, so
// that two scanners never share a cup.
func takeSeat(ctx context.Context, tx pgx.Tx, season int, code bag.Code) (tray.Seat, error) {
	p, err := lockPlan(ctx, tx, season)
	if err != nil {
		return tray.Seat{}, err
	}
	seat, err := p.Place(p.Seated + 1)
	if err != nil {
		return tray.Seat{}, err
	}
	_, err = tx.Exec(ctx, `
		WITH next AS (UPDATE priv.tray_plan SET next = next + 1 WHERE season = $1)
		INSERT INTO priv.seat (season, tray, cup, bag) VALUES ($1, $2, $3, $4)`, season, seat.Tray, seat.Cup, string(code))
	return seat, err
}

// lockPlan reads a fall's plan, the usual one where none was made yet.
func lockPlan(ctx context.Context, tx pgx.Tx, season int) (desk.TrayPlan, error) {
	p, err := readPlan(ctx, tx, season, true)
	if err != pgx.ErrNoRows {
		return p, err
	}
	var seed [8]byte
	if _, err := rand.Read(seed[:]); err != nil {
		return p, err
	}
	_, err = tx.Exec(ctx, `
		INSERT INTO priv.tray_plan (season, seed) VALUES ($1, $2)
		ON CONFLICT DO NOTHING`, season, int64(binary.NativeEndian.Uint64(seed[:])))
	if err != nil {
		return p, err
	}
	return readPlan(ctx, tx, season, true)
}

func readPlan(ctx context.Context, db DB, season int, lock bool) (desk.TrayPlan, error) {
	p := desk.TrayPlan{Season: season}
	var seed int64
	sql := `SELECT cups, blanks, checks, seed, next - 1, coalesce(target, 0), keep_days, recounts FROM priv.tray_plan WHERE season = $1`
	if lock {
		sql += ` FOR UPDATE`
	}
	err := db.QueryRow(ctx, sql, season).
		Scan(&p.Cups, &p.Blanks, &p.Checks, &seed, &p.Seated, (*float64)(&p.Target), &p.KeepDays, &p.Recounts)
	p.Seed = uint64(seed)
	return p, err
}

// Plan is how a fall's trays are filled. Before the first bag it is the usual
// plan, whose controls are not drawn yet.
func (s *Trays) Plan(ctx context.Context, season int) (_ desk.TrayPlan, err error) {
	defer wrap(&err, "Trays.Plan")
	p, err := readPlan(ctx, s.db, season, false)
	if err == pgx.ErrNoRows {
		p, err = desk.TrayPlan{Season: season, Plan: tray.Usual(0), KeepDays: 7, Recounts: 12}, nil
	}
	return p, err
}

// SetPlan changes a fall's plan. How trays are filled changes only while they are
// empty: fault.ErrConflict. Its other error is tray.ErrPlan's.
func (s *Trays) SetPlan(ctx context.Context, p desk.TrayPlan) (err error) {
	defer wrap(&err, "Trays.SetPlan")
	if err = p.Valid(); err != nil {
		return err
	}
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		old, err := lockPlan(ctx, tx, p.Season)
		if err != nil {
			return err
		}
		if old.Seated > 0 && (old.Cups != p.Cups || old.Blanks != p.Blanks || old.Checks != p.Checks) {
			return fault.ErrConflict
		}
		_, err = tx.Exec(ctx, `
			UPDATE priv.tray_plan
			   SET cups = $2, blanks = $3, checks = $4, target = nullif($5, 0::float8), keep_days = $6, recounts = $7
			 WHERE season = $1`, p.Season, p.Cups, p.Blanks, p.Checks, float64(p.Target), p.KeepDays, p.Recounts)
		return err
	})
}
