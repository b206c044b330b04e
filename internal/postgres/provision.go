// Package postgres is the only place with SQL. Its stores translate rows into
// the domain's types and database errors into the domain's errors.
//
// Three roles keep its parts apart: the public pages' stores log in as a role
// that can read schema open and call two functions, nothing else; the office's
// stores log in as staff; migrations run as the owner.
package postgres

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"sixmile/migrations"
)

// Logins are the connection strings of one database: the administrator's, and
// those of the two roles that serve requests.
type Logins struct {
	Admin, Staff, Public string
}

// WithDatabase gives the same logins on another database of the same server.
// Roles are the server's, so a database cloned from another keeps its grants.
func (l Logins) WithDatabase(name string) (Logins, error) {
	var err error
	change := func(dsn string) string {
		cfg, e := pgx.ParseConfig(dsn)
		if e != nil {
			err = e
			return ""
		}
		return connString(cfg, cfg.User, cfg.Password, name)
	}
	out := Logins{Admin: change(l.Admin), Staff: change(l.Staff), Public: change(l.Public)}
	return out, err
}

// PublicAt is the public login at a standing copy of this database, whose address
// is given as its administrator.
func (l Logins) PublicAt(adminDSN string) (string, error) {
	there, err := pgx.ParseConfig(adminDSN)
	if err != nil {
		return "", err
	}
	here, err := pgx.ParseConfig(l.Public)
	if err != nil {
		return "", err
	}
	return connString(there, here.User, here.Password, there.Database), nil
}

// roles are the names of one database's roles. Roles belong to the whole
// server, so each carries its database's name.
type roles struct{ owner, intake, staff, public string }

func rolesOf(database string) roles {
	return roles{database + "_owner", database + "_intake", database + "_staff", database + "_public"}
}

// fill puts the role names into grants.sql.
func (r roles) fill(sql string) string {
	q := func(s string) string { return pgx.Identifier{s}.Sanitize() }
	return strings.NewReplacer("{owner}", q(r.owner), "{intake}", q(r.intake),
		"{staff}", q(r.staff), "{public}", q(r.public)).Replace(sql)
}

// Provision makes a database ready: roles, the extensions PostGIS and pg_trgm, all
// migrations, the grants, and the catalogs closed to the public role. It may be
// called at every start. adminDSN must name a superuser: PostGIS is not an
// extension that anybody else may create.
//
// Where the administrator has a password the two serving roles get passwords
// derived from it, so that one secret configures an installation.
func Provision(ctx context.Context, adminDSN string) (_ Logins, err error) {
	defer wrap(&err, "Provision")
	cfg, err := pgx.ParseConfig(adminDSN)
	if err != nil {
		return Logins{}, err
	}
	conn, err := pgx.ConnectConfig(ctx, cfg)
	if err != nil {
		return Logins{}, err
	}
	defer conn.Close(ctx)
	r := rolesOf(cfg.Database)
	// Two instances may start at once.
	if _, err = conn.Exec(ctx, `SELECT pg_advisory_lock(hashtext('sixmile provision'))`); err != nil {
		return Logins{}, err
	}
	logins := Logins{Admin: adminDSN}
	if logins.Staff, logins.Public, err = makeGround(ctx, conn, cfg, r); err != nil {
		return Logins{}, err
	}
	if err = Migrate(ctx, adminDSN); err != nil {
		return Logins{}, err
	}
	if err = NewPlaceNames(conn).Index(ctx); err != nil {
		return Logins{}, err
	}
	lockdown, err := migrations.Files.ReadFile("lockdown.sql")
	if err != nil {
		return Logins{}, err
	}
	if _, err = conn.Exec(ctx, string(lockdown)); err != nil {
		return Logins{}, err
	}
	return logins, nil
}

// prepare makes a database ready for the steps of the schema.
func prepare(ctx context.Context, adminDSN string) error {
	cfg, err := pgx.ParseConfig(adminDSN)
	if err != nil {
		return err
	}
	return once(ctx, adminDSN, func(c *pgx.Conn) error {
		_, _, err := makeGround(ctx, c, cfg, rolesOf(cfg.Database))
		return err
	})
}

// makeGround makes roles and extensions.
func makeGround(ctx context.Context, conn *pgx.Conn, cfg *pgx.ConnConfig, r roles) (staff, public string, err error) {
	if staff, public, err = makeRoles(ctx, conn, cfg, r); err != nil {
		return "", "", err
	}
	for _, extension := range []string{"postgis", "pg_trgm"} {
		if _, err = conn.Exec(ctx, `CREATE EXTENSION IF NOT EXISTS `+extension); err != nil {
			return "", "", err
		}
	}
	return staff, public, nil
}

