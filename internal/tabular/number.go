package tabular

import (
	"math"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/assay"
)

// signs is what a column shows of the decimal sign.
type signs struct{ point, comma bool }

// noteSigns looks at the cells of a row that are made of digits and signs only.
func (s *Sheet) noteSigns(cells []string) {
	for i, cell := range cells {
		if i == len(s.signs) {
			s.signs = append(s.signs, signs{})
		}
		cell = strings.TrimSpace(cell)
		if strings.ContainsAny(cell, ".,") && len(cell) <= 20 && strings.Trim(cell, "0123456789.,") == "" {
			s.signs[i].note(cell)
		}
	}
}

func (s *signs) note(cell string) {
	point, comma := strings.Count(cell, "."), strings.Count(cell, ",")
	lastPoint, lastComma := strings.LastIndexByte(cell, '.'), strings.LastIndexByte(cell, ',')
	switch {
	case point == 1 && comma == 0 && !groups(cell, "."),
		point == 1 && comma >= 1 && lastPoint > lastComma:
		s.point = true
	case comma == 1 && point == 0 && !groups(cell, ","),
		comma == 1 && point >= 1 && lastComma > lastPoint:
		s.comma = true
	}
}

// DecimalOf is the decimal sign that the columns of numbers show: DecimalPoint,
// DecimalComma, or AutoDecimal for neither or both. Columns that a mapping leaves
// out have no say: a note may read 3,4. A workbook stores its numbers without a
// sign of its own.
func (s *Sheet) DecimalOf(m Mapping) Decimal {
	var all signs
	for i, c := range m.Columns {
		switch c.Field {
		case "", Code, Day, Method, Cyst, Juveniles, UnitField:
			continue
		}
		if i < len(s.signs) {
			all.point = all.point || s.signs[i].point
			all.comma = all.comma || s.signs[i].comma
		}
	}
	return all.decimal()
}

// decimal is the sign that was seen; AutoDecimal for none, or for both, when
// cells with commas are refused one by one.
func (s signs) decimal() Decimal {
	switch {
	case s.point && !s.comma:
		return DecimalPoint
	case s.comma && !s.point:
		return DecimalComma
	}
	return AutoDecimal
}

// groups reports digits in groups of three after the sign, so that the sign may
// part thousands: "1,250", but neither "0,250" nor "1,25" nor "1250,000".
func groups(cell, sign string) bool {
	parts := strings.Split(cell, sign)
	for i, p := range parts {
		if i == 0 && (p == "" || len(p) > 3 || p[0] == '0') || i > 0 && len(p) != 3 {
			return false
		}
	}
	return len(parts) > 1
}

// number reads a cell as a number, by the file's decimal sign.
func (r *reader) number(cell string) (float64, error) {
	if cell == "" {
		return 0, assay.Missing
	}
	if formula(cell) {
		return 0, Formula
	}
	if r.raw {
		cell = plain(cell)
	}
	cell = ungroup(cell)
	switch {
	case r.decimal == DecimalComma && !(r.raw && !strings.Contains(cell, ",")):
		if strings.Contains(cell, ".") && !groups(strings.Split(cell, ",")[0], ".") {
			return 0, assay.NotNumber
		}
		cell = strings.ReplaceAll(strings.ReplaceAll(cell, ".", ""), ",", ".")
	case r.decimal == AutoDecimal && strings.Contains(cell, ","):
		switch {
		case groups(cell, ",") && r.doubtful:
			return 0, Ambiguous
		case strings.Count(cell, ",") == 1 && !strings.Contains(cell, ".") && !groups(cell, ","):
			cell = strings.Replace(cell, ",", ".", 1)
		}
	}
	return assay.ParseNumber(cell)
}

