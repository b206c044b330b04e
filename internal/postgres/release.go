package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
)

// Releases previews and releases editions, over a Staff connection. What goes
// into an edition is decided by package edition alone; here it is read, stored
// and, by the schema's own rules, checked again.
type Releases struct{ db DB }

// NewReleases makes the store.
func NewReleases(db DB) *Releases { return &Releases{db} }

// Preview works out what an edition with this cut-off would show, without
// storing anything. Day is the day it would be released.
func (s *Releases) Preview(ctx context.Context, cutoff, day time.Time) (out desk.Preview, err error) {
	defer wrap(&err, "Releases.Preview")
	err = pgx.BeginTxFunc(ctx, beginner{s.db}, pgx.TxOptions{AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		w, err := readWorkbench(ctx, tx, cutoff, day)
		if err != nil {
			return err
		}
		out, err = w.preview()
		return err
	})
	return out, err
}

// beginner lets a DB begin transactions with options; inside a transaction the
// options are those of the outer one.
type beginner struct{ DB }

func (b beginner) BeginTx(ctx context.Context, o pgx.TxOptions) (pgx.Tx, error) {
	if pool, ok := b.DB.(interface {
		BeginTx(context.Context, pgx.TxOptions) (pgx.Tx, error)
	}); ok {
		return pool.BeginTx(ctx, o)
	}
	return b.Begin(ctx)
}

// Release releases the edition that a preview showed. Number and stamp are the
// preview's. Pressed twice it gives the edition that exists; if what would be
// released has changed since the preview, nothing is, and the error is
// fault.ErrConflict. edition.ErrTooSoon is wrapped where the day is too early.
func (s *Releases) Release(ctx context.Context, number int, cutoff, day time.Time, stamp string,
	by account.ID) (out gazette.Edition, err error) {
	defer wrap(&err, "Releases.Release")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		// One release at a time; the second of two waits here and then finds the first's.
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile release'))`); err != nil {
			return err
		}
		there, err := existing(ctx, tx, number)
		if err != nil || there != nil {
			if there != nil {
				out = *there
			}
			return err
		}
		w, err := readWorkbench(ctx, tx, cutoff, day)
		if err != nil {
			return err
		}
		p, err := w.preview()
		if err != nil {
			return err
		}
		if day.Before(p.NextDay) {
			return edition.ErrTooSoon
		}
		if p.Number != number || p.Stamp != stamp {
			return fault.ErrConflict
		}
		out, err = w.release(ctx, tx, by)
		return err
	})
	return out, err
}

func existing(ctx context.Context, tx pgx.Tx, number int) (*gazette.Edition, error) {
	var e gazette.Edition
	err := tx.QueryRow(ctx, `
		SELECT no, code, kind, season, cutoff, released, k
		  FROM open.edition
		 WHERE no = $1`, number).
		Scan(&e.Number, &e.Code, (*string)(&e.Kind), &e.Season, &e.Cutoff, &e.Released, &e.K)
	if err == pgx.ErrNoRows {
		return nil, nil
	}
	return &e, err
}

