package yardstick

import (
	"context"
	_ "embed"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/postgres"
)

//go:embed national.sql
var national string

// National fills a founded program's empty database with what the public would
// see of ten million bags: 3,100 counties, 89,900 townships, twenty editions. The
// bags themselves are not made: no public page reads them (Load makes bags).
func National(ctx context.Context, logins postgres.Logins) error {
	return asOne(ctx, logins.Admin, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SET LOCAL session_replication_role = replica`); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, national)
		return err
	}, `VACUUM ANALYZE`)
}
