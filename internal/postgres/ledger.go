package postgres

import (
	"context"
	"slices"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// ledger is every tranche with all that was published of it, and the level
// tables it was counted by. All of it is public.
type ledger struct {
	entries []edition.Entry
	schemes map[int]scheme
	stands  []int // numbers of the editions that are not withdrawn
	taken   []int // and of those that are
}

// scheme is a level table as the counting sees it.
type scheme struct {
	ranks edition.Ranks
	cuts  []float64 // the trace limit first
}

func (l *ledger) ranks(id int) edition.Ranks { return l.schemes[id].ranks }

// refOf is the tranche with a number of the database.
func refOf(key int) edition.Ref {
	return edition.Ref{Edition: key / trancheSpace, ID: key % trancheSpace}
}

func keyOf(r edition.Ref) int { return trancheKey(r.Edition, r.ID) }

// readLedger reads it all. Whoever shows only a part of the time asks
// edition.Shown.
func readLedger(ctx context.Context, db DB) (*ledger, error) {
	l := &ledger{}
	at := make(map[int]int) // by the database's number
	for _, read := range []func() error{
		func() (err error) { l.schemes, err = readSchemes(ctx, db); return err },
		func() (err error) { return l.readEntries(ctx, db, at) },
		func() (err error) { return l.readAgain(ctx, db, at) },
		func() (err error) { return l.readFate(ctx, db, at) },
		func() (err error) { return l.readEditions(ctx, db) },
	} {
		if err := read(); err != nil {
			return nil, err
		}
	}
	return l, nil
}

func readSchemes(ctx context.Context, db DB) (map[int]scheme, error) {
	rows, err := db.Query(ctx, `
		SELECT s.id, s.trace,
		       ARRAY(SELECT c.kind FROM open.scheme_class c WHERE c.scheme = s.id ORDER BY c.rank),
		       ARRAY(SELECT c.upper FROM open.scheme_class c
		              WHERE c.scheme = s.id AND c.kind = 'found' AND c.upper < 'Infinity' ORDER BY c.rank)
		  FROM open.scheme s`)
	if err != nil {
		return nil, err
	}
	out := make(map[int]scheme)
	var id int
	var trace float64
	var kinds []string
	var cuts []float64
	_, err = pgx.ForEachRow(rows, []any{&id, &trace, &kinds, &cuts}, func() error {
		s := scheme{cuts: append([]float64{trace}, cuts...)}
		for _, k := range kinds {
			s.ranks = append(s.ranks, edition.ClassKind(k))
		}
		out[id] = s
		return nil
	})
	return out, err
}

func (l *ledger) readEntries(ctx context.Context, db DB, at map[int]int) error {
	rows, err := db.Query(ctx, `
		SELECT t.id, e.scheme, t.county, t.kind, t.k, t.samples, t.this_fall, t.through, t.coarse,
		       ARRAY(SELECT p.place FROM open.tranche_place p WHERE p.tranche = t.id ORDER BY p.place),
		       ARRAY(SELECT c.n FROM open.tranche_count c
		              WHERE c.tranche = t.id AND c.edition = t.edition ORDER BY c.rank)
		  FROM open.tranche t
		  JOIN open.edition e ON e.no = t.edition
		 ORDER BY t.id`)
	if err != nil {
		return err
	}
	l.entries, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (edition.Entry, error) {
		var e edition.Entry
		var key int
		var in []int32
		err := row.Scan(&key, &e.Scheme, (*int32)(&e.County), (*string)(&e.Kind), &e.Senders, &e.Samples,
			&e.Window.ThisFall, &e.Window.Through, &e.Coarse, &in, &e.Counts)
		r := refOf(key)
		e.Edition, e.ID = r.Edition, r.ID
		for _, p := range in {
			e.Places = append(e.Places, place.ID(p))
		}
		at[key] = len(at)
		return e, err
	})
	return err
}

