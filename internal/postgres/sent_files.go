package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/tabular"
)

// sentFiles is what stays of files of one kind: what the office said that their
// columns mean, and when which of them was taken.
type sentFiles struct {
	db            DB
	store         string // its name in errors
	memory, taken string // tables
}

// Memory is what the office has said columns mean.
func (s sentFiles) Memory(ctx context.Context) (m tabular.Memory, err error) {
	defer wrap(&err, s.store+".Memory")
	var doc []byte
	err = s.db.QueryRow(ctx, `SELECT columns FROM `+s.memory).Scan(&doc)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return m, json.Unmarshal(doc, &m)
}

// Remember keeps it.
func (s sentFiles) Remember(ctx context.Context, m tabular.Memory) (err error) {
	defer wrap(&err, s.store+".Remember")
	doc, err := json.Marshal(m)
	if err != nil {
		return err
	}
	_, err = s.db.Exec(ctx, `
		INSERT INTO `+s.memory+` (columns) VALUES ($1)
		ON CONFLICT (only_one) DO UPDATE SET columns = excluded.columns`, string(doc))
	return err
}

// Taken tells on which day a file that says the same was taken; the zero time for
// none.
func (s sentFiles) Taken(ctx context.Context, digest string) (day time.Time, err error) {
	defer wrap(&err, s.store+".Taken")
	err = s.db.QueryRow(ctx, `SELECT day FROM `+s.taken+` WHERE digest = $1`, digest).Scan(&day)
	if errors.Is(err, pgx.ErrNoRows) {
		return time.Time{}, nil
	}
	return day, err
}
