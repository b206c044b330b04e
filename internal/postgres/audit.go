package postgres

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/audit"
	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/gazette"
)

// Archive reads everything that is public of all editions, withdrawn ones too,
// for the audit. It works over the Public connection, and should be: what it
// cannot read there an outsider cannot either.
type Archive struct{ db DB }

// NewArchive makes the store.
func NewArchive(db DB) *Archive { return &Archive{db} }

// Read reads it all. Claims are left for others to fill in.
func (s *Archive) Read(ctx context.Context) (_ audit.Archive, err error) {
	defer wrap(&err, "Archive.Read")
	return readArchive(ctx, s.db)
}

func readArchive(ctx context.Context, db DB) (a audit.Archive, err error) {
	if a.Editions, err = readEditions(ctx, db); err != nil {
		return a, err
	}
	if a.Map, err = readMap(ctx, db); err != nil {
		return a, err
	}
	l, err := readLedger(ctx, db)
	if err != nil {
		return a, err
	}
	falls, err := readAllFalls(ctx, db)
	if err != nil {
		return a, err
	}
	at := make(map[int]int, len(a.Editions))
	for i, e := range a.Editions {
		at[e.Meta.Number] = i
	}
	for _, t := range l.entries {
		e := &a.Editions[at[t.Edition]]
		e.Tranches = append(e.Tranches, t.Tranche)
	}
	if err = readRecounts(ctx, db, l, func(no int, r edition.Recount) {
		e := &a.Editions[at[no]]
		e.Again = append(e.Again, r)
	}); err != nil {
		return a, err
	}
	if a.Recalls, err = readRecalls(ctx, db); err != nil {
		return a, err
	}
	for no, f := range falls {
		a.Editions[at[no]].Falls = f
	}
	return a, nil
}

// readRecounts gives every count by another edition than the tranche's own, those
// of withdrawn ones too: they are in the editions' texts.
func readRecounts(ctx context.Context, db DB, l *ledger, found func(no int, r edition.Recount)) error {
	rows, err := db.Query(ctx, `
		SELECT c.tranche, c.edition, array_agg(c.n ORDER BY c.rank)
		  FROM open.tranche_count c
		  JOIN open.tranche t ON t.id = c.tranche AND t.edition <> c.edition
		 GROUP BY c.tranche, c.edition
		 ORDER BY c.edition, c.tranche`)
	if err != nil {
		return err
	}
	var key, no int
	var counts []int
	_, err = pgx.ForEachRow(rows, []any{&key, &no, &counts}, func() error {
		r := edition.Recount{Of: refOf(key), Counts: slices.Clone(counts)}
		if e := l.entry(r.Of); e != nil {
			r.Coarse = e.Coarse
		}
		for _, n := range r.Counts {
			r.Samples += n
		}
		found(no, r)
		return nil
	})
	return err
}

func readRecalls(ctx context.Context, db DB) ([]attack.Recall, error) {
	rows, err := db.Query(ctx, `SELECT tranche, upto FROM open.recall ORDER BY upto, tranche`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (r attack.Recall, err error) {
		var key int
		err = row.Scan(&key, &r.UpTo)
		r.Of = attack.Ref(refOf(key))
		return r, err
	})
}

// maxEdition is more than there can be: tranche numbers end there.
const maxEdition = 1<<31/trancheSpace - 1

func readEditions(ctx context.Context, db DB) ([]audit.Edition, error) {
	rows, err := db.Query(ctx, `
		SELECT e.no, e.kind, e.season, e.cutoff, e.released, e.k, e.scheme, b.digest, e.digest, e.code,
		       s.trace, ARRAY(SELECT c.upper FROM open.scheme_class c
		                       WHERE c.scheme = e.scheme AND c.kind = 'found' AND c.upper < 'Infinity' ORDER BY c.rank),
		       ARRAY(SELECT c.kind FROM open.scheme_class c WHERE c.scheme = e.scheme ORDER BY c.rank),
		       coalesce((SELECT p.digest FROM open.edition p WHERE p.no < e.no ORDER BY p.no DESC LIMIT 1),
		                decode(repeat('00', 32), 'hex')),
		       EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = e.no)
		  FROM open.edition e
		  JOIN open.boundary_set b ON b.id = e.set
		  JOIN open.scheme s ON s.id = e.scheme
		 ORDER BY e.no`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (audit.Edition, error) {
		var e audit.Edition
		var boundaries, digest, previous []byte
		var ranks []string
		var trace float64
		var cuts []float64
		m := &e.Meta
		err := row.Scan(&m.Number, (*string)(&m.Kind), &m.Season, &m.Cutoff, &m.Released, &m.K, &m.Scheme,
			&boundaries, &digest, &e.Code, &trace, &cuts, &ranks, &previous, &e.Withdrawn)
		if err != nil {
			return e, err
		}
		m.Cuts = append([]float64{trace}, cuts...)
		for _, r := range ranks {
			m.Ranks = append(m.Ranks, edition.ClassKind(r))
		}
		if len(boundaries) != 32 || len(digest) != 32 || len(previous) != 32 {
			return e, fmt.Errorf("edition %d: a digest is not of 32 bytes", m.Number)
		}
		m.Boundaries, e.Digest, m.Previous = [32]byte(boundaries), [32]byte(digest), [32]byte(previous)
		return e, nil
	})
}

