package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"sixmile/internal/account"
	"sixmile/internal/desk"
)

// errDry undoes a dry run.
var errDry = errors.New("dry run")

// shuffled are the tables whose order on disk could still tell what belonged
// together, each with an index of random numbers to put it in the order of.
var shuffled = [][2]string{
	{"priv.sample", "sample_pkey"}, {"priv.result", "result_pkey"}, {"priv.sender", "sender_pkey"}, {"priv.bag_link", "bag_link_pkey"},
	{"priv.answer_key", "answer_key_pkey"}, {"priv.form_post", "form_post_pkey"}, {"priv.bundle", "bundle_pkey"}, {"priv.bag", "bag_pkey"},
	{"priv.tranche_member", "tranche_member_pkey"}, {"priv.member_result", "member_result_pkey"}, {"priv.signature", "signature_pkey"},
}

// Unlink forgets, for every season that closed so many months ago as the program
// keeps (open.season_end): which bag a released sample came in, the answers' links,
// and the senders' numbers. Codes of the season expire. Samples that wait keep
// what they have until they are released. Then the tables are written anew in
// random order. It may run as often as one likes; a dry run changes nothing and
// counts the same. Results, tranches and what was pinned stay.
//
// It works as the database's administrator, since no role that serves requests
// may delete a link. False: another run is under way, and nothing was done.
func Unlink(ctx context.Context, adminDSN string, today time.Time, dry bool) (out desk.Unlinked, ran bool, err error) {
	defer wrap(&err, "Unlink")
	err = once(ctx, adminDSN, func(c *pgx.Conn) error {
		return pgx.BeginFunc(ctx, c, func(tx pgx.Tx) error {
			if err := tx.QueryRow(ctx, `SELECT pg_try_advisory_xact_lock(hashtext('sixmile unlink'))`).Scan(&ran); err != nil || !ran {
				return err
			}
			// No release meanwhile: it reads what is taken away here.
			if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile release'))`); err != nil {
				return err
			}
			// First what it would come to, taken back: mostly nothing, and nobody waits.
			err := pgx.BeginFunc(ctx, tx, func(tx pgx.Tx) error {
				if err := unlink(ctx, tx, today, &out); err != nil {
					return err
				}
				return errDry
			})
			if !errors.Is(err, errDry) {
				return err
			}
			if dry || out.Samples+out.Keys+out.Bundles+out.Codes+out.Visits == 0 {
				return nil
			}
			if err := holdAll(ctx, tx); err != nil {
				return err
			}
			if err := unlink(ctx, tx, today, &out); err != nil {
				return err
			}
			if err := shuffle(ctx, tx); err != nil {
				return err
			}
			return noteBy(ctx, tx, account.DidUnlink, today, account.Detail{Number: out.Samples}, account.ID{})
		})
	})
	return out, ran, err
}

// holdFor is how long unlinking waits for one table before it lets go of all: under
// the second after which the database looks for a deadlock and refuses somebody's
// form. holdTries is how often it tries.
const (
	holdFor   = 300 * time.Millisecond
	holdTries = 200
)

// holdAll locks every table that will be written anew, all or none: who works on
// one of them and needs another would otherwise wait for a table that is held here
// while this waits for theirs.
func holdAll(ctx context.Context, tx pgx.Tx) error {
	names := make([]string, len(shuffled))
	for i, t := range shuffled {
		names[i] = t[0]
	}
	hold := fmt.Sprintf(`SET LOCAL lock_timeout = %d; LOCK TABLE %s`, holdFor.Milliseconds(), strings.Join(names, ", "))
	for try := 1; ; try++ {
		err := pgx.BeginFunc(ctx, tx, func(tx pgx.Tx) error {
			_, err := tx.Exec(ctx, hold)
			return err
		})
		var pg *pgconn.PgError
		if err == nil {
			_, err = tx.Exec(ctx, `SET LOCAL lock_timeout = DEFAULT`)
			return err
		}
		if try == holdTries || !errors.As(err, &pg) || pg.Code != "55P03" {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(holdFor):
		}
	}
}