// release counts the gathered drafts and stores the edition.
func (w *workbench) release(ctx context.Context, tx pgx.Tx, by account.ID) (out gazette.Edition, err error) {
	ranks := gazette.Ranks(w.scheme)
	tranches, err := w.plan.Count(w.rules, w.number, ranks, func(id edition.SampleID) int { return w.waiting[id].rank })
	if err != nil {
		return out, err
	}
	falls, err := w.fallFigures(ctx, tx, ranks, tranches)
	if err != nil {
		return out, err
	}
	meta := edition.Meta{
		Number: w.number, Kind: edition.Release, Season: w.cut.Season, Cutoff: w.cutoff, Released: w.cut.Day,
		K: w.rules.K, Scheme: w.schemeID, Ranks: ranks, Boundaries: w.boundaries, Previous: w.previous,
	}
	digest := edition.Digest(edition.Canonical(meta, tranches, falls))
	out = gazette.Edition{
		Number: w.number, Code: edition.Code(digest), Kind: meta.Kind, Season: meta.Season,
		Cutoff: meta.Cutoff, Released: meta.Released, K: meta.K,
	}
	_, err = tx.Exec(ctx, `
		INSERT INTO open.edition (no, kind, set, scheme, parameters, k, season, cutoff, released, digest, code)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		meta.Number, string(meta.Kind), w.set, w.schemeID, w.parameters, meta.K, meta.Season,
		meta.Cutoff, meta.Released, digest[:], out.Code)
	if err != nil {
		return out, err
	}
	if err = w.storeTranches(ctx, tx, tranches); err != nil {
		return out, err
	}
	if err = storeFalls(ctx, tx, w.number, falls); err != nil {
		return out, err
	}
	_, err = tx.Exec(ctx, `
		INSERT INTO priv.trail (day, staff, action, detail)
		VALUES ($1, $2, 'release', jsonb_build_object('edition', $3::int))`, w.cut.Day, orNull(by), w.number)
	return out, err
}

// trancheSpace is how many tranches an edition may have: the database numbers
// them edition by edition, so that a number tells nothing but its edition and place.
const trancheSpace = 1_000_000

func trancheKey(editionNo, id int) int { return editionNo*trancheSpace + id }

// storeTranches stores tranches, their places, counts and members. The schema
// checks at the end of the transaction that each holds what it says.
func (w *workbench) storeTranches(ctx context.Context, tx pgx.Tx, tranches []edition.Tranche) error {
	var heads, places, counts, members, pins [][]any
	for i, t := range tranches {
		key := trancheKey(w.number, t.ID)
		heads = append(heads, []any{key, w.number, t.Senders, int32(t.County), string(t.Kind), t.Samples,
			t.Window.ThisFall, t.Window.Through, t.Coarse})
		for _, p := range t.Places {
			places = append(places, []any{key, int32(p)})
		}
		for rank, n := range t.Counts {
			counts = append(counts, []any{key, w.number, rank, n})
		}
		// Plan.Count keeps the drafts' order.
		for _, m := range w.plan.Tranches[i].Members {
			members = append(members, []any{[16]byte(m), key})
			pins = append(pins, []any{[16]byte(m), w.number, w.waiting[m].result})
		}
	}
	for _, c := range []struct {
		table   pgx.Identifier
		columns []string
		rows    [][]any
	}{
		{pgx.Identifier{"open", "tranche"}, []string{"id", "edition", "k", "county", "kind", "samples", "this_fall", "through", "coarse"}, heads},
		{pgx.Identifier{"open", "tranche_place"}, []string{"tranche", "place"}, places},
		{pgx.Identifier{"open", "tranche_count"}, []string{"tranche", "edition", "rank", "n"}, counts},
		{pgx.Identifier{"priv", "tranche_member"}, []string{"sample", "tranche"}, members},
		{pgx.Identifier{"priv", "member_result"}, []string{"sample", "edition", "result"}, pins},
	} {
		if _, err := tx.CopyFrom(ctx, c.table, c.columns, pgx.CopyFromRows(c.rows)); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, `
		UPDATE priv.bag b
		   SET state = 'released'
		  FROM priv.bag_link l
		  JOIN priv.tranche_member m ON m.sample = l.sample
		 WHERE l.bag = b.code AND m.tranche / $2 = $1`, w.number, trancheSpace)
	return err
}

func storeFalls(ctx context.Context, tx pgx.Tx, number int, falls []edition.FallFigure) error {
	for _, f := range falls {
		var highest *int
		if f.Highest != edition.NotTold {
			highest = &f.Highest
		}
		_, err := tx.Exec(ctx, `
			INSERT INTO open.fall_figure (edition, county, season, samples, finds, highest)
			VALUES ($1, $2, $3, $4, $5, $6)`, number, int32(f.County), f.Season, f.Samples, f.Finds, highest)
		if err != nil {
			return err
		}
	}
	return nil
}
