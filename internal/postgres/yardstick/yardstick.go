// Package yardstick makes a state with any number of waiting results, and
// releases it in bare SQL: what a release is measured against. It is for the
// measuring command and for tests; the program itself does not use it.
package yardstick

import (
	"context"
	_ "embed"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/postgres"
)

// The fall of all results, the cut-off and the day of the release.
var (
	Cutoff = time.Date(2026, time.December, 31, 0, 0, 0, 0, time.UTC)
	Day    = time.Date(2027, time.January, 15, 0, 0, 0, 0, time.UTC)
)

//go:embed load.sql
var load string

//go:embed more.sql
var more string

//go:embed release.sql
var release string

// Load fills a founded program's empty database with a hundred counties of 36
// townships and n waiting results, each bag with form, soil and count. About
// two bags come from a sender. Foreign keys and triggers are off meanwhile.
func Load(ctx context.Context, logins postgres.Logins, n int) error {
	return fill(ctx, logins, load, n)
}

// The cut-off and the day of the release after LoadMore.
var (
	NextCutoff = time.Date(2027, time.December, 31, 0, 0, 0, 0, time.UTC)
	NextDay    = time.Date(2028, time.January, 15, 0, 0, 0, 0, time.UTC)
)

// LoadMore adds n waiting results of the next fall to what Load made.
func LoadMore(ctx context.Context, logins postgres.Logins, n int) error {
	return fill(ctx, logins, more, n)
}

func fill(ctx context.Context, logins postgres.Logins, sql string, n int) error {
	return asOne(ctx, logins.Admin, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SET LOCAL session_replication_role = replica`); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, fmt.Sprintf(`SELECT set_config('yardstick.n', '%d', true)`, n))
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, sql)
		return err
	}, `VACUUM ANALYZE`)
}

// Release makes the edition in one transaction of plain SQL over the staff
// role's connection: GROUP BY, then the same rows into the same tables under
// the same constraints, and nothing of rules 1 to 5 but the number of senders.
// It fits what Load made and nothing else.
func Release(ctx context.Context, logins postgres.Logins) error {
	return asOne(ctx, logins.Staff, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, release)
		return err
	})
}

// Loosen takes the release rules off a database, to see what they cost. What is
// left are keys, foreign keys and checks of single rows.
func Loosen(ctx context.Context, logins postgres.Logins) error {
	return asOne(ctx, logins.Admin, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `ALTER TABLE open.edition DISABLE TRIGGER edition_closed`)
		return err
	})
}

// asOne runs f in a transaction of its own connection, then more statements.
func asOne(ctx context.Context, dsn string, f func(pgx.Tx) error, more ...string) error {
	conn, err := pgx.Connect(ctx, dsn)
	if err != nil {
		return err
	}
	defer conn.Close(ctx) //nolint:errcheck // all is done or failed by now
	if err := pgx.BeginFunc(ctx, conn, f); err != nil {
		return err
	}
	for _, sql := range more {
		if _, err := conn.Exec(ctx, sql); err != nil {
			return err
		}
	}
	return nil
}

// Same tells whether two databases hold the same edition: the same tranches,
// places and counts.
func Same(ctx context.Context, a, b postgres.Logins) (bool, error) {
	var sums [2]string
	for i, l := range []postgres.Logins{a, b} {
		err := asOne(ctx, l.Admin, func(tx pgx.Tx) error {
			return tx.QueryRow(ctx, `
				SELECT md5(string_agg(concat_ws(' ', t.id, t.county, t.kind, t.samples, t.this_fall, t.through, tp.place,
				       ARRAY(SELECT n FROM open.tranche_count c WHERE c.tranche = t.id ORDER BY rank)), ',' ORDER BY t.id, tp.place))
				       || (SELECT count(*) FROM priv.member_result) || ' ' || (SELECT count(*) FROM priv.bag WHERE state = 'released')
				  FROM open.tranche t JOIN open.tranche_place tp ON tp.tranche = t.id`).Scan(&sums[i])
		})
		if err != nil {
			return false, err
		}
	}
	return sums[0] == sums[1], nil
}
