package pgtest_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/postgres/pgtest"
)

func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }

func connect(t *testing.T, dsn string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), dsn)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, conn.Close(t.Context())) })
	return conn
}

func TestDatabasesAreSeparate(t *testing.T) {
	a, b := pgtest.Database(t), pgtest.Database(t)
	_, err := connect(t, a.Admin).Exec(t.Context(), "CREATE TABLE public.only_here (n int)")
	require.NoError(t, err)
	var there bool
	err = connect(t, b.Admin).QueryRow(t.Context(), "SELECT to_regclass('public.only_here') IS NOT NULL").Scan(&there)
	require.NoError(t, err)
	require.False(t, there)
}

// A copy has the roles, the extension, the schemas and the grants.
func TestDatabaseIsSetUp(t *testing.T) {
	t.Parallel()
	l := pgtest.Database(t)
	var version string
	var staff, public bool
	const reads = `SELECT has_schema_privilege(current_user, 'priv', 'USAGE')`
	require.NoError(t, connect(t, l.Admin).QueryRow(t.Context(), "SELECT postgis_lib_version()").Scan(&version))
	require.NotEmpty(t, version)
	require.NoError(t, connect(t, l.Staff).QueryRow(t.Context(), reads).Scan(&staff))
	require.NoError(t, connect(t, l.Public).QueryRow(t.Context(), reads).Scan(&public))
	require.True(t, staff)
	require.False(t, public)
}

func TestDroppedAfterwards(t *testing.T) {
	t.Parallel()
	var name string
	t.Run("uses one", func(t *testing.T) {
		conn := connect(t, pgtest.Database(t).Admin) // left open: dropping breaks it
		require.NoError(t, conn.QueryRow(t.Context(), "SELECT current_database()").Scan(&name))
		require.True(t, strings.HasPrefix(name, "test_"))
	})
	var n int
	err := connect(t, pgtest.Database(t).Admin).QueryRow(t.Context(), "SELECT count(*) FROM pg_database WHERE datname = $1", name).Scan(&n)
	require.NoError(t, err)
	require.Zero(t, n)
}

func TestManyAtOnce(t *testing.T) {
	t.Parallel()
	for i := range 8 {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			t.Parallel()
			var one int
			require.NoError(t, connect(t, pgtest.Database(t).Staff).QueryRow(t.Context(), "SELECT 1").Scan(&one))
		})
	}
}

func BenchmarkDatabase(b *testing.B) {
	pgtest.Database(b)
	for b.Loop() {
		pgtest.Database(b)
	}
}
