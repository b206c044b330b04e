package postgres

import (
	"context"
	"errors"
	"strings"

	"github.com/jackc/pgx/v5"
)

// The mark is a remark on schema open: what a loader has built whole.

// ErrNotInvented: the database holds a real program, which no demo overwrites.
var ErrNotInvented = errors.New("this database holds a real program; give the demo a database of its own")

// Mark reads the database's mark; empty for none.
func Mark(ctx context.Context, adminDSN string) (mark string, err error) {
	defer wrap(&err, "Mark")
	err = once(ctx, adminDSN, func(c *pgx.Conn) error {
		return c.QueryRow(ctx, `
			SELECT coalesce(obj_description(to_regnamespace('open'), 'pg_namespace'), '')`).Scan(&mark)
	})
	return mark, err
}

// SetMark sets the mark.
func SetMark(ctx context.Context, adminDSN, mark string) (err error) {
	defer wrap(&err, "SetMark")
	return once(ctx, adminDSN, func(c *pgx.Conn) error {
		_, err := c.Exec(ctx, `COMMENT ON SCHEMA open IS '`+strings.ReplaceAll(mark, `'`, `''`)+`'`)
		return err
	})
}

// Reset empties a database that holds nothing, or an invented program.
// ErrNotInvented: it holds a real one, and is left as it is.
func Reset(ctx context.Context, adminDSN string) (err error) {
	defer wrap(&err, "Reset")
	return once(ctx, adminDSN, func(c *pgx.Conn) error {
		var there, taken bool
		err := c.QueryRow(ctx, `
			SELECT to_regclass('open.program') IS NOT NULL,
			       to_regnamespace('open') IS NOT NULL OR to_regnamespace('priv') IS NOT NULL`).Scan(&there, &taken)
		if err != nil {
			return err
		}
		if taken && !there {
			return ErrNotInvented // schemas of these names, but none of ours
		}
		if there {
			var ours bool
			err := c.QueryRow(ctx, `SELECT coalesce(bool_and(invented), true) FROM open.program`).Scan(&ours)
			if err != nil {
				return err
			}
			if !ours {
				return ErrNotInvented
			}
		}
		_, err = c.Exec(ctx, `
			DROP SCHEMA IF EXISTS open, priv CASCADE;
			DROP TABLE IF EXISTS public.goose_db_version`)
		return err
	})
}

// Exclusive keeps others from doing the same thing in the same database until
// the returned function is called.
func Exclusive(ctx context.Context, adminDSN, what string) (unlock func(), err error) {
	defer wrap(&err, "Exclusive")
	c, err := pgx.Connect(ctx, adminDSN)
	if err != nil {
		return nil, err
	}
	if _, err = c.Exec(ctx, `SELECT pg_advisory_lock(hashtext('sixmile ' || $1))`, what); err != nil {
		return nil, errors.Join(err, c.Close(ctx))
	}
	return func() { _ = c.Close(context.WithoutCancel(ctx)) }, nil
}

func once(ctx context.Context, dsn string, f func(c *pgx.Conn) error) error {
	c, err := pgx.Connect(ctx, dsn)
	if err != nil {
		return err
	}
	defer c.Close(context.WithoutCancel(ctx))
	return f(c)
}
