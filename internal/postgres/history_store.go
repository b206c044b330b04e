package postgres

import (
	"bytes"
	"context"
	"crypto/rand"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/past"
)

// addPastSeasons adds falls the program has no days for, with the days of its
// earliest known one, else August 15 to the end of June.
func addPastSeasons(ctx context.Context, tx pgx.Tx, kept []past.Kept) error {
	var years []int
	for _, k := range kept {
		if !slices.Contains(years, k.Season) {
			years = append(years, k.Season)
		}
	}
	_, err := tx.Exec(ctx, `
		INSERT INTO open.season (year, opens, closes)
		SELECT y, coalesce(f.opens + make_interval(years => y - f.year), make_date(y, 8, 15))::date,
		          coalesce(f.closes + make_interval(years => y - f.year), make_date(y + 1, 6, 30))::date
		  FROM unnest($1::int[]) y
		  LEFT JOIN (SELECT * FROM open.season ORDER BY year LIMIT 1) f ON true
		ON CONFLICT DO NOTHING`, years)
	return err
}

// pastRow is a row as it is stored.
type pastRow struct {
	past.Kept
	sample, result [16]byte
	sender         any
	standing       edition.Standing
}

// storePast stores samples, results and their signatures, in the order of the
// samples' random numbers: the order of the file tells who stood beside whom.
func storePast(ctx context.Context, tx pgx.Tx, kept []past.Kept, by account.ID, today time.Time) error {
	others, err := readOthers(ctx, tx)
	if err != nil {
		return err
	}
	rows := make([]pastRow, len(kept))
	senders := map[int][16]byte{}
	for i, standing := range past.Standings(kept, others) {
		r := pastRow{Kept: kept[i], sample: randomID(), result: randomID(), standing: standing}
		if r.Farm != 0 {
			if _, there := senders[r.Farm]; !there {
				senders[r.Farm] = randomID()
			}
			r.sender = senders[r.Farm]
		}
		rows[i] = r
	}
	slices.SortFunc(rows, func(a, b pastRow) int { return bytes.Compare(a.sample[:], b.sample[:]) })
	var batch [16]byte
	if err := tx.QueryRow(ctx, `INSERT INTO priv.batch (day, by_staff) VALUES ($1, $2) RETURNING id`, today, orNull(by)).Scan(&batch); err != nil {
		return err
	}
	var scheme int
	if err := tx.QueryRow(ctx, `SELECT open.scheme_in_force()`).Scan(&scheme); err != nil {
		return err
	}
	methods, err := methodIDs(ctx, tx)
	if err != nil {
		return err
	}
	ids := make([][]any, 0, len(senders))
	for _, id := range senders {
		ids = append(ids, []any{id})
	}
	for _, c := range []struct {
		table   string
		columns []string
		rows    pgx.CopyFromSource
	}{
		{"sender", []string{"id"}, pgx.CopyFromRows(ids)},
		{"sample", []string{"id", "sender", "place", "county", "season", "day", "standing", "source"},
			pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) {
				r := rows[i]
				return []any{r.sample, r.sender, int32(r.Place), int32(r.County), r.Season, today, int(r.standing), "past"}, nil
			})},
		{"result", []string{"id", "sample", "kind", "method", "density", "cyst", "juveniles", "day", "by_staff", "given", "unit", "bulk", "scheme"},
			pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) { return rows[i].resultValues(methods, scheme, by, today) })},
		{"signature", []string{"result", "batch"}, pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) {
			return []any{rows[i].result, batch}, nil
		})},
	} {
		if _, err := tx.CopyFrom(ctx, pgx.Identifier{"priv", c.table}, c.columns, c.rows); err != nil {
			return err
		}
	}
	return nil
}

// resultValues are the values of a result, in the order of its columns above.
func (r pastRow) resultValues(methods map[recipeKey]int, scheme int, by account.ID, today time.Time) ([]any, error) {
	var method, given, unit, bulk, table any
	if r.Method.Name != "" {
		id, known := methods[recipeKey{r.Method.Name, r.Method.Version}]
		if !known {
			return nil, assay.Unknown
		}
		method = id
	}
	kind := "density"
	if r.ClassOnly {
		kind, table = "class", scheme
	} else {
		given, unit = r.Report.Value, r.Report.Unit.String()
		if r.Report.Unit.ByMass() {
			bulk = r.Report.BulkDensity
		}
	}
	return []any{r.result, r.sample, kind, method, float64(r.Reading.Density), r.Reading.CystSeen, r.Reading.JuvenilesSeen,
		today, orNull(by), given, unit, bulk, table}, nil
}

// randomID is a random number that tells nothing (RFC 9562, version 4).
func randomID() (id [16]byte) {
	_, _ = rand.Read(id[:]) // never fails
	id[6], id[8] = id[6]&0x0f|0x40, id[8]&0x3f|0x80
	return id
}
