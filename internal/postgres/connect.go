package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

// DB is a pool or a transaction. Inside a transaction Begin makes a savepoint,
// so that a test can wrap a store in a transaction of its own.
type DB interface {
	Begin(ctx context.Context) (pgx.Tx, error)
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
	CopyFrom(ctx context.Context, table pgx.Identifier, columns []string, src pgx.CopyFromSource) (int64, error)
}

// Pool is a pool of connections as one of the Logins.
type Pool = pgxpool.Pool

// Open makes a pool for one of the Logins. It reads and writes geometries as
// go-geom values, and tells the database on whose behalf each connection works
// (account.As).
func Open(ctx context.Context, dsn string) (_ *Pool, err error) {
	defer wrap(&err, "Open")
	cfg, err := pgxpool.ParseConfig(dsn)
	if err != nil {
		return nil, err
	}
	cfg.AfterConnect = registerGeometry
	cfg.PrepareConn = nameActor
	pool, err := pgxpool.NewWithConfig(ctx, cfg)
	if err != nil {
		return nil, err
	}
	if err := pool.Ping(ctx); err != nil {
		pool.Close()
		return nil, err
	}
	return pool, nil
}

// inTx runs f in a transaction, committed if f returns nil.
func inTx(ctx context.Context, db DB, f func(tx pgx.Tx) error) error {
	return pgx.BeginFunc(ctx, db, f)
}
