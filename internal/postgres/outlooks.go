package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
)

// Outlooks keeps the parameter sets that rotations are looked ahead with. The
// Public connection reads them, a Staff connection adds to them. The set the
// program comes with is in force, and found, where no other was added.
type Outlooks struct{ db DB }

// NewOutlooks makes the store.
func NewOutlooks(db DB) *Outlooks { return &Outlooks{db} }

// InForce is the set that was added last.
func (s *Outlooks) InForce(ctx context.Context) (_ lookahead.Set, err error) {
	defer wrap(&err, "Outlooks.InForce")
	rows, err := s.db.Query(ctx, `
		SELECT name, version, note, figures
		  FROM open.outlook_set
		 ORDER BY id DESC
		 LIMIT 1`)
	if err != nil {
		return lookahead.Set{}, err
	}
	set, err := pgx.CollectExactlyOneRow(rows, outlookRow)
	if errors.Is(err, pgx.ErrNoRows) {
		return lookahead.Standard(), nil
	}
	return set, err
}

// Set is one version of one name; fault.ErrNotFound where there is none.
func (s *Outlooks) Set(ctx context.Context, name string, version int) (_ lookahead.Set, err error) {
	defer wrap(&err, "Outlooks.Set")
	if first := lookahead.Standard(); first.Name == name && first.Version == version {
		return first, nil
	}
	rows, err := s.db.Query(ctx, `
		SELECT name, version, note, figures
		  FROM open.outlook_set
		 WHERE name = $1
		   AND version = $2`, name, version)
	if err != nil {
		return lookahead.Set{}, err
	}
	return pgx.CollectExactlyOneRow(rows, outlookRow)
}

// List gives every set, the one in force first and the program's own last.
func (s *Outlooks) List(ctx context.Context) (_ []lookahead.Set, err error) {
	defer wrap(&err, "Outlooks.List")
	rows, err := s.db.Query(ctx, `
		SELECT name, version, note, figures
		  FROM open.outlook_set
		 ORDER BY id DESC`)
	if err != nil {
		return nil, err
	}
	sets, err := pgx.CollectRows(rows, outlookRow)
	return append(sets, lookahead.Standard()), err
}

// Add stores a set as the next version of its name, which puts it in force, and
// gives it back with its version. The error is lookahead's for one that cannot
// stand, and fault.ErrConflict where another set was put in force since the
// label that this one was made from.
func (s *Outlooks) Add(ctx context.Context, set lookahead.Set, from string, today time.Time) (_ lookahead.Set, err error) {
	defer wrap(&err, "Outlooks.Add")
	if err = set.Check(); err != nil {
		return set, err
	}
	figures, err := json.Marshal(set.Figures)
	if err != nil {
		return set, err
	}
	first := 1
	if own := lookahead.Standard(); own.Name == set.Name {
		first = own.Version + 1
	}
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile outlooks'))`); err != nil {
			return err
		}
		newest, err := NewOutlooks(tx).InForce(ctx)
		if err != nil {
			return err
		}
		if newest.Label() != from {
			return fault.ErrConflict
		}
		return tx.QueryRow(ctx, `
			INSERT INTO open.outlook_set (name, version, note, figures, added)
			SELECT $1, greatest($2, (SELECT coalesce(max(version), 0) + 1 FROM open.outlook_set WHERE name = $1)), $3, $4, $5
			RETURNING version`, set.Name, first, set.Note, figures, today).Scan(&set.Version)
	})
	return set, err
}

func outlookRow(row pgx.CollectableRow) (lookahead.Set, error) {
	var set lookahead.Set
	var figures []byte
	if err := row.Scan(&set.Name, &set.Version, &set.Note, &figures); err != nil {
		return set, err
	}
	if err := json.Unmarshal(figures, &set.Figures); err != nil {
		return set, fmt.Errorf("set %s: %w", set.Label(), err)
	}
	return set.Completed(), nil
}
