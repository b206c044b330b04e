package press

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"sixmile/internal/annual"
)

// Workbook is a book of tables as a spreadsheet file.
type Workbook struct {
	Title string
	Lines []string // of the first worksheet, that says what the rest is
	// Band stands over every worksheet and at the head of every printed page, "" for
	// none: such as "Not for release".
	Band    string
	Foot    string // of every printed page: edition, date
	Date    time.Time
	Tables  []annual.Table
	Words   WorkbookWords
	Balance []Balance
}

// WorkbookWords are the sentences of the worksheets that are no tables.
type WorkbookWords struct {
	ReadMe, Dictionary, Total              string
	Sheet, Column, Heading, Kind, Meaning  string
	BalanceHead, BalanceNote, BalanceValue string
	Kinds                                  map[annual.Kind]string
}

// Balance is a check on the first worksheet: a total of one table less those of
// others, by formula; it comes to nothing.
type Balance struct {
	Label string
	Of    TotalOf
	Less  []TotalOf
}

// TotalOf is a column's total.
type TotalOf struct{ Table, Column string }

// bookWriter writes one workbook.
type bookWriter struct {
	f      *excelize.File
	b      Workbook
	style  map[string]int
	totals map[TotalOf]string // where each total is
}

// Write streams the workbook. The same book gives the same bytes.
func (b Workbook) Write(w io.Writer) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("press.Workbook: %w", err)
		}
	}()
	f := excelize.NewFile()
	defer func() { err = errors.Join(err, f.Close()) }()
	f.SetZipWriter(func(io.Writer) excelize.ZipWriter { return &steadyZip{to: w, day: b.Date.UTC()} })
	stamp := b.Date.UTC().Format(time.RFC3339)
	if err := f.SetDocProps(&excelize.DocProperties{Title: b.Title, Creator: "Sixmile", LastModifiedBy: "Sixmile", Created: stamp, Modified: stamp}); err != nil {
		return err
	}
	full := true
	if err := f.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: &full}); err != nil {
		return err
	}
	bw := &bookWriter{f: f, b: b, style: map[string]int{}, totals: map[TotalOf]string{}}
	if err := bw.styles(); err != nil {
		return err
	}
	if err := f.SetSheetName("Sheet1", sheetName(b.Words.ReadMe)); err != nil {
		return err
	}
	for _, t := range b.Tables {
		if err := bw.table(t, b.Words.Total); err != nil {
			return fmt.Errorf("%s: %w", t.Name, err)
		}
	}
	if err := bw.table(b.dictionary(), ""); err != nil {
		return err
	}
	if err := bw.readMe(); err != nil {
		return err
	}
	return f.Write(io.Discard)
}

// sheetName is a title as a worksheet may be called.
func sheetName(s string) string {
	s = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]'`, r) {
			return ' '
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 31 {
		s = string(r[:31])
	}
	return s
}

// Colors of worksheets: those of paper and ink.
const (
	headFill = "E9E6DF"
	bandFill = "8B2C35"
	bookFont = "Arial" // every office program has it or one as wide
)

