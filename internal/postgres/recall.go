package postgres

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// Recalls takes figures back and brings them out again, over a Staff connection.
// The public pages ask for the number of recalls with every page, so a recall
// shows with the next one.
type Recalls struct{ db DB }

// NewRecalls makes the store.
func NewRecalls(db DB) *Recalls { return &Recalls{db} }

// Recall takes a tranche back, whole. fault.ErrNotFound: there is none.
// fault.ErrConflict: it is recalled already, or came out again in another.
func (s *Recalls) Recall(ctx context.Context, of edition.Ref, why desk.RecallReason, day time.Time, by account.ID) (err error) {
	defer wrap(&err, "Recalls.Recall")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var county int
		err := tx.QueryRow(ctx, `SELECT county FROM open.tranche WHERE id = $1`, keyOf(of)).Scan(&county)
		if err != nil {
			return err
		}
		if err := aReleaseAtATime(ctx, tx); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			INSERT INTO open.recall (tranche, upto, reason, day)
			SELECT $1, max(no), $2, $3 FROM open.edition`, keyOf(of), string(why), day)
		if err != nil {
			return conflict(err)
		}
		return noteBy(ctx, tx, account.DidRecall, day, account.Detail{County: place.ID(county), Edition: of.Edition}, by)
	})
}

// Withdraw takes an edition back. What it counted is recalled with it; of a
// restatement the older tables stand again. fault.ErrNotFound: there is none.
// fault.ErrConflict: it is withdrawn already.
func (s *Recalls) Withdraw(ctx context.Context, no int, why desk.RecallReason, day time.Time) (err error) {
	defer wrap(&err, "Recalls.Withdraw")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		if err := aReleaseAtATime(ctx, tx); err != nil {
			return err
		}
		if there, err := existing(ctx, tx, no); err != nil || there == nil {
			return errors.Join(err, fault.ErrNotFound)
		}
		tag, err := tx.Exec(ctx, `
			INSERT INTO open.withdrawal (edition, reason, day) VALUES ($1, $2, $3)
			ON CONFLICT DO NOTHING`, no, string(why), day)
		if err == nil && tag.RowsAffected() == 0 {
			err = fault.ErrConflict
		}
		return err
	})
}

func aReleaseAtATime(ctx context.Context, tx pgx.Tx) error {
	if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile release'))`); err != nil {
		return err
	}
	return forMany(ctx, tx)
}

// Groups lists a county's tranches, newest edition first: those that stand, and
// those recalled. County 0: the recalled ones of all counties.
func (s *Recalls) Groups(ctx context.Context, county place.ID, day time.Time) (out []desk.Group, err error) {
	defer wrap(&err, "Recalls.Groups")
	err = pgx.BeginTxFunc(ctx, beginner{s.db}, pgx.TxOptions{AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		w, err := readAgain(ctx, tx, day)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil // nothing was released yet
		}
		if err != nil {
			return err
		}
		ready, _, why, err := w.amendments(ctx, tx)
		if err != nil {
			return err
		}
		for i := len(w.ledger.entries) - 1; i >= 0; i-- {
			e := w.ledger.entries[i]
			if e.Into != (edition.Ref{}) || county != 0 && e.County != county || county == 0 && !e.Recalled() {
				continue
			}
			_, isReady := ready[e.Ref()]
			t, last := e.Last()
			out = append(out, desk.Group{Tranche: t, Scheme: last.Scheme, Recalled: e.Recalled(), Ready: isReady, Why: why[e.Ref()]})
		}
		return s.explain(ctx, tx, out)
	})
	return out, err
}

