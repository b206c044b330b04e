package postgres_test

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"sixmile/internal/sample"
)

// refused runs a statement and wants it refused for lack of a privilege.
func refused(t *testing.T, db interface {
	Exec(sql string) error
}, sql string) {
	t.Helper()
	err := db.Exec(sql)
	var pg *pgconn.PgError
	require.True(t, errors.As(err, &pg), "%s: %v", sql, err)
	require.Equal(t, "42501", pg.Code, "%s: %s", sql, pg.Message)
}

// The public role is tried over a connection of its own, as itself.
func TestThePublicRoleReachesNothingOfTheOffice(t *testing.T) {
	o := newOffice(t)
	c := o.bags(1)
	o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c[0]))
	run := runner(func(sql string) error {
		rows, err := o.public.Query(ctxOf(t), sql, pgx.QueryExecModeSimpleProtocol)
		if err != nil {
			return err
		}
		rows.Close()
		return rows.Err()
	})
	admin := open(t, o.logins.Admin)
	rows, err := admin.Query(ctxOf(t), `
		SELECT quote_ident(relname) FROM pg_class
		 WHERE relnamespace = 'priv'::regnamespace AND relkind IN ('r', 'v', 'm', 'p', 'f', 'S')`)
	require.NoError(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.Greater(t, len(tables), 15)
	for _, table := range tables {
		refused(t, run, `SELECT 1 FROM priv.`+table)
		refused(t, run, `EXPLAIN SELECT 1 FROM priv.`+table)
		refused(t, run, `SELECT pg_relation_size('priv.`+table+`')`)
	}
	for _, sql := range []string{
		`SELECT reltuples FROM pg_class`,
		`SELECT relpages FROM pg_class`,
		`SELECT * FROM pg_class`,
		`SELECT n_live_tup FROM pg_stat_all_tables`,
		`SELECT n_live_tup FROM pg_stat_user_tables`,
		`SELECT * FROM pg_stat_database`,
		`SELECT * FROM pg_stats`,
		`SELECT * FROM pg_stat_user_indexes`,
		`SELECT pg_stat_get_live_tuples(oid) FROM (SELECT 'open.place'::regclass AS oid) t`,
		`SELECT pg_total_relation_size('open.place')`,
		`SELECT pg_database_size(current_database())`,
		`SELECT * FROM pg_statistic`,
		`SELECT priv.root_sender(NULL)`,
		`SELECT priv.take_bag(NULL, NULL, NULL, NULL, NULL)`,
		`INSERT INTO open.place VALUES (1)`,
		`UPDATE open.program SET name = 'x'`,
		`DELETE FROM open.tranche`,
		`CREATE TABLE open.mine (a int)`,
		`CREATE TABLE public.mine (a int)`,
		`SET ROLE sixmile_test_staff`,
		`SET ROLE sixmile_test_intake`,
		`SELECT pg_read_file('/etc/passwd')`,
	} {
		refused(t, run, sql)
	}
	require.NoError(t, run(`SELECT 1 FROM open.tranche`))
	require.NoError(t, run(`SELECT relname FROM pg_class`))
	require.NoError(t, run(`SELECT 1 FROM open.give_answer('x')`))
}

type runner func(sql string) error

func (r runner) Exec(sql string) error { return r(sql) }

// Staff add; what is a record they cannot change.
func TestStaffCannotChangeRecords(t *testing.T) {
	o := newOffice(t)
	run := runner(func(sql string) error { _, err := o.staff.Exec(ctxOf(t), sql); return err })
	for _, sql := range []string{
		`UPDATE priv.result SET eggs = 0`,
		`DELETE FROM priv.result`,
		`DELETE FROM priv.signature`,
		`UPDATE priv.batch SET day = day`,
		`UPDATE open.tranche_count SET n = 0`,
		`DELETE FROM open.tranche`,
		`UPDATE open.edition SET k = 3`,
		`DELETE FROM priv.tranche_member`,
		`DELETE FROM priv.sample`,
		`UPDATE open.scheme_class SET upper = 1`,
		`UPDATE open.parameter_set SET k = 3`,
		`TRUNCATE priv.result`,
		`ALTER TABLE open.tranche DISABLE TRIGGER ALL`,
		`SET session_replication_role = replica`,
	} {
		refused(t, run, sql)
	}
}