// ungroup takes off the apostrophe by which a spreadsheet marks a number kept as
// text, and the signs that part thousands elsewhere.
func ungroup(cell string) string {
	cell = strings.TrimPrefix(cell, "'")
	whole := cell
	if i := strings.IndexAny(cell, ".,"); i >= 0 {
		whole = cell[:i]
	}
	for _, sign := range []string{"\u00a0", "\u202f", "'"} {
		if groups(whole, sign) {
			return strings.ReplaceAll(whole, sign, "") + cell[len(whole):]
		}
	}
	return cell
}

// plain brings a number as a workbook stores it, 2.2999999999999998 or 1.5E-2,
// to the form in which it was typed. Text stays.
func plain(cell string) string {
	if !strings.ContainsAny(cell, ".eE") || strings.Trim(cell, "0123456789.eE+-") != "" {
		return cell
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return cell
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 15, 64), 64)
	if err != nil {
		return cell
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// formula reports a formula as text. A number with its sign is none.
func formula(cell string) bool {
	return strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "@") || strings.HasPrefix(cell, "+")
}

// literal takes a text out of ="text", by which people keep a spreadsheet's
// hands off it.
func literal(cell string) string {
	inner, ok := strings.CutPrefix(cell, `="`)
	if !ok {
		return cell
	}
	inner, ok = strings.CutSuffix(inner, `"`)
	if !ok || strings.Contains(inner, `"`) {
		return cell
	}
	return strings.TrimSpace(inner)
}

// day reads a date: 2026-11-25, 11/25/2026, 11/25/26, 25.11.2026, Nov 25, 2026,
// or the day number of a workbook. Slashes are American: month first. A clock
// time after it is dropped, as none is ever kept.
func (r *reader) day(cell string) (time.Time, error) { return r.dayFrom(cell, 2000) }

// dayFrom is day with the earliest year that a workbook's number is taken for.
func (r *reader) dayFrom(cell string, earliest int) (time.Time, error) {
	if formula(cell) {
		return time.Time{}, Formula
	}
	if r.raw {
		if n, err := strconv.ParseFloat(cell, 64); err == nil {
			return serialDay(n, r.from1904, earliest)
		}
	}
	for _, layout := range []string{"2006-1-2", "1/2/2006", "1/2/06", "1-2-2006", "2.1.2006", "2.1.06", "2006/1/2", "Jan 2, 2006", "January 2, 2006", "2 Jan 2006", "2-Jan-2006", "2-Jan-06", "20060102"} {
		for _, text := range []string{cell, beforeTime(cell)} {
			if d, err := time.Parse(layout, text); err == nil {
				return d, nil
			}
		}
	}
	return time.Time{}, NotDate
}

// beforeTime cuts a clock time off a date.
func beforeTime(cell string) string {
	if i := strings.IndexAny(cell, "T"); i == len("2006-01-02") {
		return cell[:i]
	}
	if i := strings.LastIndexByte(cell, ' '); i > 0 && strings.Contains(cell[i:], ":") {
		return strings.TrimSpace(cell[:i])
	}
	if fields := strings.Fields(cell); len(fields) == 3 && strings.Contains(fields[1], ":") {
		return fields[0] // 11/25/2026 2:03 PM
	}
	return cell
}

// serialDay is the day of a workbook's number. The first of the two calendars
// counts from 1900 and takes 1900 for a leap year, hence December 30; numbers
// before the earliest year or after this century are no dates.
func serialDay(n float64, from1904 bool, earliest int) (time.Time, error) {
	from := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if from1904 {
		from = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	if !(n >= 1 && n < 100_000) {
		return time.Time{}, NotDate
	}
	d := from.AddDate(0, 0, int(n))
	if d.Year() < earliest || d.Year() > 2099 {
		return time.Time{}, NotDate
	}
	return d, nil
}

// yesNo reads a yes or a no; an empty cell is a no.
func yesNo(cell string) (bool, error) {
	switch strings.ToLower(cell) {
	case "", "n", "no", "0", "false", "-", "none", "f":
		return false, nil
	case "y", "yes", "1", "true", "x", "+", "t":
		return true, nil
	}
	return false, NotYesNo
}
