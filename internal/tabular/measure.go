package tabular

import (
	"errors"
	"strconv"

	"sixmile/internal/assay"
)

// measure reads what was counted or reported.
func (r *reader) measure(row *Row) {
	cyst := r.flag(row, Cyst)
	juveniles := r.flag(row, Juveniles)
	portions, eggs := r.portions(row)
	density, _ := r.cell(row, Density)
	switch {
	case density != "" && eggs:
		row.note(Density, BothGiven)
	case density != "":
		row.Entry.Report = assay.Report{CystSeen: cyst, JuvenilesSeen: juveniles}
		r.report(row, density)
	default:
		row.Entry.Count = assay.Count{CystSeen: cyst, JuvenilesSeen: juveniles}
		r.count(row, portions)
	}
}

func (r *reader) flag(row *Row, f Field) bool {
	cell, _ := r.cell(row, f)
	yes, err := yesNo(cell)
	row.note(f, err)
	return yes
}

// portion is a portion of a row with its number from 1.
type portion struct {
	number   int
	eggs, ml string
}

// portions lists the portions a row has something of, and whether any eggs were
// given.
func (r *reader) portions(row *Row) (found []portion, eggs bool) {
	for i := 1; i <= assay.MaxAliquots; i++ {
		p := portion{number: i}
		p.eggs, _ = r.cell(row, EggsOf(i))
		p.ml, _ = r.cell(row, MLOf(i))
		if p.eggs != "" || p.ml != "" {
			found = append(found, p)
		}
		eggs = eggs || p.eggs != ""
	}
	return found, eggs
}

// count reads a count. Amounts that a row leaves out are the method's; the
// milliliters only of a single portion, since a method says what is looked at
// over all.
func (r *reader) count(row *Row, portions []portion) {
	c, m := &row.Entry.Count, row.Entry.Method
	c.SoilCM3 = r.amount(row, Soil, m.SoilCM3)
	c.SuspensionML = r.amount(row, Suspension, m.SuspensionML)
	if len(portions) == 0 {
		row.note(EggsOf(1), assay.Missing)
		return
	}
	for _, p := range portions {
		eggs, err := r.number(p.eggs)
		if err == nil && eggs != float64(int(eggs)) {
			err = assay.NotWhole
		}
		row.note(EggsOf(p.number), err)
		c.Aliquots = append(c.Aliquots, assay.Aliquot{ML: r.milliliters(row, p, len(portions)), Eggs: int(eggs)})
	}
	if !row.OK() {
		return
	}
	var err error
	row.Entry.Reading, err = c.Density(m)
	r.noteInvalid(row, err, portions)
}

func (r *reader) milliliters(row *Row, p portion, of int) float64 {
	field, cell := MLOf(p.number), p.ml
	if cell == "" {
		if common, _ := r.cell(row, ML); common != "" {
			field, cell = ML, common
		} else if of == 1 && row.Entry.Method.AliquotML > 0 {
			return row.Entry.Method.AliquotML
		} else if row.Problems[Method] != "" {
			return 0 // the method might have said
		}
	}
	ml, err := r.number(cell)
	row.note(field, err)
	return ml
}

// amount reads a number that the method has where the row has none.
func (r *reader) amount(row *Row, f Field, usual float64) float64 {
	cell, _ := r.cell(row, f)
	if cell == "" {
		return usual
	}
	v, err := r.number(cell)
	row.note(f, err)
	return v
}

// report reads a density in its unit: the row's, else the header's.
func (r *reader) report(row *Row, density string) {
	report := &row.Entry.Report
	var err error
	report.Value, err = r.number(density)
	row.note(Density, err)
	report.Unit = r.columns[r.at[Density]].Unit
	if cell, _ := r.cell(row, UnitField); cell != "" {
		if report.Unit = unitOf(cell); report.Unit == 0 {
			row.note(UnitField, assay.Unknown)
		}
	}
	if report.Unit == 0 {
		row.note(UnitField, assay.Missing)
	}
	report.BulkDensity = r.amount(row, BulkDensity, 0)
	if !row.OK() {
		return
	}
	row.Entry.Reading, err = report.Reading()
	r.noteInvalid(row, err, nil)
}

// noteInvalid brings what assay found wrong to the fields of a file.
func (r *reader) noteInvalid(row *Row, err error, portions []portion) {
	if err == nil {
		return
	}
	var invalid *assay.Invalid
	if !errors.As(err, &invalid) {
		row.note(Method, assay.Unknown)
		return
	}
	fields := map[string]Field{
		"soil": Soil, "suspension": Suspension, "aliquots": EggsOf(1),
		"value": Density, "unit": UnitField, "bulk_density": BulkDensity,
	}
	for i, p := range portions {
		at := "aliquots." + strconv.Itoa(i)
		fields[at+".eggs"] = EggsOf(p.number)
		fields[at+".ml"] = MLOf(p.number)
		if p.ml == "" {
			fields[at+".ml"] = ML
		}
	}
	for name, p := range invalid.Fields {
		field, ours := fields[name]
		if !ours {
			field = Method // a method nothing can be counted by
		}
		row.note(field, p)
	}
}
