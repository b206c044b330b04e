package yardstick

import (
	"context"
	"sync"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/postgres"
)

// Recorder is a connection that remembers every question asked through it.
type Recorder struct {
	postgres.DB
	mu    sync.Mutex
	asked []question
}

type question struct {
	sql  string
	args []any
}

func (r *Recorder) note(sql string, args []any) {
	r.mu.Lock()
	r.asked = append(r.asked, question{sql, args})
	r.mu.Unlock()
}

// Query asks and remembers.
func (r *Recorder) Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error) {
	r.note(sql, args)
	return r.DB.Query(ctx, sql, args...)
}

// QueryRow asks and remembers.
func (r *Recorder) QueryRow(ctx context.Context, sql string, args ...any) pgx.Row {
	r.note(sql, args)
	return r.DB.QueryRow(ctx, sql, args...)
}

// Questions is how many were asked.
func (r *Recorder) Questions() int { return len(r.asked) }

// Again asks all of it again and looks at every row as it came, with nothing
// done to it; bytes is how much that was.
func (r *Recorder) Again(ctx context.Context, db postgres.DB) (bytes int, err error) {
	for _, q := range r.asked {
		rows, err := db.Query(ctx, q.sql, q.args...)
		if err != nil {
			return 0, err
		}
		for rows.Next() {
			for _, v := range rows.RawValues() {
				bytes += len(v)
			}
		}
		if rows.Close(); rows.Err() != nil {
			return 0, rows.Err()
		}
	}
	return bytes, nil
}
