package postgres

import (
	"context"
	"math"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
)

// Lab finds bags and records counts, over a Staff connection.
type Lab struct{ db DB }

// NewLab makes the store.
func NewLab(db DB) *Lab { return &Lab{db} }

// Find looks up a bag for counting. fault.ErrNotFound: no such bag.
func (s *Lab) Find(ctx context.Context, code bag.Code) (_ desk.LabBag, err error) {
	defer wrap(&err, "Lab.Find")
	out := desk.LabBag{Code: code}
	var r resultRow
	err = s.db.QueryRow(ctx, `
		SELECT b.state, b.received, l.sample IS NOT NULL, coalesce(m.source = 'assumed', false),
		       EXISTS (SELECT FROM priv.signature g WHERE g.result = r.id), `+resultColumns+`
		  FROM priv.bag b
		  LEFT JOIN priv.bag_link l ON l.bag = b.code
		  LEFT JOIN priv.sample m ON m.id = l.sample
		  LEFT JOIN priv.head r ON r.sample = l.sample
		  LEFT JOIN open.method e ON e.id = r.method
		 WHERE b.code = $1`, string(code)).
		Scan(append([]any{(*string)(&out.State), &out.Received, &out.HasForm, &out.Assumed, &out.Signed}, r.targets()...)...)
	if err != nil || r.id == nil {
		return out, err
	}
	out.Head = desk.ID(*r.id)
	out.Method, out.Count = r.method(), r.count()
	out.Reading, err = r.reading()
	return out, err
}

// Record stores a result. What it replaces is the result its keyer saw, zero
// for none: if another stands by now the answer is fault.ErrConflict and nothing
// is stored. The new result is unsigned, whatever it replaces.
// fault.ErrNotFound: no such bag, or neither form nor slip for it yet, or no such
// method. assay.Missing, as an *assay.Invalid at why: it replaces another and
// does not say why, or says why and replaces none.
func (s *Lab) Record(ctx context.Context, k desk.Keyed, by account.ID) (err error) {
	defer wrap(&err, "Lab.Record")
	reading, err := k.Reading()
	if err != nil {
		return err
	}
	if (k.Replaces == desk.ID{}) != (k.Why == "") {
		return &assay.Invalid{Fields: map[string]assay.Problem{"why": assay.Missing}}
	}
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		sample, err := lockHead(ctx, tx, k.Code, k.Replaces)
		if err != nil {
			return err
		}
		r := newResultRow(k, reading)
		tag, err := tx.Exec(ctx, `
			INSERT INTO priv.result (sample, kind, method, soil_cm3, suspension_ml, looked_ml, eggs, density, low, high,
			                         limits_by, portion_ml, portion_eggs, given, unit, bulk, cyst, juveniles, day, supersedes, reason, by_staff)
			SELECT $1, $2, m.id, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21
			  FROM open.method m
			 WHERE m.name = $22 AND m.version = $23`,
			append(append([]any{sample}, r.values()...), orNull(by), k.Method.Name, k.Method.Version)...)
		if err != nil {
			return err
		}
		if tag.RowsAffected() != 1 {
			return fault.ErrNotFound
		}
		// What is on a map stays there; what was signed waits to be signed again.
		_, err = tx.Exec(ctx, `
			UPDATE priv.bag
			   SET received = coalesce(received, $2), state = CASE WHEN state = 'released' THEN state ELSE 'counted' END
			 WHERE code = $1`, string(k.Code), k.Day)
		return err
	})
}

// lockHead locks a bag and gives its sample, if the result that stands is the
// one expected.
func lockHead(ctx context.Context, tx pgx.Tx, code bag.Code, expected desk.ID) (sample [16]byte, err error) {
	err = tx.QueryRow(ctx, `
		SELECT l.sample
		  FROM priv.bag b
		  JOIN priv.bag_link l ON l.bag = b.code
		 WHERE b.code = $1 AND b.state <> 'void'
		   FOR UPDATE OF b`, string(code)).Scan(&sample)
	if err != nil {
		return sample, err
	}
	var head [16]byte
	err = tx.QueryRow(ctx, `SELECT id FROM priv.head WHERE sample = $1`, sample).Scan(&head)
	if err != nil && err != pgx.ErrNoRows {
		return sample, err
	}
	if desk.ID(head) != expected {
		return sample, fault.ErrConflict
	}
	return sample, nil
}

// orNull is an id for the database: its zero value is no id.
func orNull[T ~[16]byte](id T) any {
	if id == (T{}) {
		return nil
	}
	return [16]byte(id)
}

// Progress sums up a season's bags for the lab's front page.
func (s *Lab) Progress(ctx context.Context, season int) (p desk.Progress, err error) {
	defer wrap(&err, "Lab.Progress")
	err = s.db.QueryRow(ctx, `
		SELECT count(*), count(l.sample), count(b.received),
		       count(*) FILTER (WHERE b.state IN ('counted', 'signed', 'released')),
		       count(*) FILTER (WHERE b.received IS NOT NULL AND l.sample IS NOT NULL
		                          AND b.state NOT IN ('counted', 'signed', 'released', 'void')),
		       count(*) FILTER (WHERE b.received IS NOT NULL AND l.sample IS NULL AND b.state <> 'void'),
		       count(*) FILTER (WHERE b.state = 'counted')
		  FROM priv.lot t
		  JOIN priv.bundle u ON u.lot = t.id
		  JOIN priv.bag b ON b.bundle = u.id
		  LEFT JOIN priv.bag_link l ON l.bag = b.code
		 WHERE t.season = $1`, season).
		Scan(&p.Issued, &p.FormIn, &p.SoilIn, &p.Counted, &p.Ready, &p.NoForm, &p.Unsigned)
	return p, err
}

// infinite writes an open upper end as the database does.
func infinite(d assay.Density) float64 {
	if math.IsInf(float64(d), 1) {
		return math.Inf(1)
	}
	return float64(d)
}
