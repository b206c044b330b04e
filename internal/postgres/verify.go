package postgres

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/audit"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
)

// Editions looks editions up and works them out again, over a Staff connection.
type Editions struct{ db DB }

// NewEditions makes the store.
func NewEditions(db DB) *Editions { return &Editions{db} }

// List lists all editions, oldest first.
func (s *Editions) List(ctx context.Context) (_ []gazette.Listed, err error) {
	defer wrap(&err, "Editions.List")
	rows, err := s.db.Query(ctx, `
		SELECT e.no, e.code, e.kind, e.season, e.cutoff, e.released, e.k, s.title,
		       EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = e.no),
		       (SELECT count(DISTINCT r.tranche) FROM open.recall r JOIN open.tranche_count c ON c.tranche = r.tranche AND c.edition = e.no
		         WHERE r.upto >= e.no)
		  FROM open.edition e
		  JOIN open.scheme s ON s.id = e.scheme
		 ORDER BY e.no`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (l gazette.Listed, err error) {
		err = row.Scan(&l.Number, &l.Code, (*string)(&l.Kind), &l.Season, &l.Cutoff, &l.Released, &l.K, &l.Scheme, &l.Withdrawn, &l.Recalled)
		return l, err
	})
}

// Find finds an edition by its printed code, as people type it.
// fault.ErrNotFound: there is none.
func (s *Editions) Find(ctx context.Context, code string) (no int, err error) {
	defer wrap(&err, "Editions.Find")
	letters := strings.Map(func(r rune) rune {
		if r == '-' || r == ' ' {
			return -1
		}
		return r
	}, strings.ToUpper(code))
	err = s.db.QueryRow(ctx, `SELECT no FROM open.edition WHERE replace(code, '-', '') = $1`, letters).Scan(&no)
	return no, err
}

// Verify works an edition's figures out again from the results that were pinned
// when it was released and the level table of that time, writes its text and takes
// the digest. The fall figures, which cover results that no edition pins, are taken
// as stored: the digest shows any change in them. fault.ErrNotFound: no such edition.
func (s *Editions) Verify(ctx context.Context, no int) (p gazette.Proof, err error) {
	defer wrap(&err, "Editions.Verify")
	err = pgx.BeginTxFunc(ctx, beginner{s.db}, pgx.TxOptions{AccessMode: pgx.ReadOnly, IsoLevel: pgx.RepeatableRead}, func(tx pgx.Tx) error {
		a, err := readArchive(ctx, tx)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(a.Editions, func(e audit.Edition) bool { return e.Meta.Number == no })
		if i < 0 {
			return pgx.ErrNoRows
		}
		e := a.Editions[i]
		p = gazette.Proof{Number: no, Code: e.Code, Stored: e.Digest}
		stored := e.Text()
		if err := recount(ctx, tx, &e, &p); err != nil {
			return err
		}
		text := e.Text()
		p.Rebuilt = edition.Digest(text)
		if !bytes.Equal(text, stored) && len(p.Wrong) == 0 {
			p.Wrong = append(p.Wrong, "the text")
		}
		if edition.Code(p.Rebuilt) != e.Code {
			p.Wrong = append(p.Wrong, "the printed code")
		}
		return nil
	})
	return p, err
}

// Text is an edition's canonical text.
func (s *Editions) Text(ctx context.Context, no int) (_ []byte, err error) {
	defer wrap(&err, "Editions.Text")
	a, err := readArchive(ctx, s.db)
	if err != nil {
		return nil, err
	}
	for _, e := range a.Editions {
		if e.Meta.Number == no {
			return e.Text(), nil
		}
	}
	return nil, pgx.ErrNoRows
}

// recount puts counts worked out from the pinned results in the place of those
// stored.
func recount(ctx context.Context, tx pgx.Tx, e *audit.Edition, p *gazette.Proof) error {
	s, err := readScheme(ctx, tx, e.Meta.Scheme)
	if err != nil {
		return err
	}
	// A restatement counts what was pinned before it.
	upTo := e.Meta.Number
	if e.Meta.Kind == edition.Restated {
		upTo--
	}
	var keys []int
	for _, t := range e.Tranches {
		keys = append(keys, keyOf(t.Ref()))
	}
	for _, r := range e.Again {
		keys = append(keys, keyOf(r.Of))
	}
	pins, err := readPins(ctx, tx, keys, upTo)
	if err != nil {
		return err
	}
	count := func(of edition.Ref, coarse bool, was []int) ([]int, int) {
		ids, rank := ranksOf(s, pins[keyOf(of)])
		now, err := edition.CountOf(e.Meta.Ranks, coarse, ids, rank)
		if err != nil || !slices.Equal(now, was) {
			p.Wrong = append(p.Wrong, fmt.Sprintf("group %d of edition %d", of.ID, of.Edition))
		}
		p.Results += len(ids)
		return now, len(ids)
	}
	for i := range e.Tranches {
		t := &e.Tranches[i]
		t.Counts, t.Samples = count(t.Ref(), t.Coarse, t.Counts)
	}
	for i := range e.Again {
		r := &e.Again[i]
		r.Counts, r.Samples = count(r.Of, r.Coarse, r.Counts)
	}
	return nil
}
