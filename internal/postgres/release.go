package postgres

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"sixmile/internal/account"
	"sixmile/internal/audit"
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
		if out, err = w.preview(); err != nil {
			return err
		}
		w.cut.Day = later(w.cut.Day, out.NextDay)
		would, err := w.compose(ctx, tx)
		if err != nil {
			return err
		}
		out.Audit, err = w.auditBefore(ctx, tx, would)
		return err
	})
	return out, err
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
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
// fault.ErrConflict, as it is if the schema's rules refuse it because something
// changed meanwhile. edition.ErrTooSoon is wrapped where the day is too early.
// What an outsider could work out from the edition is an *audit.Error, and
// nothing is released.
func (s *Releases) Release(ctx context.Context, number int, cutoff, day time.Time, stamp string,
	by account.ID) (out gazette.Edition, err error) {
	defer wrap(&err, "Releases.Release")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		// One release at a time; the second of two waits here and then finds the first's.
		if err := aReleaseAtATime(ctx, tx); err != nil {
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

// conflict says that the schema's rules refused what was worked out a moment
// ago: a bag, a count or a tie came in between.
func conflict(err error) error {
	var pg *pgconn.PgError
	if errors.As(err, &pg) && pg.Code == pgerrcodeCheck {
		return fmt.Errorf("%w: %w", fault.ErrConflict, err)
	}
	return err
}

const pgerrcodeCheck = "23514" // check_violation

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

// release stores the edition: its parts first, then its own row, which closes it
// and has the schema check the whole. Then the public role looks at it.
func (w *workbench) release(ctx context.Context, tx pgx.Tx, by account.ID) (out gazette.Edition, err error) {
	e, err := w.compose(ctx, tx)
	if err != nil {
		return out, err
	}
	if err = w.storeTranches(ctx, tx, e.Tranches); err != nil {
		return out, conflict(err)
	}
	if err = storeFalls(ctx, tx, w.number, e.Falls); err != nil {
		return out, conflict(err)
	}
	if err = w.close(ctx, tx, e); err != nil {
		return out, conflict(err)
	}
	if err = w.markReleased(ctx, tx, by); err != nil {
		return out, err
	}
	return published(e), auditAsPublic(ctx, tx)
}

// close stores the edition's own row: the schema checks the whole.
func (w *workbench) close(ctx context.Context, tx pgx.Tx, e audit.Edition) error {
	m := e.Meta
	_, err := tx.Exec(ctx, `
		INSERT INTO open.edition (no, kind, set, scheme, parameters, k, season, cutoff, released, digest, code)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		m.Number, string(m.Kind), w.set, m.Scheme, w.parameters, m.K, m.Season, m.Cutoff, m.Released, e.Digest[:], e.Code)
	return err
}

func published(e audit.Edition) gazette.Edition {
	m := e.Meta
	return gazette.Edition{
		Number: m.Number, Code: e.Code, Kind: m.Kind, Season: m.Season, Cutoff: m.Cutoff, Released: m.Released, K: m.K,
	}
}

// markReleased notes it on the bags and in the trail.
func (w *workbench) markReleased(ctx context.Context, tx pgx.Tx, by account.ID) error {
	_, err := tx.Exec(ctx, `
		UPDATE priv.bag b
		   SET state = 'released'
		  FROM priv.bag_link l
		  JOIN priv.tranche_member m ON m.sample = l.sample
		 WHERE l.bag = b.code AND m.tranche BETWEEN $1 AND $2`,
		trancheKey(w.number, 0), trancheKey(w.number+1, 0)-1)
	if err != nil {
		return err
	}
	return noteBy(ctx, tx, account.DidRelease, w.cut.Day, account.Detail{Edition: w.number}, by)
}

// trancheSpace is how many tranches an edition may have: the database numbers
// them edition by edition, so that a number tells nothing but its edition and place.
const trancheSpace = 1_000_000

func trancheKey(editionNo, id int) int { return editionNo*trancheSpace + id }

// storeTranches stores tranches, their places, counts and members.
func (w *workbench) storeTranches(ctx context.Context, tx pgx.Tx, tranches []edition.Tranche) error {
	var heads, places, counts, joins [][]any
	for _, t := range tranches {
		key := trancheKey(w.number, t.ID)
		heads = append(heads, []any{key, w.number, t.Senders, int32(t.County), string(t.Kind), t.Samples,
			t.Window.ThisFall, t.Window.Through, t.Coarse})
		for _, p := range t.Places {
			places = append(places, []any{key, int32(p)})
		}
		for rank, n := range t.Counts {
			counts = append(counts, []any{key, w.number, rank, n})
		}
		for _, j := range t.Joins {
			joins = append(joins, []any{keyOf(j), key})
		}
	}
	members := w.members(tranches)
	for _, c := range []struct {
		table   pgx.Identifier
		columns []string
		rows    pgx.CopyFromSource
	}{
		{pgx.Identifier{"open", "tranche"}, []string{"id", "edition", "k", "county", "kind", "samples", "this_fall", "through", "coarse"}, pgx.CopyFromRows(heads)},
		{pgx.Identifier{"open", "tranche_place"}, []string{"tranche", "place"}, pgx.CopyFromRows(places)},
		{pgx.Identifier{"open", "tranche_count"}, []string{"tranche", "edition", "rank", "n"}, pgx.CopyFromRows(counts)},
		{pgx.Identifier{"open", "tranche_join"}, []string{"tranche", "whole"}, pgx.CopyFromRows(joins)},
		{pgx.Identifier{"priv", "tranche_member"}, []string{"sample", "tranche"}, rowOf(members, func(m member) []any {
			return []any{[16]byte(m.sample), m.tranche}
		})},
		{pgx.Identifier{"priv", "member_result"}, []string{"sample", "edition", "result"}, rowOf(members, func(m member) []any {
			return []any{[16]byte(m.sample), w.number, w.waiting[m.sample].result}
		})},
		{pgx.Identifier{"priv", "member_result"}, []string{"sample", "edition", "result"}, w.comeBack()},
	} {
		if c.rows == nil {
			continue
		}
		if _, err := tx.CopyFrom(ctx, c.table, c.columns, c.rows); err != nil {
			return err
		}
	}
	return nil
}

// member is a sample and the key of the tranche that it is in.
type member struct {
	sample  edition.SampleID
	tranche int
}

// members is everyone in every tranche, in the order of the samples' numbers: that
// of the indexes that they go into, which keep to a few pages at a time then.
func (w *workbench) members(tranches []edition.Tranche) []member {
	var all []member
	for i, t := range tranches { // Plan.Count keeps the drafts' order
		for _, m := range w.plan.Tranches[i].Members {
			all = append(all, member{m, trancheKey(w.number, t.ID)})
		}
	}
	slices.SortFunc(all, func(a, b member) int { return bytes.Compare(a.sample[:], b.sample[:]) })
	return all
}

// rowOf gives a row for each, one at a time: there may be a million.
func rowOf(members []member, row func(member) []any) pgx.CopyFromSource {
	i := -1
	return pgx.CopyFromFunc(func() ([]any, error) {
		if i++; i == len(members) {
			return nil, nil
		}
		return row(members[i]), nil
	})
}

// comeBack gives a row for every member of what comes out again, and nil where
// nothing does: the schema looks at all members for each statement, empty or not.
func (w *workbench) comeBack() pgx.CopyFromSource {
	var rows [][]any
	for _, d := range w.plan.Tranches {
		for _, j := range d.Joins {
			for _, m := range j.Members {
				rows = append(rows, []any{[16]byte(m), w.number, w.waiting[m].result})
			}
		}
	}
	if rows == nil {
		return nil
	}
	return pgx.CopyFromRows(rows)
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
