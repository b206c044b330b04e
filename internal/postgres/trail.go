package postgres

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
)

// actorSetting is the database's name for whom a connection works for; its
// triggers read it when they note a change in the trail.
const actorSetting = "sixmile.actor"

// nameActor runs before the pool lends a connection. It asks the database only
// where somebody else had the connection before.
func nameActor(ctx context.Context, conn *pgx.Conn) (bool, error) {
	want := ""
	if who, ok := account.Actor(ctx); ok {
		want = hex.EncodeToString(who[:])
	}
	has, _ := conn.PgConn().CustomData()[actorSetting].(string)
	if has == want {
		return true, nil
	}
	if _, err := conn.Exec(ctx, `SELECT set_config('`+actorSetting+`', $1, false)`, want); err != nil {
		if conn.IsClosed() {
			return false, nil // died while it was idle: the pool tries another
		}
		return false, err
	}
	conn.PgConn().CustomData()[actorSetting] = want
	return true, nil
}

// note writes a line of the trail beside a change, in its transaction. Who did
// it is known to the connection.
func note(ctx context.Context, db DB, deed account.Deed, day time.Time, d account.Detail) error {
	return noteBy(ctx, db, deed, day, d, account.ID{})
}

// noteBy is note for what somebody does before being signed in.
func noteBy(ctx context.Context, db DB, deed account.Deed, day time.Time, d account.Detail, who account.ID) error {
	detail, err := json.Marshal(d)
	if err != nil {
		return err
	}
	_, err = db.Exec(ctx, `SELECT priv.note($1, $2, $3, $4)`, string(deed), day, string(detail), orNull(who))
	return err
}

// Trail reads what staff did, over a Staff connection. Nothing writes through
// it, and nothing changes a line.
type Trail struct{ db DB }

// NewTrail makes the store.
func NewTrail(db DB) *Trail { return &Trail{db} }

// Entries lists the newest lines that q picks, at most so many after the first
// skip. Within a day there is no order of time: lines stand by person and deed.
func (s *Trail) Entries(ctx context.Context, q account.Query, most, skip int) (_ []account.Entry, err error) {
	defer wrap(&err, "Trail.Entries")
	rows, err := s.db.Query(ctx, `
		SELECT t.day, coalesce(p.login, ''), t.action, t.detail
		  FROM priv.trail t
		  LEFT JOIN priv.staff p ON p.id = t.staff
		 WHERE ($1::date IS NULL OR t.day >= $1)
		   AND ($2::date IS NULL OR t.day <= $2)
		   AND ($3 = '' OR p.login = $3)
		   AND ($4 = '' OR t.action = $4)
		   AND ($5 = 0 OR t.detail->'county' = to_jsonb($5::int))
		 ORDER BY t.day DESC, p.login NULLS FIRST, t.action, t.id
		 LIMIT $6 OFFSET $7`,
		orNoDay(q.From), orNoDay(q.To), q.Who, string(q.Deed), int32(q.County), most, skip)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (account.Entry, error) {
		var e account.Entry
		var detail []byte
		if err := row.Scan(&e.Day, &e.Who, (*string)(&e.Deed), &detail); err != nil {
			return e, err
		}
		return e, json.Unmarshal(detail, &e.Detail)
	})
}

// orNoDay is a day for the database; the zero time is none.
func orNoDay(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t
}
