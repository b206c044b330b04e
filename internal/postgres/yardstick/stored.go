package yardstick

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/bag"
)

// Stored is what a database holds of a bag, for looking whether what was acknowledged
// is there, once.
type Stored struct {
	Code                   bag.Code
	Samples, Results, Eggs int
}

// Of looks bags up, as the administrator.
func Of(ctx context.Context, adminDSN string, codes []bag.Code) (out []Stored, err error) {
	names := make([]string, len(codes))
	for i, c := range codes {
		names[i] = string(c)
	}
	err = asOne(ctx, adminDSN, func(tx pgx.Tx) error {
		rows, err := tx.Query(ctx, `
			SELECT b.code, (SELECT count(*) FROM priv.bag_link l WHERE l.bag = b.code),
			       (SELECT count(*) FROM priv.bag_link l JOIN priv.result r ON r.sample = l.sample WHERE l.bag = b.code),
			       coalesce((SELECT max(r.eggs) FROM priv.bag_link l JOIN priv.result r ON r.sample = l.sample WHERE l.bag = b.code), -1)
			  FROM priv.bag b
			 WHERE b.code = ANY ($1)`, names)
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, pgx.RowToStructByPos[Stored])
		return err
	})
	return out, err
}
