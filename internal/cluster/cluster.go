// Package cluster keeps a private PostgreSQL server with PostGIS: for the
// demo, for an office that gives a folder instead of a DATABASE_URL, and for
// tests. It never touches the clusters the system's packages manage, never
// runs a server as root and never listens on the network: the only way in is a
// Unix socket in a folder of mode 0700.
//
// # One folder, several commands
//
// The first process to open a folder starts its server and holds a file lock
// for as long as it lives. Every later process joins the running server. Stop
// ends the server only in the process that holds the lock. A joined process
// keeps watch: when the starter goes, by Stop or by kill -9, one of those left
// takes the lock and starts the server again on the same socket, so that a
// short command that happened to come first does not take a long-running one
// down with it. Connections open at that moment break and are made again a
// second later.
//
// # After kill -9
//
// The kernel tells the server to shut down when the process that started it
// dies. The lock goes with that process. The next Open waits for what is left
// of the old server, ends it if it lingers, clears its pid file and starts.
//
// A throw-away cluster lives in memory where there is room, without fsync, and
// is removed by Stop; what a killed process leaves is swept by the next one.
package cluster

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// socketPort names the socket file; nothing listens on a port of the machine.
const socketPort = 5432

// Superuser is the role that owns a private cluster.
const Superuser = "postgres"

var (
	// ErrUnsupported means that this operating system cannot keep a private
	// cluster; a DATABASE_URL still works there.
	ErrUnsupported = errors.New("a private database needs Linux; set DATABASE_URL to a PostgreSQL server with PostGIS instead")

	// ErrFolder means that the data folder cannot be used as it is. The text
	// of the wrapping error says why and is meant for people.
	ErrFolder = errors.New("data folder cannot be used")
)

// Options says which cluster to open.
type Options struct {
	// Dir is the folder that holds everything the cluster keeps. It is made
	// when missing. Leave it empty for a throw-away cluster.
	Dir string
	// Throwaway asks for a cluster that nobody else sees, that trades
	// durability for speed, and that Stop removes.
	Throwaway bool
	// Log gets a few lines for people about what is being done; nil is quiet.
	Log io.Writer
}

// Cluster is a running private server. Its methods may be called from several
// goroutines.
type Cluster struct {
	folder folder
	server Server
	socket string // the socket folder; constant once Open has returned
	log    io.Writer

	mu   sync.Mutex
	held *holding // nil while joined to a server another process started

	quit    chan struct{} // closed by Stop
	watched chan struct{} // closed when the watch has ended
	stopped sync.Once
	stopErr error
}

// Server says which binaries the cluster runs on.
func (c *Cluster) Server() Server { return c.server }

// Joined reports whether the server was started by another process, which will
// also stop it.
func (c *Cluster) Joined() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.held == nil
}

// DSN is the keyword/value connection string for a database and a role. It
// carries no password: whoever can reach the socket is trusted. An empty role
// is the superuser.
func (c *Cluster) DSN(db, role string) string {
	if role == "" {
		role = Superuser
	}
	return fmt.Sprintf("host=%s port=%d user=%s dbname=%s sslmode=disable",
		quoteDSN(c.socket), socketPort, quoteDSN(role), quoteDSN(db))
}

// quoteDSN quotes a value of a keyword/value connection string when it must be.
func quoteDSN(v string) string {
	if v != "" && !strings.ContainsAny(v, " '\\\t\r\n") {
		return v
	}
	return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(v) + "'"
}

// CreateDatabase makes an empty database and reports whether it did: one that
// is there already is left alone.
func (c *Cluster) CreateDatabase(ctx context.Context, name string) (created bool, err error) {
	err = c.exec(ctx, "CREATE DATABASE "+ident(name))
	var pe *pgconn.PgError
	if errors.As(err, &pe) && pe.Code == "42P04" { // duplicate_database
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("cluster: create database %s: %w", name, err)
	}
	return true, nil
}

// CloneDatabase copies a whole database, file by file, which for small ones is
// several times faster than writing the copy through the log. What PostgreSQL
// does not copy with a database is carried over as well: who may connect to it
// and the settings made for it by ALTER DATABASE and ALTER ROLE IN DATABASE.
// Nobody may be connected to the template.
func (c *Cluster) CloneDatabase(ctx context.Context, name, template string) error {
	if err := c.clone(ctx, name, template); err != nil {
		return fmt.Errorf("cluster: clone database %s as %s: %w", template, name, err)
	}
	return nil
}

func (c *Cluster) clone(ctx context.Context, name, template string) error {
	conn, err := pgx.Connect(ctx, c.DSN(Superuser, ""))
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	var owner string
	err = conn.QueryRow(ctx, `SELECT pg_get_userbyid(datdba) FROM pg_database WHERE datname = $1`, template).Scan(&owner)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, fmt.Sprintf("CREATE DATABASE %s TEMPLATE %s STRATEGY FILE_COPY OWNER %s",
		ident(name), ident(template), ident(owner)))
	if err != nil {
		return err
	}
	// The catalogs are written directly because grants and settings can be of
	// any kind, and a copy has to be the same as what it copies.
	_, err = conn.Exec(ctx, `
		UPDATE pg_database c
		SET datacl = t.datacl
		FROM pg_database t
		WHERE c.datname = $1 AND t.datname = $2`, name, template)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, `
		INSERT INTO pg_db_role_setting (setdatabase, setrole, setconfig)
		SELECT c.oid, s.setrole, s.setconfig
		FROM pg_db_role_setting s
		JOIN pg_database t ON t.oid = s.setdatabase AND t.datname = $2
		JOIN pg_database c ON c.datname = $1`, name, template)
	return err
}

// DropDatabase removes a database and breaks the connections to it. One that
// is not there is no error.
func (c *Cluster) DropDatabase(ctx context.Context, name string) error {
	if err := c.exec(ctx, "DROP DATABASE IF EXISTS "+ident(name)+" WITH (FORCE)"); err != nil {
		return fmt.Errorf("cluster: drop database %s: %w", name, err)
	}
	return nil
}

// exec runs one statement as the superuser, outside any transaction.
func (c *Cluster) exec(ctx context.Context, sql string) error {
	conn, err := pgx.Connect(ctx, c.DSN(Superuser, ""))
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	_, err = conn.Exec(ctx, sql)
	return err
}

func ident(name string) string { return pgx.Identifier{name}.Sanitize() }

// say writes one line for people.
func (c *Cluster) say(format string, args ...any) {
	if c.log != nil {
		fmt.Fprintf(c.log, format+"\n", args...)
	}
}

// pause waits for d and reports whether ctx is still wanted.
func pause(ctx context.Context, d time.Duration) bool {
	select {
	case <-ctx.Done():
		return false
	case <-time.After(d):
		return true
	}
}
