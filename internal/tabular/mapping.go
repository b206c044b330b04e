package tabular

import (
	"maps"
	"slices"
	"strconv"

	"sixmile/internal/assay"
)

// Decimal is the sign a file parts whole from tenths by.
type Decimal uint8

// The signs.
const (
	AutoDecimal  Decimal = iota // as the file shows
	DecimalPoint                // 2.5; 1,250 is a thousand and more
	DecimalComma                // 2,5; 1.250 is a thousand and more
)

// Memory is what an office has said columns mean, by folded header. It is kept
// as JSON.
type Memory map[string]Column

// Mapping says what the columns of a file hold, by their place from 0.
type Mapping struct {
	Columns []Column
	Decimal Decimal
}

// Guess maps the columns of a sheet: by what is remembered of a header, else by
// what it is likely to mean. The first column of a field has it; later ones are
// left out.
func (s *Sheet) Guess() Mapping {
	m := Mapping{Columns: make([]Column, max(s.Width, len(s.Headers)))}
	taken := map[Field]bool{}
	for i, header := range s.Headers {
		c, known := s.memory[Fold(header)]
		if !known {
			c = guess(header)
		}
		if c.Field != "" && !taken[c.Field] {
			m.Columns[i], taken[c.Field] = c, true
		}
	}
	return m
}

// Remember adds to a memory what a mapping says of a sheet's headers, columns
// that are to be left out included. The old memory stays as it is.
func (s *Sheet) Remember(m Mapping) Memory {
	out := maps.Clone(s.memory)
	if out == nil {
		out = Memory{}
	}
	for i, header := range s.Headers {
		if folded := Fold(header); folded != "" && i < len(m.Columns) {
			out[folded] = m.Columns[i]
		}
	}
	return out
}

// Check returns an *assay.Invalid for a mapping by which no row can be read.
// Its fields are columns, for what is missing, and numbered from zero
// columns.3, for a field that is not one (Unknown) or is there twice (Doubled).
func (m Mapping) Check() error {
	found := map[string]Problem{}
	seen := map[Field]bool{}
	for i, c := range m.Columns {
		field := "columns." + strconv.Itoa(i)
		switch {
		case c.Field == "":
		case !slices.Contains(Fields(), c.Field):
			found[field] = assay.Unknown
		case seen[c.Field]:
			found[field] = assay.Doubled
		}
		seen[c.Field] = true
	}
	counted := seen[Density]
	for i := 1; i <= assay.MaxAliquots; i++ {
		counted = counted || seen[EggsOf(i)]
	}
	if !seen[Code] || !counted {
		found["columns"] = assay.Missing
	}
	if len(found) > 0 {
		return &assay.Invalid{Fields: found}
	}
	return nil
}

// find gives each field its column; -1 is not in the result.
func (m Mapping) find() map[Field]int {
	at := map[Field]int{}
	for i, c := range m.Columns {
		if c.Field != "" {
			at[c.Field] = i
		}
	}
	return at
}
