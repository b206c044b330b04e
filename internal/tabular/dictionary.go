package tabular

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"sixmile/internal/assay"
)

// Need says when a row needs a field.
type Need string

// The needs.
const (
	Always    Need = "always"
	OneOf     Need = "eggs or density" // one of the two kinds of result
	Sometimes Need = "sometimes"       // where the office has picked nothing for the file, or its neighbor asks for it
	Never     Need = "optional"
)

// FieldDoc is a line of the data dictionary.
type FieldDoc struct {
	Field   Field
	Header  string // as a template writes it
	Kind    string // code, date, whole number, number, yes or no, choice
	Unit    string
	Need    Need
	Allowed string
	Example string
	Meaning string
}

// Dictionary describes every field, in the order of a template. The words are
// American English; a page in another language puts its own in their place.
func Dictionary() []FieldDoc {
	docs := []FieldDoc{
		{Code, "Bag code", "code", "", Always, "8 letters and digits, the last one checks the rest", "", "The code printed on the bag and the cup. Once in a file. Keep the column as text, or a spreadsheet may turn 2345E678 into a number."},
		{Day, "Date counted", "date", "", Sometimes, "2026-11-25 or 11/25/2026 (month first)", "2026-11-25", "The day of the count. A clock time is dropped. Left out: the day picked for the file."},
		{Method, "Method", "choice", "", Sometimes, "the name of a method of the office", assay.MethodSoil100, "The recipe the count was made by. Left out: the one picked for the file."},
		{Soil, "Soil (cm³)", "number", "cm³", Never, "over 0 to " + strconv.Itoa(assay.MaxSoilCM3), "100", "Soil washed. Left out: the method's."},
		{Suspension, "Suspension (mL)", "number", "mL", Never, "over 0 to " + strconv.Itoa(assay.MaxSuspensionML), "100", "What the eggs were brought up to. Left out: the method's."},
		{ML, "mL looked at", "number", "mL", Sometimes, "over 0, all portions together at most the suspension", "2", "Milliliters of each portion that has none of its own. May be left out with one portion: the method's."},
	}
	for i := 1; i <= assay.MaxAliquots; i++ {
		n := strconv.Itoa(i)
		need := Never
		if i == 1 {
			need = OneOf
		}
		docs = append(docs,
			FieldDoc{EggsOf(i), "Eggs " + n, "whole number", "eggs", need, "0 to " + strconv.Itoa(assay.MaxEggsPerML) + " in a mL", "42", "Eggs counted in portion " + n + ". Zero is a count; an empty cell is none."},
			FieldDoc{MLOf(i), "mL " + n, "number", "mL", Never, "over 0", "2", "Milliliters of portion " + n + ", if not as in “mL looked at”."})
	}
	return append(docs,
		FieldDoc{Cyst, "Cyst seen", "yes or no", "", Never, "yes, no, or empty for no", "no", "A cyst or a white female was seen."},
		FieldDoc{Juveniles, "Juveniles seen", "yes or no", "", Never, "yes, no, or empty for no", "no", "Juveniles were seen."},
		FieldDoc{Density, "Density", "number", "see Unit", OneOf, "0 and over, at most 1,000,000 per 100 cm³", "2100", "Eggs in so much soil, from a lab that reports nothing else. Not together with eggs."},
		FieldDoc{UnitField, "Unit", "choice", "", Sometimes, unitList(), "per 100 cm3", "What the density is of. Needed with a density whose header does not say it."},
		FieldDoc{BulkDensity, "Bulk density (g/cm³)", "number", "g/cm³", Sometimes, fmt.Sprintf("%v to %v", assay.MinBulkDensity, assay.MaxBulkDensity), "1.3", "Dry bulk density of the soil. Needed with a unit by weight."})
}

// unitText is a unit as a template offers it.
func unitText(u assay.Unit) string { return strings.ReplaceAll(u.String(), "_", " ") }

func unitTexts() []string {
	var texts []string
	for _, u := range assay.Units() {
		texts = append(texts, unitText(u))
	}
	return texts
}

func unitList() string { return strings.Join(unitTexts(), ", ") }

// WriteDictionary writes a dictionary as a text that spreadsheets open as they
// should: byte order mark, commas, CRLF.
func WriteDictionary(w io.Writer, docs []FieldDoc) error {
	rows := [][]string{{"Column", "Kind", "Unit", "Needed", "Allowed", "Example", "Meaning"}}
	for _, d := range docs {
		rows = append(rows, []string{d.Header, d.Kind, d.Unit, string(d.Need), d.Allowed, d.Example, d.Meaning})
	}
	return writeCSV(w, rows)
}

func writeCSV(w io.Writer, rows [][]string) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	c := csv.NewWriter(w)
	c.UseCRLF = true
	return c.WriteAll(rows)
}
