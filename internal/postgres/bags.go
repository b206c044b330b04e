package postgres

import (
	"context"
	"crypto/rand"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/internal/tray"
)

// Bags issues bags, notes their soil coming in, and keeps the office's queue of
// codes that need a person, over a Staff connection.
type Bags struct{ db DB }

// NewBags makes the store.
func NewBags(db DB) *Bags { return &Bags{db} }

// Issue makes a lot: random codes, cut into bundles of the given sizes.
func (s *Bags) Issue(ctx context.Context, county place.ID, season int, sizes []int, today time.Time) (_ desk.ID, err error) {
	defer wrap(&err, "Bags.Issue")
	return s.issue(ctx, nil, county, season, sizes, today)
}

// IssueOnce is Issue for a form: the same form sent again, at once or later,
// issues nothing and gives the lot that it issued.
func (s *Bags) IssueOnce(ctx context.Context, form sample.Token, county place.ID, season int, sizes []int, today time.Time) (_ desk.ID, err error) {
	defer wrap(&err, "Bags.IssueOnce")
	hash := form.Hash()
	return s.issue(ctx, hash[:], county, season, sizes, today)
}

func (s *Bags) issue(ctx context.Context, form []byte, county place.ID, season int, sizes []int, today time.Time) (desk.ID, error) {
	var lot [16]byte
	err := inTx(ctx, s.db, func(tx pgx.Tx) error {
		// Waits for the same form where it is being stored just now.
		err := tx.QueryRow(ctx, `
			INSERT INTO priv.lot (season, county, issued, form, bags)
			VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (form) DO NOTHING
			RETURNING id`, season, int32(county), today, form, total(sizes)).Scan(&lot)
		if err == pgx.ErrNoRows {
			return tx.QueryRow(ctx, `SELECT id FROM priv.lot WHERE form = $1`, form).Scan(&lot)
		}
		if err != nil {
			return err
		}
		return fillLot(ctx, tx, lot, sizes)
	})
	return desk.ID(lot), err
}

func total(sizes []int) (n int) {
	for _, size := range sizes {
		n += size
	}
	return n
}

// fillLot draws codes until every bag of the lot has one that no other bag has.
func fillLot(ctx context.Context, tx pgx.Tx, lot [16]byte, sizes []int) error {
	sizes32 := make([]int32, len(sizes))
	for i, n := range sizes {
		sizes32[i] = int32(n)
	}
	all := total(sizes)
	codes := make([]string, 0, all)
	seen := make(map[bag.Code]bool, all)
	for len(codes) < all {
		c, err := bag.Draw(rand.Reader)
		if err != nil {
			return err
		}
		if !seen[c] {
			seen[c] = true
			codes = append(codes, string(c))
		}
	}
	// A code that an earlier lot has (about one in a million lots) fails the
	// primary key; the caller's lot is then undone whole and may be asked for again.
	_, err := tx.Exec(ctx, `
		WITH size AS (
		    SELECT gen_random_uuid() AS bundle, n, sum(n) OVER (ORDER BY i) - n AS before
		      FROM unnest($2::int[]) WITH ORDINALITY AS t (n, i)
		), made AS (
		    INSERT INTO priv.bundle (id, lot) SELECT bundle, $1 FROM size RETURNING id
		)
		INSERT INTO priv.bag (code, bundle, position)
		SELECT ($3::text[])[before + p], bundle, p
		  FROM size, generate_series(1, n) p
		 WHERE EXISTS (SELECT FROM made)`, lot, sizes32, codes)
	return err
}

// StubWords are the words that a lot's stubs are printed with. Bags that have left
// the office are left out: once a stub is in somebody's hand, nobody else is to
// learn what is on it.
func (s *Bags) StubWords(ctx context.Context, lot desk.ID) (_ map[bag.Code]bag.Words, err error) {
	defer wrap(&err, "Bags.StubWords")
	rows, err := s.db.Query(ctx, `
		SELECT b.code, priv.stub_bits(b.code)
		  FROM priv.bundle u
		  JOIN priv.bag b ON b.bundle = u.id
		 WHERE u.lot = $1 AND b.state = 'issued'`, [16]byte(lot))
	if err != nil {
		return nil, err
	}
	out := make(map[bag.Code]bag.Words)
	var code string
	var bits int64
	_, err = pgx.ForEachRow(rows, []any{&code, &bits}, func() error {
		out[bag.Code(code)] = bag.Words(bits)
		return nil
	})
	return out, err
}

