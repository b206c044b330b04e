package tabular

import (
	"fmt"

	"sixmile/internal/assay"
)

// Problem says what is wrong with one cell. It is assay's, with a few more.
type Problem = assay.Problem

// The problems a cell can have beside those of assay.
const (
	CodeLength   Problem = "code_length"    // a bag code has eight characters
	CodeLetter   Problem = "code_letter"    // a character that no code contains
	CodeCheck    Problem = "code_check"     // the check character disagrees
	CodeAsNumber Problem = "code_as_number" // a spreadsheet has turned the code into a number
	Formula      Problem = "formula"        // a formula as text, not its value
	Ambiguous    Problem = "ambiguous"      // 1,250 may be 1250 or one and a quarter here
	NotDate      Problem = "not_date"       // not a date as people write them
	TooEarly     Problem = "too_early"      // before the first day the office takes
	TooLate      Problem = "too_late"       // after today
	NotYesNo     Problem = "not_yes_no"     // neither yes nor no
	BothGiven    Problem = "both_given"     // eggs and a density: which is meant?
	CodeDoubled  Problem = "code_doubled"   // the file has the code on an earlier row too
	NoMethod     Problem = "no_method"      // the row names no method, and none was picked for the file
)

// FileProblem says why a file as a whole cannot be read.
type FileProblem string

// The problems of a file.
const (
	Empty          FileProblem = "empty"            // nothing in it
	TooBig         FileProblem = "too_big"          // over MaxFile
	NotTable       FileProblem = "not_table"        // neither text nor a workbook
	OldWorkbook    FileProblem = "old_workbook"     // the workbook form of before 2007, or one with a password
	Bomb           FileProblem = "unpacks_too_big"  // over MaxUnpacked, or too much of one kind
	Broken         FileProblem = "broken"           // cut short or damaged
	TooManyRows    FileProblem = "too_many_rows"    // over MaxRows
	TooManyColumns FileProblem = "too_many_columns" // over MaxColumns
	Quote          FileProblem = "quote"            // a quotation mark that is never closed, or stands inside a cell
)

// FileError is a file that cannot be read, with the line where that shows; 0
// for the file as a whole.
type FileError struct {
	Problem FileProblem
	Line    int
}

// Error names the problem, never what is in the file.
func (e *FileError) Error() string {
	return fmt.Sprintf("tabular: %s (line %d)", string(e.Problem), e.Line)
}

// Limits on a file, ours. A hundred thousand rows are a hundred times what a
// state program counts in a season.
const (
	MaxFile     = 24 << 20 // bytes
	MaxUnpacked = 96 << 20 // bytes of a workbook's parts together
	MaxRows     = 100_000  // below the header, blank ones not counted
	MaxColumns  = 200
)
