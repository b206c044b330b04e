package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
)

// KeySlip stores what a paper slip says of one bag whose form never came. The
// sender is the bundle's, as with a form. fault.ErrNotFound: no such bag.
// fault.ErrConflict: a form or a slip for it is there.
func (s *Bags) KeySlip(ctx context.Context, v sample.Visit, today time.Time) (err error) {
	defer wrap(&err, "Bags.KeySlip")
	if len(v.Senders) != 1 || len(v.Senders[0].Bags) != 1 {
		return fault.ErrNotFound
	}
	code := string(v.Senders[0].Bags[0].Code)
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		linked, err := lockUnlinked(ctx, tx, code)
		if err != nil {
			return err
		}
		if linked {
			return fault.ErrConflict
		}
		if err := NewIntake(tx).Take(ctx, v, today); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			UPDATE priv.sample m SET source = 'slip' FROM priv.bag_link l WHERE l.bag = $1 AND m.id = l.sample`, code)
		return err
	})
}

// lockUnlinked locks a bag in use and tells whether a form or a slip holds it for
// good; an assumption does so once it is on a map.
func lockUnlinked(ctx context.Context, tx pgx.Tx, code string) (linked bool, err error) {
	err = tx.QueryRow(ctx, `
		SELECT coalesce(m.source <> 'assumed' OR b.state = 'released', false)
		  FROM priv.bag b
		  LEFT JOIN priv.bag_link l ON l.bag = b.code
		  LEFT JOIN priv.sample m ON m.id = l.sample
		 WHERE b.code = $1 AND b.state <> 'void'
		   FOR UPDATE OF b`, code).Scan(&linked)
	return linked, err
}

// Assume has a bag with neither form nor slip count for the county of its lot,
// marked as assumed; it goes to the rest of the county and adds no sender. A form
// that comes later takes the assumption's place. fault.ErrNotFound: no such bag,
// or its soil has not come. fault.ErrConflict: a form or a slip is there.
func (s *Bags) Assume(ctx context.Context, code bag.Code) (err error) {
	defer wrap(&err, "Bags.Assume")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var bundle [16]byte
		var sender *[16]byte
		var linked bool
		err := tx.QueryRow(ctx, `
			SELECT b.bundle, u.sender, EXISTS (SELECT FROM priv.bag_link l WHERE l.bag = b.code)
			  FROM priv.bag b
			  JOIN priv.bundle u ON u.id = b.bundle
			 WHERE b.code = $1 AND b.state <> 'void' AND b.received IS NOT NULL
			   FOR UPDATE OF b, u`, string(code)).Scan(&bundle, &sender, &linked)
		if err != nil {
			return err
		}
		if linked {
			return fault.ErrConflict
		}
		if sender == nil {
			// A number of its own, so that a form for another bag of the bundle joins it.
			err := tx.QueryRow(ctx, `
				WITH made AS (INSERT INTO priv.sender (id) VALUES (gen_random_uuid()) RETURNING id)
				UPDATE priv.bundle SET sender = (SELECT id FROM made) WHERE id = $1
				RETURNING sender`, bundle).Scan(&sender)
			if err != nil {
				return err
			}
		}
		_, err = tx.Exec(ctx, `
			WITH made AS (
			    INSERT INTO priv.sample (sender, place, county, season, day, standing, source)
			    SELECT $2, o.county, o.county, o.season, b.received, 0, 'assumed'
			      FROM priv.bag b
			      JOIN priv.bundle u ON u.id = b.bundle
			      JOIN priv.lot o ON o.id = u.lot
			     WHERE b.code = $1
			    RETURNING id
			)
			INSERT INTO priv.bag_link (bag, sample) SELECT $1, id FROM made`, string(code), *sender)
		return err
	})
}

// Prefer settles a code that two forms claim for the later one: it holds the bag
// from now on, and the earlier one is set aside for good. What was counted goes
// along and waits to be signed, since it is another grower's answer now.
// fault.ErrNotFound: settled already, or there is no second form to prefer.
// fault.ErrConflict: the bag is on a map, for ever.
func (s *Bags) Prefer(ctx context.Context, id desk.ID, today time.Time) (err error) {
	defer wrap(&err, "Bags.Prefer")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var code, state string
		var later, earlier [16]byte
		err := tx.QueryRow(ctx, `
			SELECT b.code, b.state, q.sample, l.sample
			  FROM priv.queue_item q
			  JOIN priv.bag b ON b.code = q.code
			  JOIN priv.bag_link l ON l.bag = b.code
			 WHERE q.id = $1 AND q.settled IS NULL AND q.sample IS NOT NULL AND q.reason IN ('doubled', 'used')
			   FOR UPDATE OF b, q, l`, [16]byte(id)).Scan(&code, &state, &later, &earlier)
		if err != nil {
			return err
		}
		if state == string(bag.Released) {
			return fault.ErrConflict
		}
		if err := relink(ctx, tx, code, later); err != nil {
			return err
		}
		counted, err := copyResult(ctx, tx, earlier, later)
		if err != nil {
			return err
		}
		if counted {
			if _, err := tx.Exec(ctx, `UPDATE priv.bag SET state = 'counted' WHERE code = $1`, code); err != nil {
				return err
			}
		}
		_, err = tx.Exec(ctx, `UPDATE priv.queue_item SET settled = $2 WHERE id = $1`, [16]byte(id), today)
		return err
	})
}

// Retype settles a form with an unknown code: the right code is this one, and the
// form holds its bag from now on. fault.ErrNotFound: settled already, no unknown
// code, or no such bag. fault.ErrConflict: another form holds the bag.
func (s *Bags) Retype(ctx context.Context, id desk.ID, code bag.Code, today time.Time) (err error) {
	defer wrap(&err, "Bags.Retype")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var sampleID [16]byte
		err := tx.QueryRow(ctx, `
			SELECT sample FROM priv.queue_item
			 WHERE id = $1 AND settled IS NULL AND sample IS NOT NULL AND reason IN ('unknown', 'void')
			   FOR UPDATE`, [16]byte(id)).Scan(&sampleID)
		if err != nil {
			return err
		}
		linked, err := lockUnlinked(ctx, tx, string(code))
		if err != nil {
			return err
		}
		if linked {
			return fault.ErrConflict
		}
		var assumed *[16]byte
		err = tx.QueryRow(ctx, `
			SELECT (SELECT l.sample FROM priv.bag_link l WHERE l.bag = $1 AND NOT EXISTS (SELECT FROM priv.tranche_member m WHERE m.sample = l.sample))`,
			string(code)).Scan(&assumed)
		if err != nil {
			return err
		}
		if err := relink(ctx, tx, string(code), sampleID); err != nil {
			return err
		}
		if assumed != nil {
			if _, err := copyResult(ctx, tx, *assumed, sampleID); err != nil {
				return err
			}
		}
		_, err = tx.Exec(ctx, `
			WITH taken AS (UPDATE priv.bag SET state = CASE WHEN state IN ('issued', 'handed_out') THEN 'form_in'
			                                            WHEN state = 'signed' THEN 'counted' ELSE state END WHERE code = $2)
			UPDATE priv.queue_item SET settled = $3 WHERE id = $1`, [16]byte(id), string(code), today)
		return err
	})
}

// relink lays a bag's link to a sample and sees to its bundle's sender: where no
// other bag of the bundle has a form the bundle is the sample's sender's; else
// the two are taken for one, as with any two forms of one bundle.
func relink(ctx context.Context, tx pgx.Tx, code string, sampleID [16]byte) error {
	_, err := tx.Exec(ctx, `
		INSERT INTO priv.bag_link (bag, sample) VALUES ($1, $2)
		ON CONFLICT (bag) DO UPDATE SET sample = excluded.sample`, code, sampleID)
	if err != nil {
		return err
	}
	var alone bool
	var bundle, mine [16]byte
	var theirs *[16]byte
	err = tx.QueryRow(ctx, `
		SELECT u.id, u.sender, m.sender, NOT EXISTS (
		       SELECT FROM priv.bag o JOIN priv.bag_link k ON k.bag = o.code WHERE o.bundle = u.id AND o.code <> b.code)
		  FROM priv.bag b
		  JOIN priv.bundle u ON u.id = b.bundle
		  JOIN priv.sample m ON m.id = $2
		 WHERE b.code = $1
		   FOR UPDATE OF u`, code, sampleID).Scan(&bundle, &theirs, &mine, &alone)
	if err != nil {
		return err
	}
	if alone || theirs == nil {
		_, err = tx.Exec(ctx, `UPDATE priv.bundle SET sender = $2 WHERE id = $1`, bundle, mine)
		return err
	}
	_, err = tx.Exec(ctx, `SELECT priv.merge_senders($1, $2)`, mine, *theirs)
	return err
}

// copyResult has what stands for one sample stand for another as its first
// result, unsigned. It tells whether there was anything to copy.
func copyResult(ctx context.Context, tx pgx.Tx, from, to [16]byte) (bool, error) {
	tag, err := tx.Exec(ctx, `
		INSERT INTO priv.result (sample, kind, method, soil_cm3, suspension_ml, looked_ml, eggs, density, low, high,
		                         limits_by, portion_ml, portion_eggs, given, unit, bulk, cyst, juveniles, day, by_staff)
		SELECT $2, kind, method, soil_cm3, suspension_ml, looked_ml, eggs, density, low, high,
		       limits_by, portion_ml, portion_eggs, given, unit, bulk, cyst, juveniles, day, by_staff
		  FROM priv.head
		 WHERE sample = $1`, from, to)
	return err == nil && tag.RowsAffected() > 0, err
}
