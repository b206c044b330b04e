package annual

import (
	"fmt"
	"strings"
	"time"

	"sixmile/internal/money"
	"sixmile/internal/place"
)

// Kind is what a column holds: text, whole numbers, shares of one, measures,
// dollars or days.
type Kind uint8

// The kinds.
const (
	Text Kind = iota
	Whole
	Share
	Measure
	Money
	Day
	Year // a whole number that is not grouped
)

// Column is a column of a table.
type Column struct {
	Name  string // in files: small letters, digits and underscores
	Title string // for people
	About string // what it means, with its unit
	Kind  Kind
	// Sum: the total row adds the column up. Formula, where there is one, works
	// the cell out from others of its row, each by its name in braces; the value
	// in the row is what it comes to. The total row uses it too.
	Sum     bool
	Formula string
}

// Table is rows under columns.
type Table struct {
	Name    string // of the file
	Title   string // of the worksheet
	About   string
	Columns []Column
	// Each hands on the rows, one at a time, and stops at the first error. A value
	// is a string, an int, a float64, a time.Time, or nil for nothing to say. It may
	// be called more than once and hands on the same rows.
	Each func(see func([]any) error) error
	// Total: a row that sums the table up closes it, where it is a worksheet.
	Total bool
	// Places: the id of each row's place, in the order of the rows, where the table
	// is one row a place and can be drawn.
	Places []place.ID
	// Kind of those places.
	Drawn place.Kind
	// Restricted marks a sheet of the office's own.
	Restricted bool
}

// Column finds a column by its name; -1 where there is none.
func (t Table) Column(name string) int {
	for i, c := range t.Columns {
		if c.Name == name {
			return i
		}
	}
	return -1
}

// Rows collects the rows.
func (t Table) Rows() ([][]any, error) {
	var out [][]any
	err := t.Each(func(row []any) error {
		out = append(out, row)
		return nil
	})
	return out, err
}

// Check finds what a writer could not write: a row of another length than the
// columns, a value of another kind than its column, a formula that names a column
// the table has not, or two columns of one name.
func (t Table) Check() error {
	seen := make(map[string]bool)
	for _, c := range t.Columns {
		if seen[c.Name] || c.Name == "" {
			return fmt.Errorf("annual: table %s: column %q stands twice or has no name", t.Name, c.Name)
		}
		seen[c.Name] = true
	}
	for _, c := range t.Columns {
		for _, name := range formulaNames(c.Formula) {
			if !seen[name] {
				return fmt.Errorf("annual: table %s: the formula of %s names %q", t.Name, c.Name, name)
			}
		}
	}
	rows := 0
	err := t.Each(func(row []any) error {
		rows++
		return t.checkRow(rows, row)
	})
	if err == nil && t.Places != nil && len(t.Places) != rows {
		err = fmt.Errorf("annual: table %s: %d places for %d rows", t.Name, len(t.Places), rows)
	}
	return err
}

func (t Table) checkRow(n int, row []any) error {
	if len(row) != len(t.Columns) {
		return fmt.Errorf("annual: table %s, row %d: %d values for %d columns", t.Name, n, len(row), len(t.Columns))
	}
	for i, v := range row {
		good := v == nil
		switch t.Columns[i].Kind {
		case Text:
			_, is := v.(string)
			good = good || is
		case Whole, Year:
			_, is := v.(int)
			good = good || is
		case Share, Measure, Money:
			_, is := v.(float64)
			good = good || is
		case Day:
			_, is := v.(time.Time)
			good = good || is
		}
		if !good {
			return fmt.Errorf("annual: table %s, row %d: %s is a %T", t.Name, n, t.Columns[i].Name, v)
		}
	}
	return nil
}

// formulaNames lists the columns that a formula names.
func formulaNames(formula string) (names []string) {
	for {
		_, rest, found := strings.Cut(formula, "{")
		if !found {
			return names
		}
		var name string
		if name, formula, found = strings.Cut(rest, "}"); !found {
			return names
		}
		names = append(names, name)
	}
}

// Fill puts references in the place of the names in the formula.
func (c Column) Fill(reference func(name string) string) string {
	out := c.Formula
	for _, name := range formulaNames(c.Formula) {
		out = strings.ReplaceAll(out, "{"+name+"}", reference(name))
	}
	return out
}

// fixed is a table's rows, held.
func fixed(rows [][]any) func(func([]any) error) error {
	return func(see func([]any) error) error {
		for _, r := range rows {
			if err := see(r); err != nil {
				return err
			}
		}
		return nil
	}
}

// Names lists the columns that the formula names, in its order.
func (c Column) Names() []string { return formulaNames(c.Formula) }

// Dollars is an amount as a workbook has it.
func Dollars(c money.Cents) float64 { return float64(c) / 100 }