func unlink(ctx context.Context, tx pgx.Tx, today time.Time, out *desk.Unlinked) error {
	rows, err := tx.Query(ctx, `SELECT year FROM open.season_end WHERE unlinked <= $1 ORDER BY year`, today)
	if err != nil {
		return err
	}
	if out.Seasons, err = pgx.CollectRows(rows, pgx.RowTo[int]); err != nil || len(out.Seasons) == 0 {
		return err
	}
	// Released, or never to be: no soil came, the bag is void, or no bag has it. Past
	// results have no bag and wait like any other.
	_, err = tx.Exec(ctx, `
		CREATE TEMP TABLE over ON COMMIT DROP AS
		SELECT s.id AS sample, l.bag
		  FROM priv.sample s
		  LEFT JOIN priv.bag_link l ON l.sample = s.id
		  LEFT JOIN priv.bag b ON b.code = l.bag
		 WHERE s.season = ANY ($1)
		   AND (EXISTS (SELECT FROM priv.tranche_member m WHERE m.sample = s.id)
		        OR s.source <> 'past' AND (b.received IS NULL OR b.state = 'void'))`, out.Seasons)
	if err != nil {
		return err
	}
	for _, step := range []struct {
		count *int
		sql   string
	}{
		{&out.Keys, `DELETE FROM priv.answer_key k USING over o WHERE k.sample = o.sample`},
		{nil, `DELETE FROM priv.queue_item q USING over o WHERE q.sample = o.sample`},
		{nil, `DELETE FROM priv.bag_link l USING over o WHERE l.sample = o.sample`},
		{&out.Samples, `UPDATE priv.sample s SET sender = NULL FROM over o
		                 WHERE s.id = o.sample AND (s.sender IS NOT NULL OR o.bag IS NOT NULL)`},
		{nil, `DELETE FROM priv.seat t USING over o WHERE t.bag = o.bag`},
		{nil, `UPDATE priv.bag b SET received = NULL FROM over o WHERE b.code = o.bag`},
		// A bundle forgets its sender once none of its bags waits.
		{&out.Bundles, `UPDATE priv.bundle u SET sender = NULL, follows = NULL
		                  FROM priv.lot l
		                 WHERE l.id = u.lot AND l.season = ANY ($1) AND (u.sender IS NOT NULL OR u.follows IS NOT NULL)
		                   AND NOT EXISTS (SELECT FROM priv.bag b JOIN priv.bag_link k ON k.bag = b.code WHERE b.bundle = u.id)`},
		{nil, `UPDATE priv.bundle u SET follows = NULL FROM over o WHERE u.follows = o.sample`},
		{&out.Codes, `UPDATE priv.bag b SET state = 'void'
		                FROM priv.bundle u JOIN priv.lot l ON l.id = u.lot
		               WHERE b.bundle = u.id AND l.season = ANY ($1) AND b.state IN ('issued', 'handed_out', 'form_in')`},
		// What is left of senders nobody needs.
		{&out.Visits, `DELETE FROM priv.form_post f
		                WHERE NOT EXISTS (SELECT FROM priv.sample s WHERE s.sender = f.sender)
		                  AND NOT EXISTS (SELECT FROM priv.sender x JOIN priv.sample s ON s.sender = x.merged_into OR s.sender = x.id
		                                   WHERE x.id = f.sender)`},
		{nil, `UPDATE priv.sender x SET merged_into = NULL
		        WHERE NOT EXISTS (SELECT FROM priv.sample s WHERE s.sender = x.id)
		          AND NOT EXISTS (SELECT FROM priv.bundle u WHERE u.sender = x.id)
		          AND NOT EXISTS (SELECT FROM priv.form_post f WHERE f.sender = x.id)`},
		{nil, `DELETE FROM priv.sender x
		        WHERE NOT EXISTS (SELECT FROM priv.sample s WHERE s.sender = x.id)
		          AND NOT EXISTS (SELECT FROM priv.bundle u WHERE u.sender = x.id)
		          AND NOT EXISTS (SELECT FROM priv.form_post f WHERE f.sender = x.id)
		          AND NOT EXISTS (SELECT FROM priv.sender y WHERE y.merged_into = x.id)`},
	} {
		args := []any{}
		if step.count == &out.Bundles || step.count == &out.Codes {
			args = append(args, out.Seasons)
		}
		tag, err := tx.Exec(ctx, step.sql, args...)
		if err != nil {
			return err
		}
		if step.count != nil {
			*step.count = int(tag.RowsAffected())
		}
	}
	return nil
}

// shuffle writes tables anew in the order of their random numbers.
func shuffle(ctx context.Context, tx pgx.Tx) error {
	for _, t := range shuffled {
		// Triggers that wait for the end of the transaction would keep a table from it.
		if _, err := tx.Exec(ctx, `SET CONSTRAINTS ALL IMMEDIATE`); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `CLUSTER `+t[0]+` USING `+t[1]); err != nil {
			return err
		}
	}
	return nil
}

// SeasonEnds gives, by fall, the day on which its released samples are unlinked:
// until then an answer's link works. The Public connection will do.
func (s *Program) SeasonEnds(ctx context.Context) (_ map[int]time.Time, err error) {
	defer wrap(&err, "Program.SeasonEnds")
	rows, err := s.db.Query(ctx, `SELECT year, unlinked FROM open.season_end`)
	if err != nil {
		return nil, err
	}
	out := make(map[int]time.Time)
	var year int
	var day time.Time
	_, err = pgx.ForEachRow(rows, []any{&year, &day}, func() error {
		out[year] = day
		return nil
	})
	return out, err
}

// NewestDeed is the day of the newest line of the trail, the zero time where there
// is none: no earlier than when somebody last did something here.
func NewestDeed(ctx context.Context, adminDSN string) (day time.Time, err error) {
	defer wrap(&err, "NewestDeed")
	var newest *time.Time
	err = once(ctx, adminDSN, func(c *pgx.Conn) error {
		return c.QueryRow(ctx, `SELECT max(day) FROM priv.trail`).Scan(&newest)
	})
	if newest != nil {
		day = *newest
	}
	return day, err
}