// explain fills in days and reasons.
func (s *Recalls) explain(ctx context.Context, tx pgx.Tx, groups []desk.Group) error {
	keys, editions := make([]int32, len(groups)), make([]int32, len(groups))
	for i, g := range groups {
		keys[i], editions[i] = int32(keyOf(g.Ref())), int32(g.Edition)
	}
	rows, err := tx.Query(ctx, `
		SELECT e.released, coalesce(r.reason, ''), coalesce(r.day, e.released)
		  FROM unnest($1::int[], $2::int[]) WITH ORDINALITY AS k (tranche, edition, nth)
		  JOIN open.edition e ON e.no = k.edition
		  LEFT JOIN (SELECT DISTINCT ON (tranche) tranche, reason, day FROM open.recall ORDER BY tranche, upto DESC) r ON r.tranche = k.tranche
		 ORDER BY k.nth`, keys, editions)
	if err != nil {
		return err
	}
	i := 0
	var released, day time.Time
	var reason desk.RecallReason
	_, err = pgx.ForEachRow(rows, []any{&released, (*string)(&reason), &day}, func() error {
		g := &groups[i]
		i++
		g.Released, g.Day = released, released
		if g.Recalled {
			g.Reason, g.Day = reason, day
		}
		return nil
	})
	return err
}

// Errata works out the erratum that could be released, without storing anything.
// Without groups there is none.
func (s *Recalls) Errata(ctx context.Context, day time.Time) (out desk.Again, err error) {
	defer wrap(&err, "Recalls.Errata")
	err = pgx.BeginTxFunc(ctx, beginner{s.db}, pgx.TxOptions{AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		w, err := readAgain(ctx, tx, day)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		a, err := w.erratum(ctx, tx)
		if err != nil {
			return err
		}
		out, err = w.previewAgain(ctx, tx, a)
		return err
	})
	return out, err
}

// Amend releases the erratum that was shown: the edition that exists when the
// number is released already, fault.ErrConflict when it would differ from what the
// stamp was given for, an *audit.Error when an outsider could learn too much.
func (s *Recalls) Amend(ctx context.Context, number int, day time.Time, stamp string, by account.ID) (out gazette.Edition, err error) {
	defer wrap(&err, "Recalls.Amend")
	return releaseAgain(ctx, s.db, number, day, stamp, account.DidErratum, by, func(ctx context.Context, tx pgx.Tx, w *workbench) (again, error) {
		return w.erratum(ctx, tx)
	})
}

// amendments counts again every recalled tranche that an erratum may bring out,
// and says of the others why not.
func (w *workbench) amendments(ctx context.Context, tx pgx.Tx) (
	ready map[edition.Ref]edition.Recount, pins map[edition.Ref][]edition.SampleID, why map[edition.Ref]edition.Reason, err error) {
	ready, pins, why = map[edition.Ref]edition.Recount{}, map[edition.Ref][]edition.SampleID{}, map[edition.Ref]edition.Reason{}
	var keys []int
	for _, b := range w.backs {
		keys = append(keys, keyOf(b.Ref))
	}
	old, err := readPins(ctx, tx, keys, maxEdition)
	if err != nil {
		return nil, nil, nil, err
	}
	ranks := w.ledger.ranks(w.schemeID)
	for _, b := range w.backs {
		e := w.ledger.entry(b.Ref)
		t, last := e.Last()
		if last.Scheme != w.schemeID {
			why[b.Ref] = edition.BackAlone // the levels have changed: with new results only
			continue
		}
		_, was := ranksOf(w.scheme, old[keyOf(b.Ref)])
		r, err := edition.Amend(w.rules, ranks, t, b, e.Before(w.schemeID), was, func(id edition.SampleID) int { return w.waiting[id].rank })
		switch {
		case errors.Is(err, edition.ErrErratum):
			if why[b.Ref] = b.Lacks(); why[b.Ref] == "" {
				why[b.Ref] = edition.BackTooFew
			}
			continue
		case err != nil:
			return nil, nil, nil, err
		}
		ready[b.Ref] = r
		for _, m := range b.Members {
			if !m.Gone {
				pins[b.Ref] = append(pins[b.Ref], m.Sample)
			}
		}
	}
	return ready, pins, why, nil
}

// erratum is the erratum edition, with nothing in it where there is none.
func (w *workbench) erratum(ctx context.Context, tx pgx.Tx) (again, error) {
	ready, pins, _, err := w.amendments(ctx, tx)
	if err != nil {
		return again{}, err
	}
	a := again{kind: edition.Erratum, scheme: w.schemeID, pins: pins}
	for _, b := range w.backs {
		if r, ok := ready[b.Ref]; ok {
			a.recounts = append(a.recounts, r)
		}
	}
	return a, nil
}