func (w *bookWriter) styles() error {
	border := []excelize.Border{{Type: "bottom", Color: "17120E", Style: 1}}
	top := []excelize.Border{{Type: "top", Color: "17120E", Style: 1}}
	bold := &excelize.Font{Bold: true, Family: bookFont, Size: 10}
	plain := &excelize.Font{Family: bookFont, Size: 10}
	wrap := &excelize.Alignment{WrapText: true, Vertical: "top"}
	formats := map[annual.Kind]string{annual.Whole: "#,##0", annual.Share: "0.0%", annual.Measure: "#,##0.##", annual.Money: `"$"#,##0.00;[Red]-"$"#,##0.00`, annual.Day: "yyyy-mm-dd", annual.Year: "0"}
	styles := map[string]*excelize.Style{
		"head":  {Font: bold, Border: border, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{headFill}}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "bottom"}},
		"band":  {Font: &excelize.Font{Bold: true, Color: "FFFFFF", Family: bookFont, Size: 12}, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{bandFill}}},
		"title": {Font: &excelize.Font{Bold: true, Family: bookFont, Size: 16}},
		"wrap":  {Font: plain, Alignment: wrap},
		"cell0": {Font: plain},
		"total": {Font: bold, Border: top},
	}
	for kind, format := range formats {
		styles[fmt.Sprint("cell", kind)] = &excelize.Style{CustomNumFmt: &format, Font: plain}
		styles[fmt.Sprint("total", kind)] = &excelize.Style{CustomNumFmt: &format, Font: bold, Border: top}
	}
	for _, name := range []string{"head", "band", "title", "wrap", "total", "cell0", "cell1", "cell2", "cell3", "cell4", "cell5", "cell6", "total1", "total2", "total3", "total4", "total5", "total6"} {
		id, err := w.f.NewStyle(styles[name])
		if err != nil {
			return err
		}
		w.style[name] = id
	}
	return nil
}

// sheet begins a worksheet, set up for printing: letter paper on its side, as wide
// as one page, the heading on each.
func (w *bookWriter) sheet(name string, wide bool, headRow int) (*excelize.StreamWriter, error) {
	f := w.f
	if i, _ := f.GetSheetIndex(name); i < 0 {
		if _, err := f.NewSheet(name); err != nil {
			return nil, err
		}
	}
	letter, one, many, fit := 1, 1, 0, true
	way := "portrait"
	if wide {
		way = "landscape"
	}
	if err := f.SetPageLayout(name, &excelize.PageLayoutOptions{Size: &letter, Orientation: &way, FitToWidth: &one, FitToHeight: &many}); err != nil {
		return nil, err
	}
	props := &excelize.SheetPropsOptions{FitToPage: &fit}
	if w.b.Band != "" {
		color := bandFill
		props.TabColorRGB = &color
	}
	if err := f.SetSheetProps(name, props); err != nil {
		return nil, err
	}
	head := "&L" + escapeHead(w.b.Title)
	if w.b.Band != "" {
		head = "&C&B" + escapeHead(w.b.Band)
	}
	if err := f.SetHeaderFooter(name, &excelize.HeaderFooterOptions{OddHeader: head, OddFooter: "&L" + escapeHead(w.b.Foot) + "&R&P / &N"}); err != nil {
		return nil, err
	}
	if headRow > 0 {
		err := f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: fmt.Sprintf("'%s'!$%d:$%d", name, 1, headRow), Scope: name})
		if err != nil {
			return nil, err
		}
	}
	return f.NewStreamWriter(name)
}

// escapeHead keeps an ampersand from being a code, and to the 255 letters that a
// header may have.
func escapeHead(s string) string {
	if r := []rune(s); len(r) > 110 {
		s = string(r[:110])
	}
	return strings.ReplaceAll(s, "&", "&&")
}

// dictionary is a table of the columns of all tables.
func (b Workbook) dictionary() annual.Table {
	words := b.Words
	t := annual.Table{Name: "dictionary", Title: words.Dictionary}
	for _, c := range [][2]string{{"table", words.Sheet}, {"column", words.Column}, {"heading", words.Heading}, {"kind", words.Kind}, {"meaning", words.Meaning}} {
		t.Columns = append(t.Columns, annual.Column{Name: c[0], Title: c[1], About: c[1]})
	}
	t.Each = func(see func([]any) error) error {
		for _, d := range b.Tables {
			if err := see([]any{d.Name, "", d.Title, "", d.About}); err != nil {
				return err
			}
			for _, c := range d.Columns {
				if err := see([]any{d.Name, c.Name, c.Title, words.Kinds[c.Kind], c.About}); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return t
}

// Dictionary is the data dictionary, to be written as a file too.
func (b Workbook) Dictionary() annual.Table { return b.dictionary() }
