package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/gazette"
)

// countedBy reads the methods behind what editions up to no added.
func (s *Published) countedBy(ctx context.Context, no int) ([]gazette.CountedBy, error) {
	rows, err := s.db.Query(ctx, `
		SELECT edition, county, coalesce(method, 0)
		  FROM open.edition_method
		 WHERE edition <= $1
		 ORDER BY edition, county, method NULLS FIRST`, no)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (c gazette.CountedBy, err error) {
		err = row.Scan(&c.Edition, (*int32)(&c.County), &c.Method)
		return c, err
	})
}
