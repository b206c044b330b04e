package press

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"sixmile/internal/annual"
)

// table streams a table onto a worksheet of its own: the band where there is one,
// the headings, the rows, and the totals.
func (w *bookWriter) table(t annual.Table, total string) error {
	name, head := sheetName(t.Title), 1
	if w.b.Band != "" {
		head = 2
	}
	sw, err := w.sheet(name, len(t.Columns) > 5, head)
	if err != nil {
		return err
	}
	headLines, err := widths(sw, t)
	if err != nil {
		return err
	}
	keys := 0
	for keys < min(3, len(t.Columns)-1) && t.Columns[keys].Kind == annual.Text {
		keys++
	}
	corner, err := excelize.CoordinatesToCellName(keys+1, head+1)
	if err != nil {
		return err
	}
	if err := sw.SetPanes(&excelize.Panes{Freeze: true, XSplit: keys, YSplit: head, TopLeftCell: corner, ActivePane: "bottomRight"}); err != nil {
		return err
	}
	if w.b.Band != "" {
		if err := w.banner(sw, len(t.Columns)); err != nil {
			return err
		}
	}
	heads := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		heads[i] = excelize.Cell{StyleID: w.style["head"], Value: c.Title}
	}
	if err := sw.SetRow(fmt.Sprintf("A%d", head), heads, tallEnough(headLines)); err != nil {
		return err
	}
	rows := &rowWriter{w: w, sw: sw, t: t, first: head + 1, at: head + 1, sums: make([]float64, len(t.Columns))}
	if err := t.Each(rows.row); err != nil {
		return err
	}
	if t.Total && rows.at > rows.first {
		if err := rows.total(name, total); err != nil {
			return err
		}
	}
	return sw.Flush()
}

// banner says over the headings whose copy it is.
func (w *bookWriter) banner(sw *excelize.StreamWriter, columns int) error {
	cells := make([]any, columns)
	for i := range cells {
		cells[i] = excelize.Cell{StyleID: w.style["band"]}
	}
	cells[0] = excelize.Cell{StyleID: w.style["band"], Value: w.b.Band}
	return sw.SetRow("A1", cells)
}

// Widths of columns in letters, and of what is longer than a line.
const (
	longWidth  = 60
	lineHeight = 13.5 // of a line of type, in points
	readWidth  = 100
)

// width is as wide as a column's kind, and its longest word, ask for.
func columnWidth(c annual.Column) float64 {
	width := 9.5
	switch {
	case long(c.Name):
		return longWidth
	case c.Kind == annual.Text && strings.HasSuffix(c.Name, "_code"), c.Name == "edition", c.Name == "added_by":
		width = 12
	case c.Kind == annual.Text:
		width = 18
	case c.Kind == annual.Money || c.Kind == annual.Day:
		width = 12
	}
	for word := range strings.FieldsSeq(c.Title) {
		width = max(width, float64(len([]rune(word)))+2)
	}
	return width
}

// widths sets each column's width; headLines is how many lines the headings need.
func widths(sw *excelize.StreamWriter, t annual.Table) (headLines int, err error) {
	headLines = 1
	for i, c := range t.Columns {
		width := columnWidth(c)
		headLines = max(headLines, lines(c.Title, width-2))
		if err := sw.SetColWidth(i+1, i+1, width); err != nil {
			return 0, err
		}
	}
	return headLines, nil
}

// lines is how many lines a text takes in so many letters: rows that are streamed
// do not grow by themselves.
func lines(s string, width float64) int {
	n, at := 1, 0.0
	for word := range strings.FieldsSeq(s) {
		w := float64(len([]rune(word)))
		if at > 0 && at+1+w > width {
			n, at = n+1, 0
		} else if at > 0 {
			at++
		}
		at += w
	}
	return n
}

func tallEnough(lines int) excelize.RowOpts {
	if lines < 2 {
		return excelize.RowOpts{}
	}
	return excelize.RowOpts{Height: lineHeight * float64(lines)}
}

// rowWriter writes the rows of one worksheet.
type rowWriter struct {
	w         *bookWriter
	sw        *excelize.StreamWriter
	t         annual.Table
	first, at int
	sums      []float64
	cells     []any
}

func (r *rowWriter) row(row []any) error {
	r.cells = r.cells[:0]
	tall := 1
	for i, v := range row {
		c := r.t.Columns[i]
		r.add(i, v)
		cell := excelize.Cell{StyleID: r.w.style[fmt.Sprint("cell", c.Kind)], Value: v}
		if text, is := v.(string); is && long(c.Name) {
			cell.StyleID = r.w.style["wrap"]
			tall = max(tall, lines(text, longWidth))
		}
		if c.Formula != "" && v != nil {
			cell.Formula = "=" + c.Fill(r.reference(r.at))
		}
		r.cells = append(r.cells, cell)
	}
	err := r.sw.SetRow(fmt.Sprintf("A%d", r.at), r.cells, tallEnough(tall))
	r.at++
	return err
}

