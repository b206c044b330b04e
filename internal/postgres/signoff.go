package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
)

// SignOff has results signed, over a Staff connection. A result reaches a
// sender or a map only once a coordinator has signed it.
type SignOff struct{ db DB }

// NewSignOff makes the store.
func NewSignOff(db DB) *SignOff { return &SignOff{db} }

// Unsigned lists the results that stand and are not signed, by day and code,
// each with why it should be looked at by itself. Bags set aside are left out:
// nobody gets a result on them.
func (s *SignOff) Unsigned(ctx context.Context) (_ []desk.Unsigned, err error) {
	defer wrap(&err, "SignOff.Unsigned")
	rows, err := s.db.Query(ctx, `
		SELECT b.code, m.place, m.county, r.day, coalesce(r.reason, ''),
		       EXISTS (SELECT FROM priv.result o JOIN priv.signature g ON g.result = o.id WHERE o.sample = m.id),
		       EXISTS (SELECT FROM priv.seat t JOIN priv.standing_control c ON c.season = t.season AND c.tray = t.tray AND c.kind = 'blank'
		                WHERE t.bag = b.code AND (c.eggs > 0 OR c.cyst)), `+resultColumns+`
		  FROM priv.bag b
		  JOIN priv.bag_link l ON l.bag = b.code
		  JOIN priv.sample m ON m.id = l.sample
		  JOIN priv.head r ON r.sample = m.id
		  JOIN open.method e ON e.id = r.method
		 WHERE b.state IN ('counted', 'released') AND NOT EXISTS (SELECT FROM priv.signature g WHERE g.result = r.id)
		 ORDER BY r.day, b.code`)
	if err != nil {
		return nil, err
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Unsigned, error) {
		var u desk.Unsigned
		var r resultRow
		var failed bool
		err := row.Scan(append([]any{(*string)(&u.Code), (*int32)(&u.Place), (*int32)(&u.County), &u.Day, (*string)(&u.Why), &u.Before, &failed},
			r.targets()...)...)
		if err != nil {
			return u, err
		}
		if failed {
			u.Held = append(u.Held, desk.ControlFailed)
		}
		u.Result, u.Method = desk.ID(*r.id), r.method()
		u.Reading, err = r.reading()
		return u, err
	})
	if err != nil {
		return nil, err
	}
	return out, s.hold(ctx, out)
}