// readMap is the land as anybody can buy it: townships and districts of the
// newest boundaries.
func readMap(ctx context.Context, db DB) (attack.Map, error) {
	rows, err := db.Query(ctx, `
		SELECT p.county, d.township, d.district
		  FROM open.district d
		  JOIN open.place p ON p.id = d.township
		 WHERE d.set = (SELECT max(id) FROM open.boundary_set)`)
	if err != nil {
		return nil, err
	}
	out := attack.Map{}
	var county, township, district int
	_, err = pgx.ForEachRow(rows, []any{&county, &township, &district}, func() error {
		if out[county] == nil {
			out[county] = make(map[int]int)
		}
		out[county][township] = district
		return nil
	})
	return out, err
}

func readAllFalls(ctx context.Context, db DB) (map[int][]edition.FallFigure, error) {
	rows, err := db.Query(ctx, `
		SELECT edition, county, season, samples, finds, coalesce(highest, $1)
		  FROM open.fall_figure
		 ORDER BY edition, county, season`, edition.NotTold)
	if err != nil {
		return nil, err
	}
	out := make(map[int][]edition.FallFigure)
	var no int
	var f edition.FallFigure
	_, err = pgx.ForEachRow(rows, []any{&no, (*int32)(&f.County), &f.Season, &f.Samples, &f.Finds, &f.Highest}, func() error {
		out[no] = append(out[no], f)
		return nil
	})
	return out, err
}

// auditAsPublic looks at what the transaction has stored with the public role's
// eyes. A finding is an *audit.Error; the caller then rolls back.
func auditAsPublic(ctx context.Context, tx pgx.Tx) error {
	// Roles are named after their database, copies of it excepted: the staff
	// role knows the names of both.
	var staff string
	if err := tx.QueryRow(ctx, `SELECT session_user`).Scan(&staff); err != nil {
		return err
	}
	name, isStaff := strings.CutSuffix(staff, "_staff")
	if !isStaff {
		return fmt.Errorf("editions are released over the staff role's connection, not %q", staff)
	}
	public := pgx.Identifier{rolesOf(name).public}.Sanitize()
	// The preview has asked the same questions of this connection, before anything
	// was stored: their plans were made for tables with fewer rows, or with none, and
	// would go through all of them for each group.
	if _, err := tx.Exec(ctx, `DISCARD PLANS`); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `SET LOCAL ROLE `+public); err != nil {
		return err
	}
	a, err := readArchive(ctx, tx)
	if err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `RESET ROLE`); err != nil {
		return err
	}
	return audit.Refuse(audit.Run(a, nil))
}

// auditBefore runs the same attacks on an edition that is not stored, for the
// preview.
func (w *workbench) auditBefore(ctx context.Context, tx pgx.Tx, would audit.Edition) ([]string, error) {
	a, err := readArchive(ctx, tx)
	if err != nil {
		return nil, err
	}
	would.Seal()
	a.Editions = append(a.Editions, would)
	return audit.Findings(audit.Run(a, nil)), nil
}

// compose counts the gathered drafts into the edition as the public would see
// it.
func (w *workbench) compose(ctx context.Context, tx pgx.Tx) (audit.Edition, error) {
	ranks := gazette.Ranks(w.scheme)
	tranches, err := w.plan.Count(w.rules, w.number, ranks, func(id edition.SampleID) int { return w.waiting[id].rank })
	if err != nil {
		return audit.Edition{}, err
	}
	falls, err := w.fallFigures(ctx, tx, ranks, tranches)
	if err != nil {
		return audit.Edition{}, err
	}
	e := audit.Edition{Tranches: tranches, Falls: falls, Meta: edition.Meta{
		Number: w.number, Kind: edition.Release, Season: w.cut.Season, Cutoff: w.cutoff, Released: w.cut.Day,
		K: w.rules.K, Scheme: w.schemeID, Ranks: ranks, Cuts: w.ledger.schemes[w.schemeID].cuts, Boundaries: w.boundaries, Previous: w.previous,
	}}
	e.Seal()
	return e, nil
}
