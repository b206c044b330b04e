package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/edition"
)

// readBacks reads what the recalled tranches hold: the samples counted when each
// was last published, with the result that stands and is signed now.
func (w *workbench) readBacks(ctx context.Context, tx pgx.Tx) error {
	var keys []int
	for _, e := range w.ledger.entries {
		if e.Recalled() {
			keys = append(keys, keyOf(e.Ref()))
		}
	}
	if len(keys) == 0 {
		return nil
	}
	mended, err := mendedWhole(ctx, tx, keys)
	if err != nil {
		return err
	}
	members := make(map[int][]edition.Held)
	rows, err := tx.Query(ctx, `
		SELECT l.tranche, l.result <> coalesce(r.id, l.result),
		       coalesce(b.state = 'void' OR s.county <> t.county OR t.kind <> 'remainder' AND NOT EXISTS (
		           SELECT FROM open.tranche_place p WHERE p.tranche = t.id AND p.place = s.place), false),
		       coalesce(r.scheme <> $2, false), `+memberColumns+`
		  FROM (SELECT p.tranche, m.sample, m.result, m.edition, max(m.edition) OVER (PARTITION BY p.tranche) AS last
		          FROM priv.tranche_part p
		          JOIN priv.tranche_member i ON i.tranche = p.part
		          JOIN priv.member_result m ON m.sample = i.sample
		         WHERE p.tranche = ANY ($1)) l
		  JOIN open.tranche t ON t.id = l.tranche
		  JOIN priv.sample s ON s.id = l.sample
		  LEFT JOIN priv.sender x ON x.id = s.sender
		  LEFT JOIN priv.signed r ON r.sample = s.id
		  LEFT JOIN priv.bag_link k ON k.sample = s.id
		  LEFT JOIN priv.bag b ON b.code = k.bag
		 WHERE l.edition = l.last`, keys, w.schemeID)
	if err != nil {
		return err
	}
	var key int
	var changed, gone, unsortable bool
	stays := make(map[int]bool)
	var r arrivalRow
	_, err = pgx.ForEachRow(rows, append([]any{&key, &changed, &gone, &unsortable}, r.targets()...), func() error {
		stays[key] = stays[key] || unsortable // a past result's level is of another table
		if r.Counted {
			w.waiting[r.Sample] = counted{rank: w.scheme.Class(r.reading()).Rank, result: r.result}
		}
		members[key] = append(members[key], edition.Held{Pending: r.pending(), Gone: gone})
		mended[key] = mended[key] || changed || gone
		return nil
	})
	if err != nil {
		return err
	}
	for _, key := range keys {
		if stays[key] {
			continue
		}
		t, _ := w.ledger.entry(refOf(key)).Last()
		w.backs = append(w.backs, edition.BackOf(t, mended[key], members[key]))
	}
	return nil
}

// mendedWhole are the tranches that no result has to change in: what was wrong was
// how they were put together.
func mendedWhole(ctx context.Context, tx pgx.Tx, keys []int) (map[int]bool, error) {
	rows, err := tx.Query(ctx, `
		SELECT r.tranche FROM open.recall r
		 WHERE r.tranche = ANY ($1) AND r.reason IN ('grouping', 'boundaries')
		   AND r.upto = (SELECT max(x.upto) FROM open.recall x WHERE x.tranche = r.tranche)`, keys)
	if err != nil {
		return nil, err
	}
	whole, err := pgx.CollectRows(rows, pgx.RowTo[int])
	out := make(map[int]bool, len(whole))
	for _, key := range whole {
		out[key] = true
	}
	return out, err
}