// readAgain reads what later editions counted.
func (l *ledger) readAgain(ctx context.Context, db DB, at map[int]int) error {
	rows, err := db.Query(ctx, `
		SELECT c.tranche, c.edition, e.scheme, array_agg(c.n ORDER BY c.rank),
		       e.kind = 'restated' AND EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = e.no)
		  FROM open.tranche_count c
		  JOIN open.tranche t ON t.id = c.tranche AND t.edition <> c.edition
		  JOIN open.edition e ON e.no = c.edition
		 GROUP BY c.tranche, c.edition, e.no
		 ORDER BY c.tranche, c.edition`)
	if err != nil {
		return err
	}
	var key int
	var c edition.CountedBy
	var spent bool
	_, err = pgx.ForEachRow(rows, []any{&key, &c.Edition, &c.Scheme, &c.Counts, &spent}, func() error {
		e := &l.entries[at[key]]
		if spent {
			e.Spent = append(e.Spent, c.Scheme)
			return nil
		}
		again := c
		again.Of, again.Coarse, again.Counts = e.Ref(), e.Coarse, slices.Clone(c.Counts)
		again.Samples = 0
		for _, n := range again.Counts {
			again.Samples += n
		}
		e.Again = append(e.Again, again)
		return nil
	})
	return err
}

// readFate reads what was recalled, and what came out again.
func (l *ledger) readFate(ctx context.Context, db DB, at map[int]int) error {
	// A withdrawal writes its recalls; what it counted is left out even without them.
	rows, err := db.Query(ctx, `
		SELECT tranche, max(upto)
		  FROM (SELECT tranche, upto FROM open.recall
		        UNION ALL
		        SELECT c.tranche, w.edition
		          FROM open.withdrawal w
		          JOIN open.edition e ON e.no = w.edition AND e.kind <> 'restated'
		          JOIN open.tranche_count c ON c.edition = w.edition) r
		 GROUP BY tranche`)
	if err != nil {
		return err
	}
	var key, upTo, whole int
	_, err = pgx.ForEachRow(rows, []any{&key, &upTo}, func() error {
		l.entries[at[key]].RecallUpTo = upTo
		return nil
	})
	if err != nil {
		return err
	}
	rows, err = db.Query(ctx, `SELECT tranche, whole FROM open.tranche_join ORDER BY tranche`)
	if err != nil {
		return err
	}
	_, err = pgx.ForEachRow(rows, []any{&key, &whole}, func() error {
		l.entries[at[key]].Into = refOf(whole)
		l.entries[at[whole]].Joins = append(l.entries[at[whole]].Joins, refOf(key))
		return nil
	})
	return err
}

func (l *ledger) readEditions(ctx context.Context, db DB) error {
	rows, err := db.Query(ctx, `
		SELECT e.no, EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = e.no) FROM open.edition e ORDER BY e.no`)
	if err != nil {
		return err
	}
	var no int
	var gone bool
	_, err = pgx.ForEachRow(rows, []any{&no, &gone}, func() error {
		if gone {
			l.taken = append(l.taken, no)
		} else {
			l.stands = append(l.stands, no)
		}
		return nil
	})
	return err
}

// tranches are all of them as their own editions counted them.
func (l *ledger) tranches() []edition.Tranche {
	out := make([]edition.Tranche, len(l.entries))
	for i, e := range l.entries {
		out[i] = e.Tranche
	}
	return out
}

func (l *ledger) entry(r edition.Ref) *edition.Entry {
	i, found := slices.BinarySearchFunc(l.entries, keyOf(r), func(e edition.Entry, key int) int { return keyOf(e.Ref()) - key })
	if !found {
		return nil
	}
	return &l.entries[i]
}

// recalledPlaces lists the townships on an edition's map of which figures were
// taken back. To those recalled come those of editions withdrawn since, up to the
// next that stands: a reader of edition no may have seen them.
func (l *ledger) recalledPlaces(no int, recalled []edition.Tranche) []place.ID {
	until := maxEdition
	for _, s := range l.stands {
		if s > no {
			until = s
			break
		}
	}
	for _, e := range l.entries {
		if e.Edition > no && e.Edition < until && e.Into == (edition.Ref{}) && e.Recalled() && slices.Contains(l.taken, e.Edition) {
			recalled = append(recalled, e.Tranche)
		}
	}
	var out []place.ID
	for _, t := range recalled {
		if t.Kind != edition.KindRemainder {
			out = append(out, t.Places...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// cutsUsed lists the cut points of every level table that a tranche, or one that
// came out again in it, was ever counted by.
func (l *ledger) cutsUsed(e edition.Entry) (out []float64) {
	for _, id := range e.SchemesUsed() {
		out = append(out, l.schemes[id].cuts...)
	}
	for _, j := range e.Joins {
		if part := l.entry(j); part != nil {
			out = append(out, l.cutsUsed(*part)...)
		}
	}
	return out
}
