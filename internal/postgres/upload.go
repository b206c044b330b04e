package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
)

// Uploads takes in files of counts, over a Staff connection. Nothing of a file is
// stored before it is accepted, and then all of it or nothing.
type Uploads struct{ sentFiles }

// NewUploads makes the store.
func NewUploads(db DB) *Uploads {
	return &Uploads{sentFiles{db, "Uploads", "priv.upload_memory", "priv.upload"}}
}

// Targets tells what stands for bags.
func (s *Uploads) Targets(ctx context.Context, codes []bag.Code) (_ desk.Targets, err error) {
	defer wrap(&err, "Uploads.Targets")
	rows, err := s.db.Query(ctx, `
		SELECT b.code, b.state = 'void', l.sample IS NOT NULL, `+resultColumns+`
		  FROM unnest($1::text[]) AS c (code)
		  JOIN priv.bag b ON b.code = c.code
		  LEFT JOIN priv.bag_link l ON l.bag = b.code
		  LEFT JOIN priv.head r ON r.sample = l.sample
		  LEFT JOIN open.method e ON e.id = r.method`, texts(codes))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := make(desk.Targets, len(codes))
	for rows.Next() {
		var code string
		var t desk.Target
		var r resultRow
		if err := rows.Scan(append([]any{&code, &t.Void, &t.Place}, r.targets()...)...); err != nil {
			return nil, err
		}
		if r.id != nil {
			if t, err = target(t, r); err != nil {
				return nil, err
			}
		}
		out[bag.Code(code)] = t
	}
	return out, rows.Err()
}

func texts(codes []bag.Code) []string {
	out := make([]string, len(codes))
	for i, c := range codes {
		out[i] = string(c)
	}
	return out
}

func target(t desk.Target, r resultRow) (desk.Target, error) {
	t.Head, t.Method, t.Count = desk.ID(*r.id), r.method(), r.count()
	t.Is = assay.Reading{Basis: assay.Counted}
	if r.eggs != nil {
		return t, nil
	}
	t.Is.Basis = assay.Reported
	t.Given = assay.Report{CystSeen: *r.cyst, JuvenilesSeen: *r.juveniles}
	if r.given != nil && r.unit != nil {
		unit, err := assay.ParseUnit(*r.unit)
		if err != nil {
			return t, err
		}
		t.Given.Value, t.Given.Unit = *r.given, unit
	}
	if r.bulk != nil {
		t.Given.BulkDensity = *r.bulk
	}
	return t, nil
}

// Accept stores the results of a file, all or none. A file that says the same as
// one taken before changes nothing: n is 0. Results must be new, or replace the
// one they say they do; where a bag has changed since it was looked at, or has no
// place, nothing is stored and the error is fault.ErrConflict. Nothing is signed.
func (s *Uploads) Accept(ctx context.Context, digest string, results []desk.Keyed, by account.ID, today time.Time) (n int, err error) {
	defer wrap(&err, "Uploads.Accept")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		// One file at a time; the same file sent twice waits here and then finds itself.
		_, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile upload')), set_config('sixmile.bulk', 'on', true)`)
		if err != nil {
			return err
		}
		tag, err := tx.Exec(ctx, `
			INSERT INTO priv.upload (digest, day, bags, by_staff) VALUES ($1, $2, $3, $4)
			ON CONFLICT DO NOTHING`, digest, today, len(results), orNull(by))
		if err != nil || tag.RowsAffected() == 0 {
			return err
		}
		rows, err := lockAll(ctx, tx, results)
		if err != nil {
			return err
		}
		if err := storeAll(ctx, tx, results, rows, by); err != nil {
			return err
		}
		n = len(results)
		return note(ctx, tx, account.DidUpload, today, account.Detail{Number: n})
	})
	return n, err
}

// lockAll locks the bags and gives the sample of each result, in their order.
func lockAll(ctx context.Context, tx pgx.Tx, results []desk.Keyed) ([][16]byte, error) {
	codes := make([]string, len(results))
	at := make(map[string]int, len(results))
	for i, k := range results {
		codes[i] = string(k.Code)
		at[codes[i]] = i
	}
	if len(at) != len(results) {
		return nil, fault.ErrConflict
	}
	_, err := tx.Exec(ctx, `SELECT FROM priv.bag WHERE code = ANY ($1) ORDER BY code FOR UPDATE`, codes)
	if err != nil {
		return nil, err
	}
	rows, err := tx.Query(ctx, `
		SELECT b.code, l.sample, coalesce(r.id, '00000000-0000-0000-0000-000000000000')
		  FROM priv.bag b
		  JOIN priv.bag_link l ON l.bag = b.code
		  LEFT JOIN priv.head r ON r.sample = l.sample
		 WHERE b.code = ANY ($1) AND b.state <> 'void'`, codes)
	if err != nil {
		return nil, err
	}
	samples := make([][16]byte, len(results))
	found := 0
	var code string
	var sample, head [16]byte
	_, err = pgx.ForEachRow(rows, []any{&code, &sample, &head}, func() error {
		i := at[code]
		if desk.ID(head) != results[i].Replaces {
			return fault.ErrConflict
		}
		samples[i] = sample
		found++
		return nil
	})
	if err == nil && found != len(results) {
		err = fault.ErrConflict
	}
	return samples, err
}

var resultFields = []string{"sample", "method", "by_staff", "kind", "soil_cm3", "suspension_ml", "looked_ml", "eggs", "density", "low", "high",
	"limits_by", "portion_ml", "portion_eggs", "given", "unit", "bulk", "cyst", "juveniles", "day", "supersedes", "reason"}

func storeAll(ctx context.Context, tx pgx.Tx, results []desk.Keyed, samples [][16]byte, by account.ID) error {
	methods, err := methodIDs(ctx, tx)
	if err != nil {
		return err
	}
	for _, k := range results {
		if _, known := methods[recipeKey{k.Method.Name, k.Method.Version}]; !known || (k.Replaces == desk.ID{}) != (k.Why == "") {
			return fault.ErrConflict
		}
	}
	i := -1
	_, err = tx.CopyFrom(ctx, pgx.Identifier{"priv", "result"}, resultFields, pgx.CopyFromFunc(func() ([]any, error) {
		if i++; i == len(results) {
			return nil, nil
		}
		k := results[i]
		reading, err := k.Reading()
		if err != nil {
			return nil, err
		}
		method := methods[recipeKey{k.Method.Name, k.Method.Version}]
		return append([]any{samples[i], method, orNull(by)}, newResultRow(k, reading).values()...), nil
	}))
	if err != nil {
		return err
	}
	codes, days := make([]string, len(results)), make([]time.Time, len(results))
	for i, k := range results {
		codes[i], days[i] = string(k.Code), k.Day
	}
	_, err = tx.Exec(ctx, `
		UPDATE priv.bag b
		   SET received = coalesce(b.received, c.day), state = CASE WHEN b.state = 'released' THEN b.state ELSE 'counted' END
		  FROM unnest($1::text[], $2::date[]) AS c (code, day)
		 WHERE b.code = c.code`, codes, days)
	return err
}

type recipeKey struct {
	name    string
	version int
}

func methodIDs(ctx context.Context, db DB) (map[recipeKey]int, error) {
	rows, err := db.Query(ctx, `SELECT id, name, version FROM open.method`)
	if err != nil {
		return nil, err
	}
	out := map[recipeKey]int{}
	var id int
	var k recipeKey
	_, err = pgx.ForEachRow(rows, []any{&id, &k.name, &k.version}, func() error { out[k] = id; return nil })
	return out, err
}
