package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/audit"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
)

// again is an edition without new results: an erratum or a restatement.
type again struct {
	kind     edition.MetaKind
	scheme   int
	recounts []edition.Recount
	pins     map[edition.Ref][]edition.SampleID // of an erratum: what it counts
	coarse   int                                // of a restatement: what it cannot count
}

// readAgain reads what such an edition is made from: cut-off and fall are those
// of the editions before. pgx.ErrNoRows: there is none.
func readAgain(ctx context.Context, tx pgx.Tx, day time.Time) (*workbench, error) {
	w := &workbench{waiting: map[edition.SampleID]counted{}}
	w.cut.Day = day
	var season *int
	var cutoff *time.Time
	if err := tx.QueryRow(ctx, `SELECT max(season), max(cutoff) FROM open.edition`).Scan(&season, &cutoff); err != nil {
		return nil, err
	}
	if season == nil {
		return nil, pgx.ErrNoRows
	}
	w.cutoff = *cutoff
	if err := w.readProgram(ctx, tx); err != nil {
		return nil, err
	}
	w.cut.Season = *season
	for _, read := range []func(context.Context, pgx.Tx) error{w.readHistory, w.readBacks} {
		if err := read(ctx, tx); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// composeAgain is the edition as the public would see it.
func (w *workbench) composeAgain(a again) audit.Edition {
	e := audit.Edition{Again: a.recounts, Meta: edition.Meta{
		Number: w.number, Kind: a.kind, Season: w.cut.Season, Cutoff: w.cutoff, Released: w.cut.Day, K: w.rules.K,
		Scheme: a.scheme, Ranks: w.ledger.ranks(a.scheme), Cuts: w.ledger.schemes[a.scheme].cuts,
		Boundaries: w.boundaries, Previous: w.previous,
	}}
	e.Seal()
	return e
}

// stampOf is a digest of what an again counts.
func (w *workbench) stampOf(a again) string {
	h := sha256.New()
	fmt.Fprintln(h, w.number, a.kind, a.scheme, a.coarse)
	for _, r := range a.recounts {
		fmt.Fprintln(h, r)
		for _, m := range a.pins[r.Of] {
			result := w.waiting[m].result
			h.Write(m[:])
			h.Write(result[:])
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

func (w *workbench) previewAgain(ctx context.Context, tx pgx.Tx, a again) (desk.Again, error) {
	out := desk.Again{Number: w.number, Kind: a.kind, Coarse: a.coarse, Stamp: w.stampOf(a), Day: w.cut.Day}
	for _, r := range a.recounts {
		t, last := w.ledger.entry(r.Of).Last()
		out.Groups = append(out.Groups, desk.Group{Tranche: t, Scheme: last.Scheme})
	}
	s, err := readScheme(ctx, tx, a.scheme)
	if err != nil {
		return out, err
	}
	out.Level = s.Title
	out.Audit, err = w.auditBefore(ctx, tx, w.composeAgain(a))
	return out, err
}

// releaseAgain releases what make works out, once.
func releaseAgain(ctx context.Context, db DB, number int, day time.Time, stamp string, deed account.Deed, by account.ID,
	make func(context.Context, pgx.Tx, *workbench) (again, error)) (out gazette.Edition, err error) {
	err = inTx(ctx, db, func(tx pgx.Tx) error {
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
		w, err := readAgain(ctx, tx, day)
		if err != nil {
			return err
		}
		a, err := make(ctx, tx, w)
		if err != nil {
			return err
		}
		if w.number != number || w.stampOf(a) != stamp {
			return fault.ErrConflict
		}
		out, err = w.storeAgain(ctx, tx, a)
		if err != nil {
			return err
		}
		return noteBy(ctx, tx, deed, day, account.Detail{Edition: number}, by)
	})
	return out, err
}

func (w *workbench) storeAgain(ctx context.Context, tx pgx.Tx, a again) (gazette.Edition, error) {
	e := w.composeAgain(a)
	var counts, results [][]any
	for _, r := range a.recounts {
		for rank, n := range r.Counts {
			counts = append(counts, []any{keyOf(r.Of), w.number, rank, n})
		}
		for _, m := range a.pins[r.Of] {
			results = append(results, []any{[16]byte(m), w.number, w.waiting[m].result})
		}
	}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{"open", "tranche_count"}, []string{"tranche", "edition", "rank", "n"}, pgx.CopyFromRows(counts)); err != nil {
		return gazette.Edition{}, conflict(err)
	}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{"priv", "member_result"}, []string{"sample", "edition", "result"}, pgx.CopyFromRows(results)); err != nil {
		return gazette.Edition{}, conflict(err)
	}
	if err := w.close(ctx, tx, e); err != nil {
		return gazette.Edition{}, conflict(err)
	}
	return published(e), auditAsPublic(ctx, tx)
}
