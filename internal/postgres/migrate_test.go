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
	began := time.Now()
	_, err := postgres.Provision(ctx, whole.Admin)
	require.NoError(t, err)
	took := time.Since(began)
	cutOff := 0
	for i := range 12 {
		done := make(chan error, 1)
		go func() {
			_, err := postgres.Provision(context.Background(), broken.Admin)
			done <- err
		}()
		time.Sleep(took * time.Duration(i+1) / 14)
		require.NoError(t, once(ctx, broken.Admin, `
			SELECT pg_terminate_backend(pid) FROM pg_stat_activity
			 WHERE datname = (SELECT current_database()::text) AND pid <> pg_backend_pid()`))
		if <-done != nil {
			cutOff++
		}
	}
	require.Positive(t, cutOff, "none was broken off")
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

// once runs a statement in another's database.
func once(ctx context.Context, in, sql string) error {
	c, err := pgx.Connect(ctx, in)
	if err != nil {
		return err
	}
	defer c.Close(ctx)
	_, err = c.Exec(ctx, sql)
	return err
}
