package postgres

import (
	"github.com/jackc/pgx/v5/pgtype"

	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/stat"
)

// arrivalColumns are what an arrivalRow takes. A sample without a result has
// zeros for it: nulls would cost an allocation each, and there may be millions.
const arrivalColumns = `sample, coalesce(sender, '00000000-0000-0000-0000-000000000000'), standing, place, county, season,
	result IS NOT NULL, coalesce(result, '00000000-0000-0000-0000-000000000000'), coalesce(kind = 'counted', false),
	coalesce(eggs, 0), coalesce(density, 0), low IS NOT NULL AND high IS NOT NULL, coalesce(low, 0), coalesce(high, 0),
	coalesce(cyst, false), coalesce(juveniles, false)`

// memberColumns are the same of a sample s, its sender x and a result r.
const memberColumns = `s.id, coalesce(x.merged_into, x.id, '00000000-0000-0000-0000-000000000000'), s.standing, s.place, s.county, s.season,
	r.id IS NOT NULL, coalesce(r.id, '00000000-0000-0000-0000-000000000000'), coalesce(r.kind = 'counted', false),
	coalesce(r.eggs, 0), coalesce(r.density, 0), r.low IS NOT NULL AND r.high IS NOT NULL, coalesce(r.low, 0), coalesce(r.high, 0),
	coalesce(r.cyst, false), coalesce(r.juveniles, false)`

// arrivalRow is a row of the view of samples whose soil came.
type arrivalRow struct {
	edition.Pending
	result          [16]byte
	isCount         bool
	eggs            int
	density         float64
	limits          bool
	low, high       float64
	cyst, juveniles bool
}

func (r *arrivalRow) targets() []any {
	return []any{(*[16]byte)(&r.Sample), (*[16]byte)(&r.Sender), (*standing)(&r.Standing), (*int32)(&r.Place), (*int32)(&r.County),
		&r.Season, &r.Counted, &r.result, &r.isCount, &r.eggs, &r.density, &r.limits, &r.low, &r.high, &r.cyst, &r.juveniles}
}

// standing reads the one tap.
type standing edition.Standing

// ScanInt64 takes it from its column.
func (s *standing) ScanInt64(v pgtype.Int8) error {
	*s = standing(v.Int64)
	return nil
}

func (r *arrivalRow) pending() edition.Pending {
	p := r.Pending
	p.Received = true
	return p
}

// reading is the result as the levels see it.
func (r *arrivalRow) reading() assay.Reading {
	out := assay.Reading{Basis: assay.Reported, Density: assay.Density(r.density), CystSeen: r.cyst, JuvenilesSeen: r.juveniles}
	if r.isCount {
		out.Basis, out.Eggs = assay.Counted, r.eggs
	}
	if r.limits {
		out.Limits, out.LimitsKnown = stat.Interval{Low: r.low, High: r.high}, true
	}
	return out
}
