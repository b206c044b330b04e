package yardstick

import (
	"context"
	_ "embed"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/postgres"
)

//go:embed lattice.sql
var lattice string

// latticeShapes gives the lattice's places their squares: township t, r from
// -100 + 0.05(r-1) degrees east and 30 + 0.05(t-1) degrees north.
const latticeShapes = `
	INSERT INTO open.place_shape (set, place, code, name, geom, outline)
	SELECT 1, id, code, name, g, ST_SetSRID(g, 32615)
	  FROM (SELECT p.*, ST_Multi(CASE WHEN kind = 'township'
	               THEN ST_MakeEnvelope(-100 + 0.05 * ((id - 1001) % 300), 30 + 0.05 * ((id - 1001) / 300 - 1),
	                                    -100 + 0.05 * ((id - 1001) % 300 + 1), 30 + 0.05 * ((id - 1001) / 300), 4326)
	               ELSE ST_MakeEnvelope(-100 + 0.5 * ((id - 1) % 30), 30 + 0.5 * ((id - 1) / 30),
	                                    -100 + 0.5 * ((id - 1) % 30 + 1), 30 + 0.5 * ((id - 1) / 30 + 1), 4326) END) AS g
	          FROM open.place p) s`

// Lattice fills an empty database with 90,000 townships in 900 counties, by name,
// code and survey numbers, and with their shapes if they are wanted.
func Lattice(ctx context.Context, logins postgres.Logins, shapes bool) error {
	return asOne(ctx, logins.Admin, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, lattice); err != nil {
			return err
		}
		if !shapes {
			return nil
		}
		_, err := tx.Exec(ctx, latticeShapes)
		return err
	}, `ANALYZE`)
}
