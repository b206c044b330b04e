package press

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"sixmile/internal/annual"
)

// counted is a table of bags with a share worked out from two columns.
func counted(rows [][]any) annual.Table {
	return annual.Table{Name: "bags", Title: "Bags: by [county]", About: "x", Total: true,
		Columns: []annual.Column{
			{Name: "county", Title: "County"},
			{Name: "back", Title: "Back", Kind: annual.Whole, Sum: true},
			{Name: "counted", Title: "Counted", Kind: annual.Whole, Sum: true},
			{Name: "rate", Title: "Rate", Kind: annual.Share, Formula: `IF({back}>0,{counted}/{back},"")`},
			{Name: "fee", Title: "Fee", Kind: annual.Money, Sum: true},
			{Name: "day", Title: "Day", Kind: annual.Day},
			{Name: "season", Title: "Season", Kind: annual.Year},
		},
		Each: func(see func([]any) error) error {
			for _, r := range rows {
				if err := see(r); err != nil {
					return err
				}
			}
			return nil
		}}
}

var threeRows = [][]any{
	{"=HYPERLINK(\"http://a\")", 40, 30, 0.75, 600.0, time.Date(2026, 11, 4, 0, 0, 0, 0, time.UTC), 2026},
	{"Plover & Finch", 0, 0, nil, 0.0, nil, 2026},
	{"@Heron", 60, 15, 0.25, 300.5, nil, 2026},
}

func written(t *testing.T, band string, rows [][]any) []byte {
	b := Workbook{Title: "A & B", Lines: []string{"One line.", strings.Repeat("long ", 80)}, Band: band, Foot: "edition K7QF-2M", Date: time.Date(2027, 1, 15, 0, 0, 0, 0, time.UTC),
		Tables:  []annual.Table{counted(rows)},
		Words:   WorkbookWords{ReadMe: "Read me", Dictionary: "Dictionary", Total: "All", BalanceHead: "Adds up", BalanceValue: "Difference"},
		Balance: []Balance{{"back less back", TotalOf{"bags", "back"}, []TotalOf{{"bags", "back"}, {"none", "back"}}}}}
	var out bytes.Buffer
	require.NoError(t, b.Write(&out))
	return out.Bytes()
}

// Every formula, worked out by the library's own calculator, gives the value that
// is stored beside it; totals are the sums; text that looks like a formula is text.
func TestWorkbookAddsUp(t *testing.T) {
	f, err := excelize.OpenReader(bytes.NewReader(written(t, "", threeRows)))
	require.NoError(t, err)
	defer f.Close()
	require.Equal(t, []string{"Read me", "Bags  by  county ", "Dictionary"}, f.GetSheetList())
	require.Equal(t, 7, recalculated(t, f), "three totals and a share of two of them, the shares of two rows, and the check that it adds up")
	name := "Bags  by  county "
	for cell, want := range map[string]string{"A2": "=HYPERLINK(\"http://a\")", "B5": "100", "C5": "45", "D5": "45.0%", "E5": "$900.50", "F2": "2026-11-04", "G2": "2026", "A5": "All"} {
		got, err := f.GetCellValue(name, cell)
		require.NoError(t, err)
		require.Equal(t, want, got, cell)
	}
	formula, err := f.GetCellFormula(name, "A2")
	require.NoError(t, err)
	require.Empty(t, formula)
	panes, err := f.GetPanes(name)
	require.NoError(t, err)
	require.True(t, panes.Freeze)
	require.Equal(t, []int{1, 1}, []int{panes.XSplit, panes.YSplit})
	layout, err := f.GetPageLayout(name)
	require.NoError(t, err)
	require.Equal(t, "landscape", *layout.Orientation)
	require.Contains(t, fmt.Sprint(f.GetDefinedName()), "_xlnm.Print_Titles")
}

// recalculated works every formula out and compares; it gives how many there are.
func recalculated(t *testing.T, f *excelize.File) (n int) {
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		for y := range rows {
			for x := range rows[y] {
				cell, err := excelize.CoordinatesToCellName(x+1, y+1)
				require.NoError(t, err)
				formula, err := f.GetCellFormula(sheet, cell)
				require.NoError(t, err)
				if formula == "" {
					continue
				}
				n++
				got, err := f.CalcCellValue(sheet, cell, excelize.Options{RawCellValue: true})
				require.NoError(t, err, "%s %s", sheet, formula)
				want, err := strconv.ParseFloat(rows[y][x], 64)
				require.NoError(t, err, "%s %s", sheet, cell)
				have, err := strconv.ParseFloat(got, 64)
				require.NoError(t, err, "%s %s", sheet, formula)
				require.InDelta(t, want, have, 1e-9, "%s %s %s", sheet, cell, formula)
			}
		}
	}
	return n
}

func TestWorkbookIsTheSameAgain(t *testing.T) {
	require.True(t, bytes.Equal(written(t, "x", threeRows), written(t, "x", threeRows)))
}

// A band stands on every worksheet, over its headings, and at the head of every
// printed page; a table of no rows has no total, and is written.
func TestBandOnEverySheet(t *testing.T) {
	const band = "OFFICE COPY · NOT FOR RELEASE"
	f, err := excelize.OpenReader(bytes.NewReader(written(t, band, nil)))
	require.NoError(t, err)
	defer f.Close()
	for _, sheet := range f.GetSheetList() {
		got, err := f.GetCellValue(sheet, "A1")
		require.NoError(t, err)
		require.Equal(t, band, got, sheet)
		head, err := f.GetHeaderFooter(sheet)
		require.NoError(t, err)
		require.Contains(t, head.OddHeader, band, sheet)
	}
}

// Cells that a spreadsheet would take for a formula have an apostrophe before them;
// quotes, commas and line ends come back as they were (RFC 4180, section 2).
func TestCSV(t *testing.T) {
	rows := [][]any{{"-1+1", 1, 1, 1.0 / 3, -2.5, nil, 2026}, {"a \"b\",\r\nc", 0, 0, nil, 0.0, nil, 2026}, {"\t=1", 0, 0, nil, 0.0, nil, 2026}, {" ＝1", 0, 0, nil, 0.0, nil, 2026}}
	var b bytes.Buffer
	require.NoError(t, CSV(&b, counted(rows)))
	require.True(t, strings.HasPrefix(b.String(), "\ufeffcounty,back,"))
	got, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(b.String(), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"'-1+1", "1", "1", "0.3333", "-2.5", "", "2026"}, got[1])
	require.Equal(t, "a \"b\",\nc", got[2][0], "the reader makes one line end of two signs")
	require.Equal(t, "'\t=1", got[3][0])
	require.Equal(t, "' ＝1", got[4][0])
}