// Lots lists the lots of a season, newest first. Bags of a season that is unlinked
// have forgotten form and day: what was counted had come with both.
func (s *Bags) Lots(ctx context.Context, season int) (_ []desk.Lot, err error) {
	defer wrap(&err, "Bags.Lots")
	rows, err := s.db.Query(ctx, `
		SELECT l.id, l.county, l.season, l.issued,
		       count(*), count(DISTINCT b.bundle),
		       count(*) FILTER (WHERE k.bag IS NOT NULL OR b.state IN ('counted', 'signed', 'released')),
		       count(*) FILTER (WHERE b.received IS NOT NULL OR b.state IN ('counted', 'signed', 'released')),
		       count(*) FILTER (WHERE b.state IN ('counted', 'signed', 'released')),
		       count(*) FILTER (WHERE b.state = 'void')
		  FROM priv.lot l
		  JOIN priv.bundle u ON u.lot = l.id
		  JOIN priv.bag b ON b.bundle = u.id
		  LEFT JOIN priv.bag_link k ON k.bag = b.code
		 WHERE l.season = $1
		 GROUP BY l.id
		 ORDER BY l.issued DESC, l.county, l.id`, season)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Lot, error) {
		var l desk.Lot
		err := row.Scan((*[16]byte)(&l.ID), (*int32)(&l.County), &l.Season, &l.Issued,
			&l.Bags, &l.Bundles, &l.FormsIn, &l.SoilIn, &l.Counted, &l.Voided)
		return l, err
	})
}

// Bundles gives a lot's codes, bundle by bundle, for printing.
func (s *Bags) Bundles(ctx context.Context, lot desk.ID) (_ [][]bag.Code, county place.ID, err error) {
	defer wrap(&err, "Bags.Bundles")
	if err = s.db.QueryRow(ctx, `SELECT county FROM priv.lot WHERE id = $1`, [16]byte(lot)).Scan((*int32)(&county)); err != nil {
		return nil, 0, err
	}
	rows, err := s.db.Query(ctx, `
		SELECT array_agg(b.code ORDER BY b.position)
		  FROM priv.bundle u
		  JOIN priv.bag b ON b.bundle = u.id
		 WHERE u.lot = $1
		 GROUP BY u.id
		 ORDER BY count(*) DESC, u.id`, [16]byte(lot))
	if err != nil {
		return nil, 0, err
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) ([]bag.Code, error) {
		var codes []string
		err := row.Scan(&codes)
		bundle := make([]bag.Code, len(codes))
		for i, c := range codes {
			bundle[i] = bag.Code(c)
		}
		return bundle, err
	})
	return out, county, err
}

// LogIn notes that a bag's soil has reached the lab in good condition.
// fault.ErrNotFound: no such bag. fault.ErrConflict: it had come before.
func (s *Bags) LogIn(ctx context.Context, code bag.Code, today time.Time) error {
	_, err := NewTrays(s.db).Arrive(ctx, code, tray.Good, today)
	return err
}

// Queue lists what is not settled, oldest first.
func (s *Bags) Queue(ctx context.Context) (_ []desk.QueueItem, err error) {
	defer wrap(&err, "Bags.Queue")
	rows, err := s.db.Query(ctx, `
		SELECT q.id, q.code, q.reason, q.day, s.county
		  FROM priv.queue_item q
		  JOIN priv.sample s ON s.id = q.sample
		 WHERE q.settled IS NULL
		 ORDER BY q.day, q.code, q.id`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.QueueItem, error) {
		var q desk.QueueItem
		err := row.Scan((*[16]byte)(&q.ID), (*string)(&q.Code), &q.Reason, &q.Day, (*int32)(&q.County))
		return q, err
	})
}

// Settle closes a queue item: the form that made it is set aside for good, and
// the bag's first form, if there is one, stands.
func (s *Bags) Settle(ctx context.Context, id desk.ID, today time.Time) (err error) {
	defer wrap(&err, "Bags.Settle")
	tag, err := s.db.Exec(ctx, `
		UPDATE priv.queue_item SET settled = $2 WHERE id = $1 AND settled IS NULL`, [16]byte(id), today)
	if err == nil && tag.RowsAffected() == 0 {
		return fault.ErrNotFound
	}
	return err
}