func long(column string) bool {
	return column == "meaning" || column == "source" || column == "member_codes"
}

func (r *rowWriter) add(i int, v any) {
	switch v := v.(type) {
	case int:
		r.sums[i] += float64(v)
	case float64:
		r.sums[i] += v
	}
}

// reference is a column's cell in a row.
func (r *rowWriter) reference(row int) func(string) string {
	return func(name string) string {
		cell, err := excelize.CoordinatesToCellName(r.t.Column(name)+1, row)
		if err != nil {
			return "#REF!"
		}
		return cell
	}
}

// total closes the table: sums by SUM, and what is worked out by the formula of its
// column, each with the value that it comes to.
func (r *rowWriter) total(sheet, word string) error {
	r.cells = r.cells[:0]
	for i, c := range r.t.Columns {
		cell := excelize.Cell{StyleID: r.w.style[fmt.Sprint("total", c.Kind)]}
		if c.Kind == annual.Text {
			cell.StyleID = r.w.style["total"]
		}
		switch {
		case i == 0:
			cell.Value = word
		case c.Sum:
			at := r.reference(r.at)(c.Name)
			from, to := r.reference(r.first)(c.Name), r.reference(r.at-1)(c.Name)
			cell.Formula, cell.Value = "=SUM("+from+":"+to+")", r.sums[i]
			r.w.totals[TotalOf{r.t.Name, c.Name}] = "'" + sheet + "'!" + at
		case c.Formula != "":
			cell.Formula = "=" + c.Fill(r.reference(r.at))
			if v, ok := r.ratio(c); ok {
				cell.Value = v
			}
		}
		r.cells = append(r.cells, cell)
	}
	err := r.sw.SetRow(fmt.Sprintf("A%d", r.at), r.cells)
	r.at++
	return err
}

// ratio is what a share of two sums comes to: its formula names the whole, the
// part and the whole again.
func (r *rowWriter) ratio(c annual.Column) (float64, bool) {
	names := c.Names()
	if c.Kind != annual.Share || len(names) != 3 {
		return 0, false
	}
	part, whole := r.sums[r.t.Column(names[1])], r.sums[r.t.Column(names[0])]
	if whole <= 0 {
		return 0, false
	}
	return part / whole, true
}

// readMe is the first worksheet: what the book is, what is not in it, and whether
// it adds up.
func (w *bookWriter) readMe() error {
	sw, err := w.sheet(sheetName(w.b.Words.ReadMe), false, 0)
	if err != nil {
		return err
	}
	if err := sw.SetColWidth(1, 1, readWidth); err != nil {
		return err
	}
	if err := sw.SetColWidth(2, 2, 14); err != nil {
		return err
	}
	row := 1
	scale := 0.55 // of the type that is set, against the width of a column
	put := func(style string, cells ...excelize.Cell) error {
		values := make([]any, len(cells))
		for i, c := range cells {
			if i == 0 {
				c.StyleID = w.style[style]
			}
			values[i] = c
		}
		text, _ := cells[0].Value.(string)
		err := sw.SetRow(fmt.Sprintf("A%d", row), values, tallEnough(lines(text, scale*readWidth)))
		row++
		return err
	}
	if w.b.Band != "" {
		if err := put("band", excelize.Cell{Value: w.b.Band}); err != nil {
			return err
		}
	}
	if err := put("title", excelize.Cell{Value: w.b.Title}); err != nil {
		return err
	}
	scale = 1.1
	for _, line := range w.b.Lines {
		if err := put("wrap", excelize.Cell{Value: line}); err != nil {
			return err
		}
	}
	if len(w.b.Balance) > 0 {
		row++
		if err := put("head", excelize.Cell{Value: w.b.Words.BalanceHead}, excelize.Cell{StyleID: w.style["head"], Value: w.b.Words.BalanceValue}); err != nil {
			return err
		}
	}
	for _, b := range w.b.Balance {
		of, there := w.totals[b.Of]
		if !there {
			continue // a table without rows has no total
		}
		formula := "=" + of
		for _, l := range b.Less {
			if at, there := w.totals[l]; there {
				formula += "-" + at
			}
		}
		if err := put("wrap", excelize.Cell{Value: b.Label}, excelize.Cell{StyleID: w.style["cell1"], Formula: formula, Value: 0}); err != nil {
			return err
		}
	}
	return sw.Flush()
}
