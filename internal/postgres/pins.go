package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
	"sixmile/internal/edition"
)

// pin is a result as it was counted in an edition.
type pin struct {
	sample  edition.SampleID
	reading assay.Reading
}

// readPins gives, by the database's number of a tranche, the results that were
// counted when it was last published, by an edition up to the given one. Nothing
// it reads is ever changed, and unlinking leaves all of it.
func readPins(ctx context.Context, db DB, keys []int, upTo int) (map[int][]pin, error) {
	rows, err := db.Query(ctx, `
		SELECT l.tranche, l.sample, '00000000-0000-0000-0000-000000000000'::uuid, 0, 0, 0, 0, true,
		       r.id, r.kind = 'counted', coalesce(r.eggs, 0), r.density, r.low IS NOT NULL AND r.high IS NOT NULL,
		       coalesce(r.low, 0), coalesce(r.high, 0), r.cyst, r.juveniles
		  FROM (SELECT p.tranche, m.sample, m.result, m.edition, max(m.edition) OVER (PARTITION BY p.tranche) AS last
		          FROM priv.tranche_part p
		          JOIN priv.tranche_member i ON i.tranche = p.part
		          JOIN priv.member_result m ON m.sample = i.sample
		         WHERE p.tranche = ANY ($1) AND m.edition <= $2) l
		  JOIN priv.result r ON r.id = l.result
		 WHERE l.edition = l.last
		 ORDER BY l.tranche, l.sample`, keys, upTo)
	if err != nil {
		return nil, err
	}
	out := make(map[int][]pin)
	var key int
	var r arrivalRow
	_, err = pgx.ForEachRow(rows, append([]any{&key}, r.targets()...), func() error {
		out[key] = append(out[key], pin{r.Sample, r.reading()})
		return nil
	})
	return out, err
}

// ranksOf sorts pins into a level table.
func ranksOf(s assay.Scheme, pins []pin) (ids []edition.SampleID, rank func(edition.SampleID) int) {
	by := make(map[edition.SampleID]int, len(pins))
	for _, p := range pins {
		ids = append(ids, p.sample)
		by[p.sample] = s.Class(p.reading).Rank
	}
	return ids, func(id edition.SampleID) int { return by[id] }
}
