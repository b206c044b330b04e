package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/fault"
)

// Second gives somebody's second step.
func (s *People) Second(ctx context.Context, who account.ID) (out account.Second, err error) {
	defer wrap(&err, "People.Second")
	var seed []byte
	err = s.db.QueryRow(ctx, `
		SELECT seed, step, (SELECT count(*) FROM priv.recovery r WHERE r.staff = st.id)
		  FROM priv.staff st
		 WHERE st.id = $1`, [16]byte(who)).Scan(&seed, &out.Last, &out.Codes)
	if err == nil && len(seed) == len(out.Seed) {
		out.On, out.Seed = true, account.Seed(seed)
	}
	return out, err
}

// SetSecond sets up a second step: seed, the step of the code that proved it,
// and the recovery codes that go with it.
func (s *People) SetSecond(ctx context.Context, who account.ID, seed account.Seed, step int64, codes []account.Recovery, today time.Time) (err error) {
	defer wrap(&err, "People.SetSecond")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `UPDATE priv.staff SET seed = $2, step = $3 WHERE id = $1`, [16]byte(who), seed[:], step); err != nil {
			return err
		}
		if err := setCodes(ctx, tx, who, codes); err != nil {
			return err
		}
		return noteBy(ctx, tx, account.DidSecondOn, today, account.Detail{}, who)
	})
}

func setCodes(ctx context.Context, tx pgx.Tx, who account.ID, codes []account.Recovery) error {
	if _, err := tx.Exec(ctx, `DELETE FROM priv.recovery WHERE staff = $1`, [16]byte(who)); err != nil {
		return err
	}
	hashes := make([][]byte, len(codes))
	for i, c := range codes {
		h := c.Hash()
		hashes[i] = h[:]
	}
	_, err := tx.Exec(ctx, `INSERT INTO priv.recovery (staff, hash) SELECT $1, h FROM unnest($2::bytea[]) h`, [16]byte(who), hashes)
	return err
}

// DropSecond removes somebody's second step and its recovery codes.
func (s *People) DropSecond(ctx context.Context, who account.ID, today time.Time) (err error) {
	defer wrap(&err, "People.DropSecond")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `UPDATE priv.staff SET seed = NULL, step = 0 WHERE id = $1`, [16]byte(who)); err != nil {
			return err
		}
		if err := setCodes(ctx, tx, who, nil); err != nil {
			return err
		}
		return noteBy(ctx, tx, account.DidSecondOff, today, account.Detail{}, who)
	})
}

// UseStep takes the code of a step, once. fault.ErrConflict: it or a later one
// has been taken, by another sign-in perhaps.
func (s *People) UseStep(ctx context.Context, who account.ID, step int64) (err error) {
	defer wrap(&err, "People.UseStep")
	tag, err := s.db.Exec(ctx, `UPDATE priv.staff SET step = $2 WHERE id = $1 AND seed IS NOT NULL AND step < $2`, [16]byte(who), step)
	if err == nil && tag.RowsAffected() == 0 {
		return fault.ErrConflict
	}
	return err
}

// UseRecovery takes a recovery code, once. fault.ErrNotFound: it is not one of
// this person's, or has been used.
func (s *People) UseRecovery(ctx context.Context, who account.ID, c account.Recovery, today time.Time) (err error) {
	defer wrap(&err, "People.UseRecovery")
	hash := c.Hash()
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `DELETE FROM priv.recovery WHERE staff = $1 AND hash = $2`, [16]byte(who), hash[:])
		if err != nil {
			return err
		}
		if tag.RowsAffected() == 0 {
			return fault.ErrNotFound
		}
		return noteBy(ctx, tx, account.DidRecover, today, account.Detail{}, who)
	})
}

// Required tells whether everybody has to set up a second step.
func (s *People) Required(ctx context.Context) (required bool, err error) {
	defer wrap(&err, "People.Required")
	err = s.db.QueryRow(ctx, `SELECT second FROM priv.house`).Scan(&required)
	return required, err
}

// Require changes that.
func (s *People) Require(ctx context.Context, required bool, today time.Time) (err error) {
	defer wrap(&err, "People.Require")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE priv.house SET second = $1 WHERE second <> $1`, required)
		if err != nil || tag.RowsAffected() == 0 {
			return err
		}
		deed := account.DidRelax
		if required {
			deed = account.DidRequire
		}
		return note(ctx, tx, deed, today, account.Detail{})
	})
}
