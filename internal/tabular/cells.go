package tabular

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/assay"
)

// Cells hands over the rows below the header as they stand, for files that hold
// something else than a day's counts. Blank rows are passed over, ="text" is
// text. It stops at the first error of yield, which it returns, and at the end
// of ctx. Cells are the caller's to keep.
func (s *Sheet) Cells(ctx context.Context, yield func(line int, cells []string) error) error {
	var stopped error
	err := s.source.each(func(line int, cells []string) bool {
		if line <= s.Header || blank(cells) {
			return true
		}
		row := trimTail(slices.Clone(cells))
		for i, cell := range row {
			row[i] = literal(cell)
		}
		if stopped = ctx.Err(); stopped == nil {
			stopped = yield(line, row)
		}
		return stopped == nil
	})
	if err = firstOf(stopped, err); err != nil {
		return fmt.Errorf("Cells: %w", err)
	}
	return nil
}

// Values reads single cells of a sheet by its decimal sign and calendar.
type Values struct{ r *reader }

// Values makes the reader of a sheet's cells. Only columns that hold numbers
// belong into the mapping: they show which decimal sign is meant.
func (s *Sheet) Values(numbers Mapping) Values { return Values{s.newReader(numbers, Setup{})} }

// Number reads a number that is not negative; the error is a Problem. Decimals
// beyond the sixth, as a spreadsheet works them out, are cut off.
func (v Values) Number(cell string) (float64, error) {
	n, err := v.r.number(cell)
	if err == assay.TooLarge {
		return v.r.number(shortened(cell))
	}
	return n, err
}

// shortened cuts a long row of decimals to six.
func shortened(cell string) string {
	at := strings.LastIndexAny(cell, ".,")
	if at < 0 || len(cell)-at-1 <= 6 || strings.Trim(cell[at+1:], "0123456789") != "" {
		return cell
	}
	return cell[:at+7]
}

// Coordinate reads a coordinate: a number that may be negative, or have the
// letter of its direction behind it, "93.6184 W".
func (v Values) Coordinate(cell string) (float64, error) {
	if formula(cell) && !strings.HasPrefix(cell, "+") {
		return 0, Formula
	}
	text := strings.TrimPrefix(strings.ReplaceAll(strings.TrimPrefix(cell, "'"), "\u2212", "-"), "+")
	sign := 1.0
	if end := len(text) - 1; end > 0 && strings.ContainsRune("NSEWnsew", rune(text[end])) {
		if strings.ContainsRune("SWsw", rune(text[end])) {
			sign = -1
		}
		text = text[:end]
	}
	text = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "°"))
	if rest, minus := strings.CutPrefix(text, "-"); minus {
		sign, text = -sign, rest
	}
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") && !groups(text, ",") {
		text = strings.Replace(text, ",", ".", 1)
	}
	if groups(strings.SplitN(text, ".", 2)[0], ",") {
		text = strings.ReplaceAll(text, ",", "")
	}
	if text == "" {
		return 0, assay.Missing
	}
	if strings.Trim(text, "0123456789.") != "" && !v.r.raw || len(text) > 40 {
		return 0, assay.NotNumber
	}
	n, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(n, 0) || math.IsNaN(n) {
		return 0, assay.NotNumber
	}
	return sign * n, nil
}

// firstYear is the earliest year of a date in a file of past results.
const firstYear = 1950

// Date reads a date as a file of counts has it, of any year from 1950.
func (v Values) Date(cell string) (time.Time, error) {
	d, err := v.r.dayFrom(cell, firstYear)
	if err == nil && d.Year() < firstYear {
		return time.Time{}, NotDate
	}
	return d, err
}

// UnitOf reads a unit as people write it; 0 for none.
func UnitOf(text string) assay.Unit { return unitOf(text) }

// YesNo reads a yes or a no; an empty cell is a no, and the error NotYesNo.
func YesNo(cell string) (bool, error) { return yesNo(cell) }

// WriteRows writes a text that spreadsheets open as they should: byte order
// mark, commas, CRLF.
func WriteRows(w io.Writer, rows [][]string) error { return writeCSV(w, rows) }
