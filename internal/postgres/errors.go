package postgres

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"syscall"

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
// rather than that it refused something. A change that ends so may or may not have
// been stored: whoever asked must be able to ask again.
func Unavailable(err error) bool {
	var connect *pgconn.ConnectError
	var network net.Error
	switch {
	case err == nil:
		return false
	case errors.As(err, &connect), errors.As(err, &network), errors.Is(err, context.DeadlineExceeded),
		errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, net.ErrClosed),
		errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EPIPE):
		return true
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		// 57P01-03: shutting down or starting; 53xxx: no disk, memory or connection
		// left; 58xxx: the disk does not read or write; 08xxx: the connection.
		return pg.Code[:3] == "57P" || slices.Contains([]string{"53", "58", "08"}, pg.Code[:2])
	}
	return pgconn.SafeToRetry(err) // nothing was sent: the connection was dead already
}
