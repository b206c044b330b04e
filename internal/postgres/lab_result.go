package postgres

import (
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/stat"
)

// resultRow is a row of results, r in the query, with its method, e.
type resultRow struct {
	id                     *[16]byte
	kind                   *string
	soil, suspension       *float64
	looked                 *float64
	eggs                   *int
	density, low, high     *float64
	limitsBy               *string
	ml                     []float64
	portions               []int32
	given                  *float64
	unit                   *string
	bulk                   *float64
	cyst, juveniles        *bool
	name                   *string
	version                *int
	mSoil, mWater, aliquot *float64
	recovery, perCyst      *float64
	day                    any
	replaces               desk.ID
	why                    *string
}

// resultColumns are what targets takes, in its order.
const resultColumns = `r.id, r.kind, r.soil_cm3, r.suspension_ml, r.looked_ml, r.eggs, r.density, r.low, r.high, r.limits_by,
	r.portion_ml, r.portion_eggs, r.given, r.unit, r.bulk, r.cyst, r.juveniles,
	e.name, e.version, e.soil_cm3, e.suspension_ml, e.aliquot_ml, e.recovery, e.eggs_per_cyst`

func (r *resultRow) targets() []any {
	return []any{&r.id, &r.kind, &r.soil, &r.suspension, &r.looked, &r.eggs, &r.density, &r.low, &r.high, &r.limitsBy,
		&r.ml, &r.portions, &r.given, &r.unit, &r.bulk, &r.cyst, &r.juveniles,
		&r.name, &r.version, &r.mSoil, &r.mWater, &r.aliquot, &r.recovery, &r.perCyst}
}

// newResultRow takes apart what is to be stored.
func newResultRow(k desk.Keyed, reading assay.Reading) resultRow {
	density := float64(reading.Density)
	r := resultRow{density: &density, cyst: &reading.CystSeen, juveniles: &reading.JuvenilesSeen, day: k.Day, replaces: k.Replaces}
	kind, limitsBy, unit, why := "counted", reading.LimitsBy.String(), k.Report.Unit.String(), string(k.Why)
	r.kind = &kind
	if why != "" {
		r.why = &why
	}
	if reading.Basis == assay.Reported {
		kind, r.unit, r.given = "density", &unit, &k.Report.Value
		if k.Report.Unit.ByMass() {
			r.bulk = &k.Report.BulkDensity
		}
		return r
	}
	looked := 0.0
	for _, a := range k.Count.Aliquots {
		looked += a.ML
		r.ml, r.portions = append(r.ml, a.ML), append(r.portions, int32(a.Eggs))
	}
	r.soil, r.suspension, r.looked, r.eggs = &k.Count.SoilCM3, &k.Count.SuspensionML, &looked, &reading.Eggs
	r.low, r.high, r.limitsBy = &reading.Limits.Low, &reading.Limits.High, &limitsBy
	return r
}

// values are the columns of an insert from kind to reason.
func (r resultRow) values() []any {
	return []any{*r.kind, r.soil, r.suspension, r.looked, r.eggs, r.density, r.low, r.high, r.limitsBy, r.ml, r.portions,
		r.given, r.unit, r.bulk, r.cyst, r.juveniles, r.day, orNull(r.replaces), r.why}
}

func (r resultRow) method() assay.Method {
	if r.name == nil {
		return assay.Method{}
	}
	return assay.Method{Name: *r.name, Version: *r.version, SoilCM3: *r.mSoil, SuspensionML: *r.mWater,
		AliquotML: *r.aliquot, Recovery: *r.recovery, EggsPerCyst: *r.perCyst}
}

// count is the count as it was keyed; zero for a reported density. Where only
// its totals are known it is one portion.
func (r resultRow) count() assay.Count {
	if r.eggs == nil {
		return assay.Count{}
	}
	c := assay.Count{SoilCM3: *r.soil, SuspensionML: *r.suspension, CystSeen: *r.cyst, JuvenilesSeen: *r.juveniles}
	for i, ml := range r.ml {
		c.Aliquots = append(c.Aliquots, assay.Aliquot{ML: ml, Eggs: int(r.portions[i])})
	}
	if len(c.Aliquots) == 0 {
		c.Aliquots = []assay.Aliquot{{ML: *r.looked, Eggs: *r.eggs}}
	}
	return c
}

// reading is the result as it was stored: its density and limits are never
// worked out anew. What one egg stands for and how far the portions disagree
// follow from the count.
func (r resultRow) reading() (assay.Reading, error) {
	out := assay.Reading{Basis: assay.Reported, Density: assay.Density(*r.density), CystSeen: *r.cyst, JuvenilesSeen: *r.juveniles}
	if r.eggs == nil {
		return out, nil
	}
	worked, err := r.count().Density(r.method())
	if err != nil {
		return out, err
	}
	out.Basis, out.Eggs, out.PerEgg, out.Dispersion = assay.Counted, *r.eggs, worked.PerEgg, worked.Dispersion
	if r.low != nil && r.high != nil {
		out.Limits, out.LimitsKnown = stat.Interval{Low: *r.low, High: *r.high}, true
	}
	if r.limitsBy != nil && *r.limitsBy == assay.NegBinomial.String() {
		out.LimitsBy = assay.NegBinomial
	} else if r.limitsBy != nil {
		out.LimitsBy = assay.ExactPoisson
	}
	return out, nil
}
