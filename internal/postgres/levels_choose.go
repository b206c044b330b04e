package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
	"sixmile/internal/fault"
)

// Tables lists every level table, oldest first, and which of them is in force.
func (s *Levels) Tables(ctx context.Context) (tables []assay.Scheme, inForce int, err error) {
	defer wrap(&err, "Levels.Tables")
	rows, err := s.db.Query(ctx, `SELECT id, id = open.scheme_in_force() FROM open.scheme ORDER BY id`)
	if err != nil {
		return nil, 0, err
	}
	type row struct {
		ID      int
		InForce bool
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[row])
	if err != nil {
		return nil, 0, err
	}
	for i, r := range list {
		t, err := readScheme(ctx, s.db, r.ID)
		if err != nil {
			return nil, 0, err
		}
		if r.InForce {
			inForce = i
		}
		tables = append(tables, t)
	}
	return tables, inForce, nil
}

// AddTable stores a level table as the next version of its key, over a Staff
// connection, and gives it with its version. It is in force only once it is chosen.
// The same table as the newest of its key is stored once. The error is assay's for
// one that cannot stand.
func (s *Levels) AddTable(ctx context.Context, t assay.Scheme) (_ assay.Scheme, err error) {
	defer wrap(&err, "Levels.AddTable")
	t.Version = 1
	if err = t.Check(); err != nil {
		return t, err
	}
	return t, inTx(ctx, s.db, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile schemes'))`); err != nil {
			return err
		}
		last, id, err := newestScheme(ctx, tx, t.Key)
		if err != nil && !errors.Is(err, fault.ErrNotFound) {
			return err
		}
		if id != 0 {
			t.Version = last.Version
			if same(t, last) {
				return nil
			}
			t.Version++
		}
		return addScheme(ctx, tx, t)
	})
}

// same reports whether two tables of one key and version say the same.
func same(a, b assay.Scheme) bool {
	if a.Title != b.Title || a.Source != b.Source || a.Trace != b.Trace || len(a.Classes) != len(b.Classes) {
		return false
	}
	for i, c := range a.Classes {
		if c != b.Classes[i] {
			return false
		}
	}
	return true
}

// newestScheme is the newest version of a level table and its number.
// fault.ErrNotFound: none has the key.
func newestScheme(ctx context.Context, db DB, key string) (t assay.Scheme, id int, err error) {
	err = db.QueryRow(ctx, `SELECT id FROM open.scheme WHERE key = $1 ORDER BY version DESC LIMIT 1`, key).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return t, 0, fault.ErrNotFound
	}
	if err != nil {
		return t, 0, err
	}
	t, err = readScheme(ctx, db, id)
	return t, id, err
}

// Choose has the first map sorted by the newest level table of the key, and
// answers from now on. Left is how many past results stay out because their file
// gave levels of another table and no figures. fault.ErrNotFound: none has the key;
// fault.ErrConflict: there is a map already, and a restatement is the way.
func (s *Levels) Choose(ctx context.Context, key string) (t assay.Scheme, left int, err error) {
	defer wrap(&err, "Levels.Choose")
	return t, left, inTx(ctx, s.db, func(tx pgx.Tx) error {
		var id int
		var err error
		if t, id, err = newestScheme(ctx, tx, key); err != nil {
			return err
		}
		if _, err = tx.Exec(ctx, `UPDATE open.program SET scheme = $1`, id); err != nil {
			return conflict(err)
		}
		return tx.QueryRow(ctx, `SELECT count(*) FROM priv.signed WHERE kind = 'class' AND scheme <> $1`, id).Scan(&left)
	})
}