// hold marks the finds that would be the first of their township or county. Earlier
// ones count without a bag too: those of years before the program never had one, and
// those of seasons that are unlinked have lost theirs.
func (s *SignOff) hold(ctx context.Context, list []desk.Unsigned) error {
	scheme, err := NewLevels(s.db).Scheme(ctx)
	if err != nil {
		return err
	}
	found := map[int32]bool{} // places and counties with a signed find
	var ask []int32
	for _, u := range list {
		if scheme.Class(u.Reading).Kind == assay.Found {
			ask = append(ask, int32(u.County))
		}
	}
	if len(ask) == 0 {
		return nil
	}
	rows, err := s.db.Query(ctx, `
		SELECT DISTINCT m.place, m.county, r.kind, coalesce(r.eggs, 0), r.density, r.cyst, r.juveniles
		  FROM priv.sample m
		  JOIN priv.signed r ON r.sample = m.id
		 WHERE m.county = ANY ($1) AND r.density > 0
		   AND NOT EXISTS (SELECT FROM priv.bag_link l JOIN priv.bag b ON b.code = l.bag WHERE l.sample = m.id AND b.state = 'void')`, ask)
	if err != nil {
		return err
	}
	var at, county int32
	var kind string
	var r assay.Reading
	_, err = pgx.ForEachRow(rows, []any{&at, &county, &kind, &r.Eggs, (*float64)(&r.Density), &r.CystSeen, &r.JuvenilesSeen}, func() error {
		r.Basis = assay.Reported
		if kind == "counted" {
			r.Basis = assay.Counted
		}
		if scheme.Class(r).Kind == assay.Found {
			found[at], found[county] = true, true
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i := range list {
		u := &list[i]
		if scheme.Class(u.Reading).Kind != assay.Found {
			continue
		}
		if u.Place != u.County && !found[int32(u.Place)] {
			u.Held = append(u.Held, desk.FirstInTownship)
		}
		if !found[int32(u.County)] {
			u.Held = append(u.Held, desk.FirstInCounty)
		}
	}
	return nil
}

// Sign signs results as one batch. What is signed already stays as it was: the
// same button pressed twice signs nothing more, and gives no batch.
// fault.ErrConflict: one of them stands no longer, and nothing is signed.
func (s *SignOff) Sign(ctx context.Context, results []desk.ID, by account.ID, today time.Time) (batch desk.ID, n int, err error) {
	defer wrap(&err, "SignOff.Sign")
	ids := make([][16]byte, len(results))
	for i, r := range results {
		ids[i] = r
	}
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		// Nothing may be counted anew on these bags meanwhile.
		var standing int
		err := tx.QueryRow(ctx, `
			WITH held AS (
			    SELECT b.code
			      FROM priv.result r
			      JOIN priv.bag_link l ON l.sample = r.sample
			      JOIN priv.bag b ON b.code = l.bag AND b.state <> 'void'
			     WHERE r.id = ANY ($1)
			     ORDER BY b.code
			       FOR UPDATE OF b
			)
			SELECT count(*) FROM held`, ids).Scan(&standing)
		if err != nil {
			return err
		}
		if err = tx.QueryRow(ctx, `SELECT count(*) FROM priv.head WHERE id = ANY ($1)`, ids).Scan(&n); err != nil {
			return err
		}
		if n != standing || n != len(distinct(ids)) {
			return fault.ErrConflict
		}
		batch, n, err = signAll(ctx, tx, ids, by, today)
		return err
	})
	return batch, n, err
}

// signAll signs what is not signed yet of results that stand.
func signAll(ctx context.Context, tx pgx.Tx, ids [][16]byte, by account.ID, today time.Time) (batch desk.ID, n int, err error) {
	err = tx.QueryRow(ctx, `
		INSERT INTO priv.batch (day, by_staff)
		SELECT $1, $2
		 WHERE EXISTS (SELECT FROM unnest($3::uuid[]) AS t (id) WHERE NOT EXISTS (SELECT FROM priv.signature g WHERE g.result = t.id))
		RETURNING id`, today, orNull(by), ids).Scan((*[16]byte)(&batch))
	if err == pgx.ErrNoRows {
		return batch, 0, nil
	}
	if err != nil {
		return batch, 0, err
	}
	tag, err := tx.Exec(ctx, `
		INSERT INTO priv.signature (result, batch)
		SELECT DISTINCT id, $2::uuid FROM unnest($1::uuid[]) AS t (id)
		ON CONFLICT DO NOTHING`, ids, [16]byte(batch))
	if err != nil {
		return batch, 0, err
	}
	_, err = tx.Exec(ctx, `
		UPDATE priv.bag b
		   SET state = 'signed'
		  FROM priv.result r
		  JOIN priv.bag_link l ON l.sample = r.sample
		 WHERE r.id = ANY ($1) AND b.code = l.bag AND b.state = 'counted'`, ids)
	if err != nil {
		return batch, 0, err
	}
	n = int(tag.RowsAffected())
	return batch, n, note(ctx, tx, account.DidSign, today, account.Detail{Number: n})
}

func distinct(ids [][16]byte) map[[16]byte]bool {
	out := make(map[[16]byte]bool, len(ids))
	for _, id := range ids {
		out[id] = true
	}
	return out
}

// Batches lists the newest batches, at most so many, each with how many of its
// unconfirmed results have no follow-up bag yet.
func (s *SignOff) Batches(ctx context.Context, most int) (_ []desk.Batch, err error) {
	defer wrap(&err, "SignOff.Batches")
	rows, err := s.db.Query(ctx, `
		SELECT t.id, t.day, coalesce(p.login, ''), (SELECT count(*) FROM priv.signature g WHERE g.batch = t.id)
		  FROM priv.batch t
		  LEFT JOIN priv.staff p ON p.id = t.by_staff
		 ORDER BY t.day DESC, t.id
		 LIMIT $1`, most)
	if err != nil {
		return nil, err
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Batch, error) {
		var b desk.Batch
		return b, row.Scan((*[16]byte)(&b.ID), &b.Day, &b.By, &b.Bags)
	})
	if err != nil || len(out) == 0 {
		return out, err
	}
	return out, s.countUnconfirmed(ctx, out)
}

