package tabular

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
)

// Setup is what a file's rows go by where they do not say themselves.
type Setup struct {
	Method  assay.Method   // of rows that name none; zero: such rows are NoMethod
	Methods []assay.Method // what rows may name; of one name the highest version is meant
	Day     time.Time      // of rows without a day; zero: such rows lack it
	// Days outside of these are refused; zero for no bound. Latest is today.
	Earliest, Latest time.Time
}

// Entry is one bag's result as a row gives it.
type Entry struct {
	Code    bag.Code
	Day     time.Time // UTC midnight
	Method  assay.Method
	Count   assay.Count   // when Reading.Basis is Counted
	Report  assay.Report  // when Reading.Basis is Reported
	Reading assay.Reading // what it comes to
}

// Row is a row of a file with its verdict.
type Row struct {
	Line     int      // in the file, from 1
	Cells    []string // as typed, the space around them cut off, by column
	Entry    Entry    // whole only when OK
	Problems map[Field]Problem
	// Earlier is the line on which the file has the same code before; 0: none.
	Earlier int
}

// OK reports whether the row can be stored as it is.
func (r Row) OK() bool { return len(r.Problems) == 0 }

// reader turns cells into rows.
type reader struct {
	at       map[Field]int
	columns  []Column
	with     Setup
	methods  map[string]assay.Method
	decimal  Decimal
	doubtful bool // a comma before three digits may be either
	raw      bool // cells of a workbook, numbers as stored
	from1904 bool
	lines    map[bag.Code]int
}

func (s *Sheet) newReader(m Mapping, with Setup) *reader {
	r := &reader{
		at: m.find(), columns: m.Columns, with: with, methods: map[string]assay.Method{},
		decimal: m.Decimal, raw: s.Format == Workbook, from1904: s.from1904,
		doubtful: s.Format == CSV && s.Delimiter == ';', lines: map[bag.Code]int{},
	}
	if r.decimal == AutoDecimal {
		r.decimal = s.DecimalOf(m)
	}
	for _, m := range with.Methods {
		if known, there := r.methods[m.Name]; !there || m.Version > known.Version {
			r.methods[m.Name] = m
		}
	}
	return r
}

// row reads one row.
func (r *reader) row(line int, cells []string) Row {
	row := Row{Line: line, Cells: trimTail(slices.Clone(cells))}
	for i, cell := range row.Cells {
		row.Cells[i] = literal(cell)
	}
	r.identify(&row)
	r.measure(&row)
	return row
}

// cell is what a row has in a field; false for a field without a column.
func (r *reader) cell(row *Row, f Field) (string, bool) {
	i, mapped := r.at[f]
	if !mapped || i >= len(row.Cells) {
		return "", mapped
	}
	return row.Cells[i], true
}

// note keeps the first problem of a field.
func (row *Row) note(f Field, err error) {
	if err == nil {
		return
	}
	p := assay.NotNumber
	errors.As(err, &p)
	if row.Problems == nil {
		row.Problems = map[Field]Problem{}
	}
	if _, there := row.Problems[f]; !there {
		row.Problems[f] = p
	}
}

// identify reads what says whose result it is, when, and by which method.
func (r *reader) identify(row *Row) {
	cell, _ := r.cell(row, Code)
	code, err := readCode(cell)
	row.note(Code, err)
	if err == nil {
		row.Entry.Code = code
		if row.Earlier = r.lines[code]; row.Earlier > 0 {
			row.note(Code, CodeDoubled)
		} else {
			r.lines[code] = row.Line
		}
	}

	row.Entry.Day = r.with.Day
	if cell, _ := r.cell(row, Day); cell != "" {
		day, err := r.day(cell)
		row.note(Day, err)
		row.Entry.Day = day
	}
	switch d := row.Entry.Day; {
	case row.Problems[Day] != "":
	case d.IsZero():
		row.note(Day, assay.Missing)
	case !r.with.Latest.IsZero() && d.After(r.with.Latest):
		row.note(Day, TooLate)
	case d.Before(r.with.Earliest):
		row.note(Day, TooEarly)
	}

	row.Entry.Method = r.with.Method
	if cell, _ := r.cell(row, Method); cell != "" {
		m, known := r.methods[strings.ReplaceAll(Fold(cell), " ", "_")]
		if !known {
			row.note(Method, assay.Unknown)
		}
		row.Entry.Method = m
	} else if r.with.Method.Name == "" {
		row.note(Method, NoMethod)
	}
}

// readCode reads a bag code and names its problem.
func readCode(cell string) (bag.Code, error) {
	code, err := bag.Parse(cell)
	var parse *bag.ParseError
	if !errors.As(err, &parse) {
		return code, nil
	}
	switch {
	case formula(cell):
		return "", Formula
	case wasNumber(cell):
		return "", CodeAsNumber
	case parse.Reason == bag.Empty:
		return "", assay.Missing
	case parse.Reason == bag.WrongLength:
		return "", CodeLength
	case parse.Reason == bag.Letter:
		return "", CodeLetter
	}
	return "", CodeCheck
}

// wasNumber reports what a spreadsheet makes of a code such as 2345E678 or
// 22222E22: a number far larger than eight digits, or with a sign in it.
func wasNumber(cell string) bool {
	v, err := strconv.ParseFloat(cell, 64)
	return err == nil && v >= 1e8
}

func isCode(cell string) bool {
	_, err := bag.Parse(literal(strings.TrimSpace(cell)))
	return err == nil
}
