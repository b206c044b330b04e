package postgres

import (
	"context"
	"strings"
	"time"

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

// connectWithin bounds how long one connection may take to be made: a server that
// is stopped takes connections and answers none.
const connectWithin = 5 * time.Second

// connections is how many a pool has at most. Who waits for the disk costs no
// processor, and forms that reach the disk together share its time: more than
// the library's four on a small machine.
const connections = 16

// Pool is a pool of connections as one of the Logins.
type Pool = pgxpool.Pool

// Open makes a pool for one of the Logins. It reads and writes geometries as
// go-geom values, and tells the database on whose behalf each connection works
// (account.As).
func Open(ctx context.Context, dsn string) (_ *Pool, err error) {
	defer wrap(&err, "Open")
	pool, err := openLater(ctx, dsn)
	if err != nil {
		return nil, err
	}
	if err := pool.Ping(ctx); err != nil {
		pool.Close()
		return nil, err
	}
	return pool, nil
}

// openLater makes a pool without asking whether the server is there.
func openLater(ctx context.Context, dsn string) (*Pool, error) {
	cfg, err := pgxpool.ParseConfig(dsn)
	if err != nil {
		return nil, err
	}
	if cfg.ConnConfig.ConnectTimeout == 0 {
		cfg.ConnConfig.ConnectTimeout = connectWithin
	}
	if !strings.Contains(dsn, "pool_max_conns") {
		cfg.MaxConns = max(cfg.MaxConns, connections)
	}
	cfg.AfterConnect = registerGeometry
	cfg.PrepareConn = nameActor
	return pgxpool.NewWithConfig(ctx, cfg)
}

// inTx runs f in a transaction, committed if f returns nil.
func inTx(ctx context.Context, db DB, f func(tx pgx.Tx) error) error {
	return pgx.BeginFunc(ctx, db, f)
}
