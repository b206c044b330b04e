package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
)

// Returned is what was brought back from a witness.
type Returned struct {
	Lost
	// Samples are in the tranches of the editions brought back, Gone of them are in
	// the database no more: what was counted of them stays public, and can be counted
	// again by nobody.
	Samples, Gone int
}

// ErrBoundaries: an edition was made with boundaries that the database lacks.
var ErrBoundaries = errors.New("an edition in the witness was made with boundaries that this backup does not have: restore a backup made after they were accepted")

// Return stores again what the witness remembers and the database has lost: the
// editions with their tranches, and which of the samples that are still here are in
// them, so that none goes out twice; recalls and withdrawals, so that no figure that
// was taken back shows again.
func (w *Witness) Return(ctx context.Context, adminDSN string) (out Returned, err error) {
	defer wrap(&err, "Witness.Return")
	err = once(ctx, adminDSN, func(c *pgx.Conn) error {
		return pgx.BeginFunc(ctx, c, func(tx pgx.Tx) error {
			if err := aReleaseAtATime(ctx, tx); err != nil {
				return err
			}
			if out.Lost, err = w.Compare(ctx, tx); err != nil || !out.Any() {
				return err
			}
			// Checks and notes beside the rows are for new ones; these were checked.
			if _, err := tx.Exec(ctx, `SET LOCAL session_replication_role = replica`); err != nil {
				return err
			}
			for _, e := range out.Editions {
				if err := w.bringBack(ctx, tx, e, &out); err != nil {
					return fmt.Errorf("edition %d: %w", e.Number, err)
				}
			}
			for _, r := range w.Recalls {
				if err := insertRows(ctx, tx, "open.recall", one(r), `EXISTS (SELECT FROM open.tranche t WHERE t.id = x.tranche)`); err != nil {
					return err
				}
			}
			for _, r := range w.Withdrawals {
				if err := insertRows(ctx, tx, "open.withdrawal", one(r), `EXISTS (SELECT FROM open.edition e WHERE e.no = x.edition)`); err != nil {
					return err
				}
			}
			return nil
		})
	})
	return out, err
}

// bringBack stores one edition again.
func (w *Witness) bringBack(ctx context.Context, tx pgx.Tx, lost BackedUp, out *Returned) error {
	for _, e := range w.Editions {
		if e.Number != lost.Number || e.Digest != lost.Digest {
			continue
		}
		var known bool
		err := tx.QueryRow(ctx, `
			SELECT bool_and(EXISTS (SELECT FROM open.boundary_set b WHERE b.id = x.set))
			  FROM jsonb_populate_recordset(NULL::open.edition, $1::text::jsonb) x`, string(e.Rows["open.edition"])).Scan(&known)
		if err != nil {
			return err
		}
		if !known {
			return ErrBoundaries
		}
		for _, r := range witnessRows {
			where := "true"
			switch r.table {
			case "priv.tranche_member":
				where = `EXISTS (SELECT FROM priv.sample s WHERE s.id = x.sample)`
			case "priv.member_result":
				where = `EXISTS (SELECT FROM priv.result r WHERE r.id = x.result AND r.sample = x.sample)
				         AND EXISTS (SELECT FROM priv.tranche_member m WHERE m.sample = x.sample)`
			}
			if err := insertRows(ctx, tx, r.table, e.Rows[r.table], where); err != nil {
				return fmt.Errorf("%s: %w", r.table, err)
			}
		}
		var of, kept int
		err = tx.QueryRow(ctx, `
			SELECT count(*), count(s.id)
			  FROM jsonb_populate_recordset(NULL::priv.tranche_member, $1::text::jsonb) x
			  LEFT JOIN priv.sample s ON s.id = x.sample`, string(e.Rows["priv.tranche_member"])).Scan(&of, &kept)
		if err != nil {
			return err
		}
		out.Samples, out.Gone = out.Samples+of, out.Gone+of-kept
	}
	return nil
}

func one(r json.RawMessage) json.RawMessage {
	return append(append([]byte{'['}, r...), ']')
}

// insertRows stores rows as the witness has them, those that are there already
// excepted. x is a row in where.
func insertRows(ctx context.Context, tx pgx.Tx, table string, rows json.RawMessage, where string) error {
	if len(rows) == 0 {
		return nil
	}
	_, err := tx.Exec(ctx, `
		INSERT INTO `+table+`
		SELECT x.* FROM jsonb_populate_recordset(NULL::`+table+`, $1::text::jsonb) x WHERE `+where+`
		ON CONFLICT DO NOTHING`, string(rows))
	return err
}