func makeRoles(ctx context.Context, conn *pgx.Conn, cfg *pgx.ConnConfig, r roles) (staff, public string, err error) {
	q := func(s string) string { return pgx.Identifier{s}.Sanitize() }
	for _, role := range []struct {
		name  string
		login bool
	}{{r.owner, false}, {r.intake, false}, {r.staff, true}, {r.public, true}} {
		var there bool
		if err = conn.QueryRow(ctx, `SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = $1)`, role.name).Scan(&there); err != nil {
			return "", "", err
		}
		if !there {
			if _, err = conn.Exec(ctx, `CREATE ROLE `+q(role.name)); err != nil {
				return "", "", err
			}
		}
		if role.login {
			if _, err = conn.Exec(ctx, `ALTER ROLE `+q(role.name)+` LOGIN`+passwordClause(cfg.Password, role.name)); err != nil {
				return "", "", err
			}
		}
	}
	// The owner hands the two doors to intake, so it must be able to become it.
	for _, sql := range []string{
		`GRANT ` + q(r.intake) + ` TO ` + q(r.owner),
		`GRANT CREATE ON DATABASE ` + q(cfg.Database) + ` TO ` + q(r.owner),
		`GRANT CREATE, USAGE ON SCHEMA public TO ` + q(r.owner),
		// The audit inside a release looks at the result with the public's eyes.
		`GRANT ` + q(r.public) + ` TO ` + q(r.staff),
		`ALTER ROLE ` + q(r.staff) + ` NOINHERIT`,
	} {
		if _, err = conn.Exec(ctx, sql); err != nil {
			return "", "", err
		}
	}
	return connString(cfg, r.staff, rolePassword(cfg.Password, r.staff), cfg.Database),
		connString(cfg, r.public, rolePassword(cfg.Password, r.public), cfg.Database), nil
}

func rolePassword(secret, role string) string {
	if secret == "" {
		return ""
	}
	m := hmac.New(sha256.New, []byte(secret))
	m.Write([]byte(role))
	return hex.EncodeToString(m.Sum(nil))
}

func passwordClause(secret, role string) string {
	p := rolePassword(secret, role)
	if p == "" {
		return ""
	}
	return ` PASSWORD '` + p + `'` // hex digits only
}

// connString writes a connection string for another user or database of cfg's server.
func connString(cfg *pgx.ConnConfig, user, password, database string) string {
	v := func(s string) string { return `'` + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(s) + `'` }
	s := fmt.Sprintf("host=%s port=%d user=%s dbname=%s", v(cfg.Host), cfg.Port, v(user), v(database))
	if password != "" {
		s += " password=" + v(password)
	}
	if cfg.TLSConfig == nil {
		s += " sslmode=disable"
	}
	return s
}

// Migrate brings the schema up to date and applies the grants, as the owner role.
func Migrate(ctx context.Context, adminDSN string) (err error) {
	defer wrap(&err, "Migrate")
	newest, err := newestStep()
	if err != nil {
		return err
	}
	if err := migrateTo(ctx, adminDSN, newest); err != nil {
		return err
	}
	grants, err := migrations.Files.ReadFile("grants.sql")
	if err != nil {
		return err
	}
	cfg, r, err := asOwner(adminDSN)
	if err != nil {
		return err
	}
	db := stdlib.OpenDB(*cfg)
	defer db.Close()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	if _, err = tx.ExecContext(ctx, r.fill(string(grants))); err != nil {
		return err
	}
	return tx.Commit()
}

func asOwner(adminDSN string) (*pgx.ConnConfig, roles, error) {
	cfg, err := pgx.ParseConfig(adminDSN)
	if err != nil {
		return nil, roles{}, err
	}
	r := rolesOf(cfg.Database)
	cfg.RuntimeParams["role"] = r.owner
	return cfg, r, nil
}

// migrateTo takes the steps up to one. Each is a transaction: one that is broken
// off leaves nothing, and the next start takes it again.
func migrateTo(ctx context.Context, adminDSN string, step int64) error {
	cfg, _, err := asOwner(adminDSN)
	if err != nil {
		return err
	}
	db := stdlib.OpenDB(*cfg)
	defer db.Close()
	locker, err := lock.NewPostgresSessionLocker()
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectPostgres, db, stepsOnly{migrations.Files}, goose.WithSessionLocker(locker))
	if err != nil {
		return err
	}
	at, err := p.GetDBVersion(ctx)
	if err != nil {
		return err
	}
	if newest, err := newestStep(); err != nil || at > newest {
		return errors.Join(err, ErrNewer)
	}
	_, err = p.UpTo(ctx, step)
	return err
}

// ErrNewer: a newer program has worked with this database, and an older one would
// not know what it does there.
var ErrNewer = errors.New("this database was brought up to date by a newer Sixmile: use that one")

// stepsOnly hides the files that are not steps from the migrator.
type stepsOnly struct{ fs.FS }

// Glob leaves out what has no number.
func (s stepsOnly) Glob(pattern string) ([]string, error) {
	all, err := fs.Glob(s.FS, pattern)
	return slices.DeleteFunc(all, func(name string) bool { return name[0] < '0' || name[0] > '9' }), err
}
