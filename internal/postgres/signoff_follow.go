package postgres

import (
	"context"
	"crypto/rand"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
)

// FollowUp issues a free bag for every result of a batch that is signed,
// unconfirmed and has none yet: a bundle of one, of the first bag's sender, tied
// to its sample. They are a lot for each county, of the fall that is going on.
// Pressed twice it issues nothing more. fault.ErrNotFound: no such batch.
func (s *SignOff) FollowUp(ctx context.Context, batch desk.ID, season int, today time.Time) (lots []desk.ID, n int, err error) {
	defer wrap(&err, "SignOff.FollowUp")
	signed, err := s.Slips(ctx, batch)
	if err != nil {
		return nil, 0, err
	}
	scheme, err := NewLevels(s.db).Scheme(ctx)
	if err != nil {
		return nil, 0, err
	}
	byCounty := map[int32][]desk.ID{}
	var order []int32
	for _, r := range signed {
		if r.Follow != "" || scheme.Class(r.Reading).Kind != assay.Unconfirmed {
			continue
		}
		if c := int32(r.County); byCounty[c] == nil {
			order = append(order, c)
		}
		byCounty[int32(r.County)] = append(byCounty[int32(r.County)], r.Sample)
	}
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		// One at a time: a second press waits here and then finds the first's.
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile follow-up'))`); err != nil {
			return err
		}
		for _, county := range order {
			lot, done, err := followLot(ctx, tx, county, season, byCounty[county], today)
			if err != nil {
				return err
			}
			if done > 0 {
				lots, n = append(lots, lot), n+done
			}
		}
		if n == 0 {
			return nil
		}
		return note(ctx, tx, account.DidFollow, today, account.Detail{Season: season, Number: n})
	})
	return lots, n, err
}

// followLot issues one county's follow-up bags for samples that have none.
func followLot(ctx context.Context, tx pgx.Tx, county int32, season int, samples []desk.ID, today time.Time) (lot desk.ID, n int, err error) {
	ids := make([][16]byte, len(samples))
	for i, id := range samples {
		ids[i] = id
	}
	rows, err := tx.Query(ctx, `
		SELECT id FROM unnest($1::uuid[]) AS t (id)
		 WHERE NOT EXISTS (SELECT FROM priv.bundle u WHERE u.follows = t.id)`, ids)
	if err != nil {
		return lot, 0, err
	}
	left, err := pgx.CollectRows(rows, pgx.RowTo[[16]byte])
	if err != nil || len(left) == 0 {
		return lot, 0, err
	}
	codes := make([]string, len(left))
	for i := range codes {
		c, err := bag.Draw(rand.Reader)
		if err != nil {
			return lot, 0, err
		}
		codes[i] = string(c)
	}
	err = tx.QueryRow(ctx, `
		INSERT INTO priv.lot (season, county, issued, bags) VALUES ($1, $2, $3, $4) RETURNING id`,
		season, county, today, len(left)).Scan((*[16]byte)(&lot))
	if err != nil {
		return lot, 0, err
	}
	// The same sender: two bags of one farm must never count as two farms.
	_, err = tx.Exec(ctx, `
		WITH first AS (
		    SELECT gen_random_uuid() AS bundle, t.sample, t.code, s.sender
		      FROM unnest($2::uuid[], $3::text[]) AS t (sample, code)
		      JOIN priv.sample s ON s.id = t.sample
		), made AS (
		    INSERT INTO priv.bundle (id, lot, sender, follows) SELECT bundle, $1, sender, sample FROM first RETURNING id
		)
		INSERT INTO priv.bag (code, bundle, position) SELECT code, bundle, 1 FROM first WHERE EXISTS (SELECT FROM made)`,
		[16]byte(lot), left, codes)
	return lot, len(left), err
}
