package tabular

import (
	"fmt"
	"io"
	"slices"

	"github.com/xuri/excelize/v2"

	"sixmile/internal/assay"
)

// Template is an empty file for a lab to fill in.
type Template struct {
	Portions int  // columns of eggs and milliliters, 1 to assay.MaxAliquots
	Reported bool // columns for a reported density in their place
}

// docs picks the dictionary's lines that the template has columns for.
func (t Template) docs(all []FieldDoc) []FieldDoc {
	has := []Field{Code, Day, Method, Soil, Suspension, ML}
	if t.Reported {
		has = []Field{Code, Day, Method, Density, UnitField, BulkDensity}
	}
	for i := 1; i <= min(max(t.Portions, 1), assay.MaxAliquots) && !t.Reported; i++ {
		has = append(has, EggsOf(i))
		if t.Portions > 1 {
			has = append(has, MLOf(i))
		}
	}
	has = append(has, Cyst, Juveniles)
	var docs []FieldDoc
	for _, f := range has {
		if i := slices.IndexFunc(all, func(d FieldDoc) bool { return d.Field == f }); i >= 0 {
			docs = append(docs, all[i])
		}
	}
	return docs
}

// WriteCSV writes the template as text, with the headers of a dictionary.
func (t Template) WriteCSV(w io.Writer, dictionary []FieldDoc) error {
	var headers []string
	for _, d := range t.docs(dictionary) {
		headers = append(headers, d.Header)
	}
	if err := writeCSV(w, [][]string{headers}); err != nil {
		return fmt.Errorf("WriteCSV: %w", err)
	}
	return nil
}

// Worksheets of a template.
const (
	countsSheet     = "Counts"
	dictionarySheet = "Columns"
)

// WriteWorkbook writes the template as a workbook: a worksheet to fill in, its
// code column kept as text and its choices as lists, and a worksheet with the
// dictionary. The same template always gives the same bytes.
func (t Template) WriteWorkbook(w io.Writer, dictionary []FieldDoc) error {
	f := excelize.NewFile()
	defer f.Close()
	b := builder{f: f}
	b.do(f.SetSheetName("Sheet1", countsSheet))
	b.do(f.SetDocProps(&excelize.DocProperties{Title: "Counts", Created: "2026-01-01T00:00:00Z", Modified: "2026-01-01T00:00:00Z"}))
	docs := t.docs(dictionary)
	b.counts(docs)
	b.columns(docs)
	if b.err == nil {
		_, b.err = f.WriteTo(w)
	}
	if b.err != nil {
		return fmt.Errorf("WriteWorkbook: %w", b.err)
	}
	return nil
}

// builder keeps the first error of many steps.
type builder struct {
	f   *excelize.File
	err error
}

func (b *builder) do(err error) {
	if b.err == nil {
		b.err = err
	}
}

func (b *builder) style(s *excelize.Style) int {
	id, err := b.f.NewStyle(s)
	b.do(err)
	return id
}

// Number formats of a workbook that every reader knows: text, and a date in the
// order of the reader's own country.
const (
	textFormat = 49
	dateFormat = 14
)

func (b *builder) counts(docs []FieldDoc) {
	header := b.style(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	for i, d := range docs {
		column, err := excelize.ColumnNumberToName(i + 1)
		b.do(err)
		b.do(b.f.SetColWidth(countsSheet, column, column, 13))
		switch d.Field {
		case Code, UnitField, Method:
			b.do(b.f.SetColStyle(countsSheet, column, b.style(&excelize.Style{NumFmt: textFormat})))
		case Day:
			b.do(b.f.SetColStyle(countsSheet, column, b.style(&excelize.Style{NumFmt: dateFormat})))
		}
		b.choices(column, d.Field)
		b.do(b.f.SetCellStr(countsSheet, column+"1", d.Header))
		b.do(b.f.SetCellStyle(countsSheet, column+"1", column+"1", header))
	}
	b.do(b.f.SetPanes(countsSheet, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
}

// choices puts a list on a column whose cells are one of a few.
func (b *builder) choices(column string, f Field) {
	var list []string
	switch f {
	case Cyst, Juveniles:
		list = []string{"yes", "no"}
	case UnitField:
		list = unitTexts()
	default:
		return
	}
	v := excelize.NewDataValidation(true)
	v.Sqref = fmt.Sprintf("%s2:%s%d", column, column, MaxRows+1)
	b.do(v.SetDropList(list))
	b.do(b.f.AddDataValidation(countsSheet, v))
}

func (b *builder) columns(docs []FieldDoc) {
	_, err := b.f.NewSheet(dictionarySheet)
	b.do(err)
	b.do(b.f.SetSheetRow(dictionarySheet, "A1", &[]string{"Column", "Kind", "Unit", "Needed", "Allowed", "Example", "Meaning"}))
	for i, d := range docs {
		b.do(b.f.SetSheetRow(dictionarySheet, fmt.Sprintf("A%d", i+2), &[]string{d.Header, d.Kind, d.Unit, string(d.Need), d.Allowed, d.Example, d.Meaning}))
	}
	b.do(b.f.SetColWidth(dictionarySheet, "A", "D", 16))
	b.do(b.f.SetColWidth(dictionarySheet, "E", "G", 48))
}
