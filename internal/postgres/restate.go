package postgres

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
)

// Restatements puts another level table in force, over a Staff connection. Old
// tranches are counted again from the results that were published, as far as rule
// 7 lets them; the others show none, unconfirmed and found only.
type Restatements struct{ db DB }

// NewRestatements makes the store.
func NewRestatements(db DB) *Restatements { return &Restatements{db} }

// ErrInForce: the level table is the one in force.
var ErrInForce = errors.New("these levels are in force already")

// Preview works out the restatement by the newest version of a level table.
// fault.ErrNotFound: no such table, or no edition yet.
func (s *Restatements) Preview(ctx context.Context, key string, day time.Time) (out desk.Again, err error) {
	defer wrap(&err, "Restatements.Preview")
	err = pgx.BeginTxFunc(ctx, beginner{s.db}, pgx.TxOptions{AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		if err := forMany(ctx, tx); err != nil { // it counts everything again, an erratum a few groups
			return err
		}
		w, err := readAgain(ctx, tx, day)
		if err != nil {
			return err
		}
		a, err := w.restate(ctx, tx, key)
		if err != nil {
			return err
		}
		out, err = w.previewAgain(ctx, tx, a)
		return err
	})
	return out, err
}

// Release releases the restatement that was shown; errors as of Recalls.Amend.
func (s *Restatements) Release(ctx context.Context, key string, number int, day time.Time, stamp string, by account.ID) (_ gazette.Edition, err error) {
	defer wrap(&err, "Restatements.Release")
	return releaseAgain(ctx, s.db, number, day, stamp, account.DidRestate, by, func(ctx context.Context, tx pgx.Tx, w *workbench) (again, error) {
		return w.restate(ctx, tx, key)
	})
}

func (w *workbench) restate(ctx context.Context, tx pgx.Tx, key string) (again, error) {
	a := again{kind: edition.Restated}
	to, id, err := newestScheme(ctx, tx, key)
	if err != nil {
		return a, err
	}
	if a.scheme = id; id == w.schemeID {
		return a, ErrInForce
	}
	var keys []int
	for _, e := range w.ledger.entries {
		if e.MayCount(a.scheme) {
			keys = append(keys, keyOf(e.Ref()))
		}
	}
	pins, err := readPins(ctx, tx, keys, maxEdition)
	if err != nil {
		return a, err
	}
	classOnly, err := readClassOnly(ctx, tx)
	if err != nil {
		return a, err
	}
	levels := w.ledger.schemes[a.scheme]
	for _, e := range w.ledger.entries {
		if e.Recalled() || e.Into != (edition.Ref{}) || e.StandsIn(a.scheme) {
			continue
		}
		if !e.MayCount(a.scheme) || classOnly[keyOf(e.Ref())] {
			a.coarse++
			continue
		}
		t, _ := e.Last()
		ids, rank := ranksOf(to, pins[keyOf(e.Ref())])
		r, err := edition.Restate(t, levels.ranks, w.ledger.cutsUsed(e), levels.cuts, ids, rank)
		switch {
		case errors.Is(err, edition.ErrRestate):
			a.coarse++
		case err != nil:
			return a, err
		default:
			a.recounts = append(a.recounts, r)
		}
	}
	return a, nil
}

// readClassOnly gives the tranches, by the database's number, that hold a result
// of which only a level is known: no other table can sort it.
func readClassOnly(ctx context.Context, db DB) (map[int]bool, error) {
	rows, err := db.Query(ctx, `
		SELECT DISTINCT p.tranche
		  FROM priv.result r
		  JOIN priv.tranche_member m ON m.sample = r.sample
		  JOIN priv.tranche_part p ON p.part = m.tranche
		 WHERE r.kind = 'class'`)
	if err != nil {
		return nil, err
	}
	out := make(map[int]bool)
	var key int
	_, err = pgx.ForEachRow(rows, []any{&key}, func() error { out[key] = true; return nil })
	return out, err
}
