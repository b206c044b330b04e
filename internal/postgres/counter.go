package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
)

// Counter is what a county office's counter does with bags, over a Staff
// connection. Each call keeps to the counties it is given: a bag of another
// county is answered like a bag that there is none of.
type Counter struct{ db DB }

// NewCounter makes the store.
func NewCounter(db DB) *Counter { return &Counter{db} }

// HandOut notes that the bundle that a bag belongs to has been given to somebody:
// all of its bags that were still on the shelf. fault.ErrNotFound: no bag has the
// code, or it is another county's.
func (s *Counter) HandOut(ctx context.Context, code bag.Code, within account.Reach, today time.Time) (_ desk.Bundle, err error) {
	defer wrap(&err, "Counter.HandOut")
	return s.move(ctx, code, within, today, bag.Issued, bag.HandedOut, account.DidHandOut)
}

// TakeBack undoes HandOut for a bundle that came back sealed, or was scanned by
// mistake. Bags whose form or soil has come stay as they are.
func (s *Counter) TakeBack(ctx context.Context, code bag.Code, within account.Reach, today time.Time) (_ desk.Bundle, err error) {
	defer wrap(&err, "Counter.TakeBack")
	return s.move(ctx, code, within, today, bag.HandedOut, bag.Issued, account.DidTakeBack)
}

func (s *Counter) move(ctx context.Context, code bag.Code, within account.Reach, today time.Time, from, to bag.State, deed account.Deed) (out desk.Bundle, err error) {
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		found, err := findBundles(ctx, tx, []bag.Code{code}, within)
		if err != nil {
			return err
		}
		if len(found) != 1 {
			return fault.ErrNotFound
		}
		out = found[0].Bundle
		tag, err := tx.Exec(ctx, `UPDATE priv.bag SET state = $3 WHERE bundle = $1 AND state = $2`, [16]byte(out.ID), string(from), string(to))
		if err != nil {
			return err
		}
		if out.Changed = int(tag.RowsAffected()); out.Changed == 0 {
			return nil
		}
		for i := range out.Bags {
			if out.Bags[i].State == from {
				out.Bags[i].State = to
			}
		}
		return note(ctx, tx, deed, today, account.Detail{County: out.County, Season: out.Season, Number: out.Changed})
	})
	return out, err
}

// Tie says that bundles went to one person: what comes of them counts as one
// sender's. No name is kept; a random number stands for the person, as it does
// for any sender. It gives the bundles. fault.ErrNotFound: a code is nobody's,
// or another county's. fault.ErrConflict: a bag has been counted already, too
// late for the counter.
func (s *Counter) Tie(ctx context.Context, codes []bag.Code, within account.Reach, today time.Time) (out []desk.Bundle, err error) {
	defer wrap(&err, "Counter.Tie")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		found, err := findBundles(ctx, tx, codes, within)
		if err != nil {
			return err
		}
		if err := tieable(codes, found); err != nil {
			return err
		}
		var one *[16]byte
		for _, b := range found {
			if b.sender != nil {
				one = b.sender
			}
			out = append(out, b.Bundle)
		}
		if one == nil {
			one = new([16]byte)
			if err := tx.QueryRow(ctx, `INSERT INTO priv.sender (id) VALUES (gen_random_uuid()) RETURNING id`).Scan(one); err != nil {
				return err
			}
		}
		for _, b := range found {
			if b.sender == nil {
				_, err = tx.Exec(ctx, `UPDATE priv.bundle SET sender = $2 WHERE id = $1`, [16]byte(b.ID), *one)
			} else {
				_, err = tx.Exec(ctx, `SELECT priv.merge_senders($1, $2)`, *b.sender, *one)
			}
			if err != nil {
				return err
			}
		}
		return note(ctx, tx, account.DidTie, today, account.Detail{County: found[0].County, Number: len(found)})
	})
	return out, err
}

func tieable(codes []bag.Code, found []foundBundle) error {
	has := map[bag.Code]bool{}
	for _, b := range found {
		for _, g := range b.Bags {
			has[g.Code] = true
			if g.State == bag.Counted || g.State == bag.Signed || g.State == bag.Released {
				return fault.ErrConflict
			}
		}
	}
	for _, c := range codes {
		if !has[c] {
			return fault.ErrNotFound
		}
	}
	if len(found) == 0 {
		return fault.ErrNotFound
	}
	return nil
}

type foundBundle struct {
	desk.Bundle
	sender *[16]byte
}

// findBundles finds and locks the bundles of bags. It locks all their bags in
// the order of codes first, as a form that comes in does, so that the two never
// wait for each other.
func findBundles(ctx context.Context, tx pgx.Tx, codes []bag.Code, within account.Reach) ([]foundBundle, error) {
	typed := make([]string, len(codes))
	for i, c := range codes {
		typed[i] = string(c)
	}
	_, err := tx.Exec(ctx, `
		SELECT 1
		  FROM priv.bag b
		 WHERE b.bundle IN (SELECT m.bundle
		                      FROM priv.bag m
		                      JOIN priv.bundle u ON u.id = m.bundle
		                      JOIN priv.lot l ON l.id = u.lot
		                     WHERE m.code = ANY ($1) AND ($2 OR l.county = ANY ($3)))
		 ORDER BY b.code
		   FOR UPDATE`, typed, within.All, ids(within.Counties))
	if err != nil {
		return nil, err
	}
	rows, err := tx.Query(ctx, `
		SELECT u.id, l.county, l.season, u.sender,
		       array_agg(b.code ORDER BY b.position), array_agg(b.state ORDER BY b.position)
		  FROM priv.bundle u
		  JOIN priv.lot l ON l.id = u.lot
		  JOIN priv.bag b ON b.bundle = u.id
		 WHERE u.id IN (SELECT bundle FROM priv.bag WHERE code = ANY ($1))
		   AND ($2 OR l.county = ANY ($3))
		 GROUP BY u.id, l.id
		 ORDER BY u.id`, typed, within.All, ids(within.Counties))
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (foundBundle, error) {
		var b foundBundle
		var codes, states []string
		err := row.Scan((*[16]byte)(&b.ID), (*int32)(&b.County), &b.Season, &b.sender, &codes, &states)
		for i, c := range codes {
			b.Bags = append(b.Bags, desk.BundleBag{Code: bag.Code(c), State: bag.State(states[i])})
		}
		return b, err
	})
}

// Answer is what may be printed of a bag for the grower who stands at the
// counter with its stub. Each call leaves a line in the trail, without the code,
// whether there was an answer or not. fault.ErrNotFound: no bag has the code, it
// is another county's, or no form has come for it.
func (s *Counter) Answer(ctx context.Context, code bag.Code, within account.Reach, today time.Time) (a sample.Answer, err error) {
	defer wrap(&err, "Counter.Answer")
	found := false
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		var d account.Detail
		var err error
		a, d.County, err = readAnswer(ctx, tx, code, within)
		if found = err == nil; !found && err != pgx.ErrNoRows {
			return err
		}
		deed := account.DidPrintNothing
		if a.Result != nil {
			deed = account.DidPrint
		}
		return note(ctx, tx, deed, today, d)
	})
	if err == nil && !found {
		err = fault.ErrNotFound
	}
	return a, err
}
