package postgres_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/postgres"
)

// shape is everything the schema consists of, as the server's catalogs have it.
const shape = `
	SELECT md5(string_agg(line, E'\n' ORDER BY line)) FROM (
		SELECT format('column %s.%s %s %s %s', table_schema, table_name, column_name, data_type, column_default) AS line
		  FROM information_schema.columns WHERE table_schema IN ('open', 'priv')
		UNION ALL SELECT format('constraint %s %s %s', conrelid::regclass, conname, pg_get_constraintdef(oid))
		  FROM pg_constraint WHERE connamespace::regnamespace::text IN ('open', 'priv')
		UNION ALL SELECT format('index %s', indexdef) FROM pg_indexes WHERE schemaname IN ('open', 'priv')
		UNION ALL SELECT format('function %s', pg_get_functiondef(oid)) FROM pg_proc WHERE pronamespace::regnamespace::text IN ('open', 'priv')
		UNION ALL SELECT format('trigger %s', pg_get_triggerdef(oid)) FROM pg_trigger WHERE NOT tgisinternal
		UNION ALL SELECT format('grant %s %s %s', table_name, privilege_type, regexp_replace(grantee, '^.*_', '')) FROM information_schema.role_table_grants
		  WHERE table_schema IN ('open', 'priv') AND grantee LIKE '%\_staff') x`

// Setting up is broken off again and again, wherever it happens to be, as a power cut
// would; the next start finishes it, and what comes out is what an unbroken one makes.
// Meanwhile two at once do not get in each other's way.
func TestHalfAMigration(t *testing.T) {
	whole, broken := empty(t), empty(t)
	ctx := ctxOf(t)
	_, err := postgres.Provision(ctx, whole.Admin)
	require.NoError(t, err)
	begin := func() <-chan error {
		done := make(chan error, 1)
		go func() {
			_, err := postgres.Provision(context.Background(), broken.Admin)
			done <- err
		}()
		return done
	}
	require.Error(t, breakOffWaiting(t, broken.Admin, begin), "in the middle of the first step")
	cutOff := 1
	for i := range 12 {
		done := begin()
		if breakOff(t, broken.Admin, time.Duration(i)*3*time.Millisecond, done) != nil {
			cutOff++
		}
	}
	t.Logf("broken off %d times", cutOff)
	var both sync.WaitGroup
	for range 2 {
		both.Go(func() {
			_, err := postgres.Provision(context.Background(), broken.Admin)
			if err != nil {
				t.Error(err)
			}
		})
	}
	both.Wait()
	var want, got string
	require.NoError(t, open(t, whole.Admin).QueryRow(ctx, shape).Scan(&want))
	require.NoError(t, open(t, broken.Admin).QueryRow(ctx, shape).Scan(&got))
	require.Equal(t, want, got)
	logins, err := postgres.Provision(ctx, broken.Admin)
	require.NoError(t, err)
	o := officeOn(t, logins)
	o.farms(3, o.townships[o.counties[0].ID][0].ID, 2020, 10)
}

// endOthers ends every other connection to a database.
const endOthers = `
	SELECT pg_terminate_backend(pid) FROM pg_stat_activity
	 WHERE datname = (SELECT current_database()::text) AND pid <> pg_backend_pid()`

// breakOffWaiting breaks the first step off where it makes a schema: it waits there for
// one of the same name, which is never there in the end.
func breakOffWaiting(t *testing.T, in string, begin func() <-chan error) error {
	t.Helper()
	c, err := pgx.Connect(t.Context(), in)
	require.NoError(t, err)
	defer c.Close(t.Context())
	tx, err := c.Begin(t.Context())
	require.NoError(t, err)
	defer tx.Rollback(t.Context()) //nolint:errcheck // the connection ends with it
	_, err = tx.Exec(t.Context(), `CREATE SCHEMA priv`)
	require.NoError(t, err)
	done := begin()
	require.Eventually(t, func() bool {
		var waits bool
		err := tx.QueryRow(t.Context(), `
			SELECT EXISTS (SELECT FROM pg_locks WHERE NOT granted AND locktype = 'transactionid' AND pg_backend_pid() = ANY (pg_blocking_pids(pid)))`).Scan(&waits)
		return err == nil && waits
	}, 30*time.Second, 5*time.Millisecond)
	_, err = tx.Exec(t.Context(), endOthers)
	require.NoError(t, err)
	return <-done
}

// breakOff ends every connection to a database once another step of the schema is
// taken there and after has passed: somewhere in the next one, on a quick machine as on
// a slow one. It gives what was done says.
func breakOff(t *testing.T, in string, after time.Duration, done <-chan error) error {
	t.Helper()
	c, err := pgx.Connect(t.Context(), in)
	require.NoError(t, err)
	defer c.Close(t.Context())
	steps := func() (n int) {
		n = -1                                                                                               // there is no list of them yet
		c.QueryRow(t.Context(), `SELECT coalesce(max(version_id), 0) FROM public.goose_db_version`).Scan(&n) //nolint:errcheck // as above
		return n
	}
	for before := steps(); steps() == before; time.Sleep(time.Millisecond) {
		select {
		case err := <-done:
			return err
		default:
		}
	}
	time.Sleep(after)
	_, err = c.Exec(t.Context(), endOthers)
	require.NoError(t, err)
	return <-done
}
