package yardstick

import (
	"bytes"
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/postgres"
)

// Bags issues bags with the given codes, one to a bundle. With soil they have
// their forms and their soil, and wait for a count; a county by its number.
func Bags(ctx context.Context, logins postgres.Logins, codes []string, county int, soil bool) error {
	state, received := "issued", "NULL"
	if soil {
		state, received = "soil_in", "'2026-11-01'"
	}
	return asOne(ctx, logins.Admin, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, fmt.Sprintf(`
			WITH lot AS (INSERT INTO priv.lot (season, county, issued, bags) VALUES (2026, $2, '2026-08-01', $3) RETURNING id),
			c AS (SELECT gen_random_uuid() AS bundle, gen_random_uuid() AS sample, code FROM unnest($1::text[]) AS t (code)),
			u AS (INSERT INTO priv.bundle (id, lot) SELECT bundle, lot.id FROM c, lot RETURNING id),
			b AS (INSERT INTO priv.bag (code, bundle, position, state, received) SELECT code, bundle, 1, '%s', %s FROM c RETURNING code),
			s AS (INSERT INTO priv.sample (id, place, county, season, day, standing) SELECT sample, $2, $2, 2026, '2026-10-10', 2 FROM c WHERE $4 RETURNING id)
			INSERT INTO priv.bag_link SELECT code, sample FROM c WHERE $4`, state, received), codes, county, len(codes), soil)
		return err
	}, `ANALYZE`)
}

// Handed makes the codes that Script takes, one a transaction.
func Handed(ctx context.Context, logins postgres.Logins, codes []string) error {
	return asOne(ctx, logins.Admin, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `
			CREATE TABLE IF NOT EXISTS public.yardstick_code (i bigint PRIMARY KEY, code text);
			CREATE SEQUENCE IF NOT EXISTS public.yardstick_next`)
		if err == nil {
			_, err = tx.Exec(ctx, `INSERT INTO public.yardstick_code SELECT i, code FROM unnest($1::text[]) WITH ORDINALITY AS t (code, i)`, codes)
		}
		return err
	}, `ANALYZE public.yardstick_code`)
}

// Script is what pgbench runs: the rows of one form of one bag, in one statement
// and nothing of the form's rules. The place is one of the county's townships.
func Script(place, county int) string {
	return fmt.Sprintf(`WITH c AS (SELECT code FROM public.yardstick_code WHERE i = (SELECT nextval('public.yardstick_next'))),
u AS (INSERT INTO priv.sender (id) VALUES (gen_random_uuid()) RETURNING id),
f AS (INSERT INTO priv.form_post (visit, part, sender) SELECT sha256(random()::text::bytea), 1, id FROM u),
s AS (INSERT INTO priv.sample (sender, place, county, season, day, standing, answers) SELECT id, %d, %d, 2026, '2026-11-01', 2, '{}' FROM u RETURNING id),
k AS (INSERT INTO priv.answer_key (hash, sample, kind) SELECT sha256(random()::text::bytea), id, 'link' FROM s),
b AS (UPDATE priv.bag SET state = 'form_in' FROM c WHERE bag.code = c.code RETURNING bundle),
n AS (UPDATE priv.bundle SET sender = u.id FROM b, u WHERE bundle.id = b.bundle)
INSERT INTO priv.bag_link (bag, sample) SELECT code, id FROM c, s;
`, place, county)
}

// CopyResults takes every result out of the database and puts it back by COPY,
// under the same constraints, and says how long that took by calling start and
// stop around it.
func CopyResults(ctx context.Context, logins postgres.Logins, start, stop func()) error {
	conn, err := pgx.Connect(ctx, logins.Admin)
	if err != nil {
		return err
	}
	defer conn.Close(ctx) //nolint:errcheck // all is done or failed by now
	var rows bytes.Buffer
	if _, err := conn.PgConn().CopyTo(ctx, &rows, `COPY priv.result TO STDOUT`); err != nil {
		return err
	}
	if _, err := conn.Exec(ctx, `TRUNCATE priv.result CASCADE`); err != nil {
		return err
	}
	start()
	_, err = conn.PgConn().CopyFrom(ctx, &rows, `COPY priv.result FROM STDIN`)
	stop()
	return err
}
