package press

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"sixmile/internal/annual"
)

// CSV writes a table as RFC 4180 has it, in UTF-8 with the mark that spreadsheets
// know it by, under the columns' plain names. Text that a spreadsheet would take
// for a formula gets an apostrophe before it (common practice; there is no standard
// for it). Numbers have a point and no grouping, shares are of one, days are
// year-month-day.
func CSV(w io.Writer, t annual.Table) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return fmt.Errorf("press.CSV: %w", err)
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	head := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		head[i] = c.Name
	}
	if err := out.Write(head); err != nil {
		return fmt.Errorf("press.CSV: %w", err)
	}
	cells := make([]string, len(t.Columns))
	err := t.Each(func(row []any) error {
		for i, v := range row {
			cells[i] = csvCell(t.Columns[i].Kind, v)
		}
		return out.Write(cells)
	})
	out.Flush()
	if err == nil {
		err = out.Error()
	}
	if err != nil {
		return fmt.Errorf("press.CSV: %w", err)
	}
	return nil
}

func csvCell(k annual.Kind, v any) string {
	switch v := v.(type) {
	case string:
		return Harmless(v)
	case int:
		return strconv.Itoa(v)
	case float64:
		if k == annual.Share { // as many digits as its interval has
			v = math.Round(v*1e4) / 1e4
		}
		return strconv.FormatFloat(v, 'f', -1, 64)
	case time.Time:
		return v.Format(time.DateOnly)
	}
	return ""
}

// Harmless keeps a spreadsheet from taking a cell of text for a formula.
func Harmless(cell string) string {
	first, _ := utf8.DecodeRuneInString(strings.TrimLeft(cell, " \u00a0"))
	if strings.ContainsRune("=+-@\t\r\n＝＋－＠", first) {
		return "'" + cell
	}
	return cell
}
