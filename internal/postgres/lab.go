package postgres

import (
	"context"
	"math"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/stat"
)

// Lab finds bags and records counts, over a Staff connection.
type Lab struct{ db DB }

// NewLab makes the store.
func NewLab(db DB) *Lab { return &Lab{db} }

// Find looks up a bag for counting. fault.ErrNotFound: no such bag.
func (s *Lab) Find(ctx context.Context, code bag.Code) (_ desk.LabBag, err error) {
	defer wrap(&err, "Lab.Find")
	out := desk.LabBag{Code: code}
	var head [16]byte
	var soil, suspension, looked, density, low, high *float64
	var eggs *int
	var cyst, juveniles *bool
	var id *[16]byte
	err = s.db.QueryRow(ctx, `
		SELECT b.state, b.received, l.sample IS NOT NULL,
		       h.id, h.soil_cm3, h.suspension_ml, h.looked_ml, h.eggs, h.density, h.low, h.high, h.cyst, h.juveniles
		  FROM priv.bag b
		  LEFT JOIN priv.bag_link l ON l.bag = b.code
		  LEFT JOIN priv.head h ON h.sample = l.sample
		 WHERE b.code = $1`, string(code)).
		Scan((*string)(&out.State), &out.Received, &out.HasForm,
			&id, &soil, &suspension, &looked, &eggs, &density, &low, &high, &cyst, &juveniles)
	if err != nil {
		return desk.LabBag{}, err
	}
	if id == nil {
		return out, nil
	}
	head = *id
	out.Head = desk.ID(head)
	out.Reading = assay.Reading{Basis: assay.Reported, Density: assay.Density(*density), CystSeen: *cyst, JuvenilesSeen: *juveniles}
	if eggs != nil {
		out.Count = assay.Count{SoilCM3: *soil, SuspensionML: *suspension, CystSeen: *cyst, JuvenilesSeen: *juveniles,
			Aliquots: []assay.Aliquot{{ML: *looked, Eggs: *eggs}}}
		out.Reading.Basis, out.Reading.Eggs = assay.Counted, *eggs
		out.Reading.Limits, out.Reading.LimitsKnown = stat.Interval{Low: *low, High: *high}, true
	}
	return out, nil
}

// Record stores a count. replaces is the result the technician saw, zero for
// none: if another stands by now the answer is fault.ErrConflict and nothing is
// stored. fault.ErrNotFound: no such bag, or no form for it yet.
func (s *Lab) Record(ctx context.Context, code bag.Code, c assay.Count, m assay.Method, replaces desk.ID,
	by account.ID, today time.Time) (err error) {
	defer wrap(&err, "Lab.Record")
	reading, err := c.Density(m)
	if err != nil {
		return err
	}
	looked := 0.0
	for _, a := range c.Aliquots {
		looked += a.ML
	}
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var sample [16]byte
		err := tx.QueryRow(ctx, `
			SELECT l.sample
			  FROM priv.bag b
			  JOIN priv.bag_link l ON l.bag = b.code
			 WHERE b.code = $1 AND b.state <> 'void'
			   FOR UPDATE OF b`, string(code)).Scan(&sample)
		if err != nil {
			return err
		}
		var head [16]byte
		err = tx.QueryRow(ctx, `SELECT id FROM priv.head WHERE sample = $1`, sample).Scan(&head)
		if err != nil && err != pgx.ErrNoRows {
			return err
		}
		if desk.ID(head) != replaces {
			return fault.ErrConflict
		}
		tag, err := tx.Exec(ctx, `
			INSERT INTO priv.result (sample, kind, method, soil_cm3, suspension_ml, looked_ml, eggs,
			                         density, low, high, cyst, juveniles, day, supersedes, by_staff)
			SELECT $1, 'counted', m.id, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13
			  FROM open.method m
			 WHERE m.name = $14 AND m.version = $15`,
			sample, c.SoilCM3, c.SuspensionML, looked, reading.Eggs,
			float64(reading.Density), reading.Limits.Low, reading.Limits.High, c.CystSeen, c.JuvenilesSeen,
			today, orNull(replaces), orNull(by), m.Name, m.Version)
		if err != nil {
			return err
		}
		if tag.RowsAffected() != 1 {
			return fault.ErrNotFound
		}
		_, err = tx.Exec(ctx, `
			UPDATE priv.bag
			   SET received = coalesce(received, $2),
			       state = CASE WHEN state IN ('signed', 'released') THEN state ELSE 'counted' END
			 WHERE code = $1`, string(code), today)
		return err
	})
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
		       count(*) FILTER (WHERE b.received IS NOT NULL AND l.sample IS NULL)
		  FROM priv.lot t
		  JOIN priv.bundle u ON u.lot = t.id
		  JOIN priv.bag b ON b.bundle = u.id
		  LEFT JOIN priv.bag_link l ON l.bag = b.code
		 WHERE t.season = $1`, season).
		Scan(&p.Issued, &p.FormIn, &p.SoilIn, &p.Counted, &p.Ready, &p.NoForm)
	return p, err
}

// infinite writes an open upper end as the database does.
func infinite(d assay.Density) float64 {
	if math.IsInf(float64(d), 1) {
		return math.Inf(1)
	}
	return float64(d)
}