func (s *SignOff) countUnconfirmed(ctx context.Context, batches []desk.Batch) error {
	scheme, err := NewLevels(s.db).Scheme(ctx)
	if err != nil {
		return err
	}
	at := map[[16]byte]*desk.Batch{}
	var ids [][16]byte
	for i := range batches {
		at[batches[i].ID], ids = &batches[i], append(ids, batches[i].ID)
	}
	rows, err := s.db.Query(ctx, `
		SELECT g.batch, r.kind, coalesce(r.eggs, 0), r.density, r.cyst, r.juveniles
		  FROM priv.signature g
		  JOIN priv.signed r ON r.id = g.result
		  JOIN priv.bag_link l ON l.sample = r.sample
		  JOIN priv.bag b ON b.code = l.bag AND b.state <> 'void'
		 WHERE g.batch = ANY ($1) AND (r.density > 0 OR r.cyst OR r.juveniles)
		   AND NOT EXISTS (SELECT FROM priv.bundle u WHERE u.follows = r.sample)
		   AND NOT EXISTS (SELECT FROM priv.queue_item q WHERE q.code = b.code AND q.settled IS NULL)`, ids)
	if err != nil {
		return err
	}
	var batch [16]byte
	var kind string
	var r assay.Reading
	_, err = pgx.ForEachRow(rows, []any{&batch, &kind, &r.Eggs, (*float64)(&r.Density), &r.CystSeen, &r.JuvenilesSeen}, func() error {
		r.Basis = assay.Reported
		if kind == "counted" {
			r.Basis = assay.Counted
		}
		if scheme.Class(r).Kind == assay.Unconfirmed {
			at[batch].Unconfirmed++
		}
		return nil
	})
	return err
}

// Slips gives a batch's results as they stand now, by county and code: those
// that were corrected since and not signed again are left out, and so are bags
// whose code two forms claim. fault.ErrNotFound: no such batch.
func (s *SignOff) Slips(ctx context.Context, batch desk.ID) (_ []desk.Signed, err error) {
	defer wrap(&err, "SignOff.Slips")
	var there bool
	if err = s.db.QueryRow(ctx, `SELECT true FROM priv.batch WHERE id = $1`, [16]byte(batch)).Scan(&there); err != nil {
		return nil, err
	}
	rows, err := s.db.Query(ctx, `
		SELECT b.code, m.id, m.county, m.season,
		       EXISTS (SELECT FROM priv.result o JOIN priv.signature g ON g.result = o.id WHERE o.sample = m.id AND o.id <> r.id),
		       coalesce((SELECT f.code FROM priv.bundle u JOIN priv.bag f ON f.bundle = u.id WHERE u.follows = m.id), ''), `+resultColumns+`
		  FROM priv.signature g
		  JOIN priv.signed r ON r.id = g.result
		  JOIN priv.sample m ON m.id = r.sample
		  JOIN priv.bag_link l ON l.sample = m.id
		  JOIN priv.bag b ON b.code = l.bag AND b.state <> 'void'
		  JOIN open.method e ON e.id = r.method
		  JOIN open.place p ON p.id = m.county
		 WHERE g.batch = $1 AND NOT EXISTS (SELECT FROM priv.queue_item q WHERE q.code = b.code AND q.settled IS NULL)
		 ORDER BY p.name, b.code`, [16]byte(batch))
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Signed, error) {
		var out desk.Signed
		var r resultRow
		err := row.Scan(append([]any{(*string)(&out.Code), (*[16]byte)(&out.Sample), (*int32)(&out.County), &out.Season, &out.Changed,
			(*string)(&out.Follow)}, r.targets()...)...)
		if err != nil {
			return out, err
		}
		out.Method = r.method()
		out.Reading, err = r.reading()
		return out, err
	})
}
