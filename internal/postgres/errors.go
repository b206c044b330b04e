package postgres

import (
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"sixmile/internal/fault"
)

// wrap names the call in an error and translates what the database says into
// the domain's errors. It never carries argument values: they may be personal.
func wrap(err *error, call string) {
	if *err == nil {
		return
	}
	if errors.Is(*err, pgx.ErrNoRows) {
		*err = fmt.Errorf("%s: %w", call, fault.ErrNotFound)
		return
	}
	*err = fmt.Errorf("%s: %w", call, *err)
}

// Unavailable tells whether err means that the database cannot be reached now,
// rather than that it refused something.
func Unavailable(err error) bool {
	var connect *pgconn.ConnectError
	if errors.As(err, &connect) {
		return true
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		// 57P01-03: shutting down or starting; 53xxx: no disk, memory or connection left.
		return pg.Code[:3] == "57P" || pg.Code[:2] == "53" || pg.Code[:2] == "08"
	}
	return false
}
