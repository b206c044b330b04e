package tabular_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"sixmile/internal/assay"
	"sixmile/internal/tabular"
)

// repack copies a workbook with one part changed.
func repack(t testing.TB, data []byte, name string, change func([]byte) []byte) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, part := range in.File {
		r, err := part.Open()
		require.NoError(t, err)
		var b bytes.Buffer
		_, err = b.ReadFrom(r)
		require.NoError(t, err)
		content := b.Bytes()
		if part.Name == name {
			content = change(content)
		}
		to, err := w.Create(part.Name)
		require.NoError(t, err)
		_, err = to.Write(content)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return out.Bytes()
}

const firstSheet = "xl/worksheets/sheet1.xml"

func small(t testing.TB) []byte {
	c := codes(t, 3)
	return workbook(t, []any{"code", "eggs", "ml"}, []any{string(c[0]), 1, 2}, []any{string(c[1]), 2, 2}, []any{string(c[2]), 3, 2})
}

func TestRefusedFiles(t *testing.T) {
	good := small(t)
	sheet := func(change func(string) string) []byte {
		return repack(t, good, firstSheet, func(b []byte) []byte { return []byte(change(string(b))) })
	}
	pad := func(n int) []byte {
		return repack(t, good, firstSheet, func(b []byte) []byte { return append(b, bytes.Repeat([]byte(" "), n)...) })
	}
	for _, tt := range []struct {
		name    string
		data    []byte
		problem tabular.FileProblem
		line    int
	}{
		{"nothing", nil, tabular.Empty, 0},
		{"blank", []byte(" \r\n\n"), tabular.Empty, 0},
		{"a header alone", []byte("code,eggs\n"), tabular.Empty, 0},
		{"too big", make([]byte, tabular.MaxFile+1), tabular.TooBig, 0},
		{"a picture", []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), tabular.NotTable, 0},
		{"half of UTF-16", []byte("\xff\xfea"), tabular.NotTable, 0},
		{"an old workbook or one with a password", []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest"), tabular.OldWorkbook, 0},
		{"a quotation mark never closed", []byte("code,eggs\nA,1\n\"B,2\nC,3\n"), tabular.Quote, 3},
		{"a quotation mark in a cell", []byte("code,eggs,notes\nA,1,6\" probe\n"), tabular.Quote, 2},
		{"columns without end", []byte("code,eggs\n" + strings.Repeat("1,", 300) + "1\n"), tabular.TooManyColumns, 2},
		{"PK and nonsense", []byte("PK\x03\x04 nonsense"), tabular.Broken, 0},
		{"cut short", good[:len(good)/2], tabular.Broken, 0},
		{"a flipped byte", flipped(good), tabular.Broken, 0},
		{"a worksheet that breaks off", sheet(func(s string) string { return s[:len(s)/2] }), tabular.Broken, 0},
		{"a worksheet with a slip in the middle", sheet(func(s string) string { return strings.Replace(s, `<row r="3"`, `<row r="3`, 1) }), tabular.Broken, 0},
		{"a cell far out to the right", sheet(func(s string) string { return strings.Replace(s, `r="C2"`, `r="XFD2"`, 1) }), tabular.TooManyColumns, 2},
		{"rows out of order", sheet(func(s string) string {
			return strings.NewReplacer(`<row r="3"`, `<row r="7"`, `"A3"`, `"A7"`, `"B3"`, `"B7"`, `"C3"`, `"C7"`).Replace(s)
		}), tabular.Broken, 0},
		{"the same row twice", sheet(func(s string) string {
			return strings.NewReplacer(`<row r="3"`, `<row r="2"`, `"A3"`, `"A2"`, `"B3"`, `"B2"`, `"C3"`, `"C2"`).Replace(s)
		}), tabular.Broken, 0},
		{"cells out of order", sheet(func(s string) string { return strings.NewReplacer(`"A3"`, `"B3"`, `"B3"`, `"A3"`).Replace(s) }), tabular.Broken, 0},
		{"a cell of another row", sheet(func(s string) string { return strings.Replace(s, `"B3"`, `"B4"`, 1) }), tabular.Broken, 0},
		{"elements within each other without end", sheet(func(string) string { return strings.Repeat("<a>", 1<<20) }), tabular.Broken, 0},
		{"attributes without end", sheet(func(string) string { return "<a " + strings.Repeat(`b=">" `, 1<<18) + "/>" }), tabular.Broken, 0},
		{"a text without end", pad(1 << 20), tabular.Broken, 0},
		{"bomb of a worksheet", pad(tabular.MaxUnpacked), tabular.Bomb, 0},
		{"no workbook in the zip", zipOf(t, "readme.txt", "hello"), tabular.Broken, 0},
		{"bomb of another part", zipOf(t, "xl/media/image1.png", strings.Repeat("0", 5<<20)), tabular.Bomb, 0},
	} {
		t.Run(tt.name, func(t *testing.T) { requireFile(t, tt.data, tt.problem, tt.line) })
	}
}

func zipOf(t testing.TB, name, content string) []byte {
	t.Helper()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	to, err := w.Create(name)
	require.NoError(t, err)
	_, err = to.Write([]byte(content))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return out.Bytes()
}

// flipped changes one byte in the packed content of the first part.
func flipped(data []byte) []byte {
	out := bytes.Clone(data)
	out[120] ^= 0xff
	return out
}

// A zip whose directory understates a part: the sizes are counted, not believed.
func TestBombThatLies(t *testing.T) {
	data := repack(t, small(t), firstSheet, func(b []byte) []byte { return append(b, bytes.Repeat([]byte(" "), 40<<20)...) })
	at := bytes.LastIndex(data, []byte(firstSheet)) - 46 // its entry in the directory at the end
	require.Equal(t, []byte("PK\x01\x02"), data[at:at+4])
	copy(data[at+24:], []byte{0x10, 0, 0, 0}) // unpacked size, says it, sixteen bytes
	requireFile(t, data, tabular.Broken, 0)
}

func TestWorkbookCells(t *testing.T) {
	c := codes(t, 4)
	f := excelize.NewFile()
	defer f.Close()
	_, err := f.NewSheet("Counts of November")
	require.NoError(t, err)
	require.NoError(t, f.SetCellStr("Sheet1", "A1", "About this file"))
	for i, row := range [][]any{
		{"Lab of the invented county"}, {},
		{"Bag code", "Date counted", "Eggs 1", "Density", "Unit", "Bulk density (g/cm³)"},
		{string(c[0]), date(2026, 11, 20), nil, 1234.5, "per 100 g", 1.1 + 1.2},
		{string(c[1]), 46346.75, 12},
		{},
		{2.3456e26, "2026-11-20", 1},
		{string(c[2]), "11/20/2026", "=1+1"},
		{string(c[3]), 12, "1,250"},
	} {
		require.NoError(t, f.SetSheetRow("Counts of November", fmt.Sprintf("A%d", i+1), &row))
	}
	require.NoError(t, f.SetCellFormula("Counts of November", "C7", "1+1"))
	var b bytes.Buffer
	_, err = f.WriteTo(&b)
	require.NoError(t, err)

	s, rows := read(t, b.Bytes())
	require.Equal(t, "Counts of November", s.Name, "the worksheet whose headers are known")
	require.Equal(t, 3, s.Header)
	require.Equal(t, tabular.Workbook, s.Format)
	require.Len(t, rows, 5)
	require.True(t, rows[0].OK(), "%v", rows[0].Problems)
	require.Equal(t, 2.3, rows[0].Entry.Report.BulkDensity, "not 2.3000000000000003")
	require.Equal(t, date(2026, 11, 20), rows[1].Entry.Day, "a day number; its clock time is dropped")
	require.Equal(t, 5, rows[1].Line)
	require.Equal(t, tabular.CodeAsNumber, rows[2].Problems[tabular.Code])
	require.Equal(t, map[tabular.Field]tabular.Problem{tabular.EggsOf(1): tabular.Formula}, rows[3].Problems)
	require.Equal(t, map[tabular.Field]tabular.Problem{tabular.Day: tabular.NotDate}, rows[4].Problems, "day 12 is of the year 1900")
}

// The two calendars of workbooks, 1,462 days apart (ECMA-376, part 1, 18.17.4.1,
// from memory): November 20, 2026 is 46346 of the first and 44884 of the second.
func TestSecondCalendar(t *testing.T) {
	c, f, yes := codes(t, 1), excelize.NewFile(), true
	require.NoError(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
	require.NoError(t, f.SetSheetRow("Sheet1", "A1", &[]any{"code", "date", "eggs"}))
	require.NoError(t, f.SetSheetRow("Sheet1", "A2", &[]any{string(c[0]), 44884, 3}))
	var b bytes.Buffer
	_, err := f.WriteTo(&b)
	require.NoError(t, err)
	_, rows := read(t, b.Bytes())
	require.Equal(t, date(2026, 11, 20), rows[0].Entry.Day)
}

func TestTemplates(t *testing.T) {
	c := codes(t, 1)
	for _, tt := range []tabular.Template{{Portions: 1}, {Portions: 3}, {Portions: 8}, {Reported: true}} {
		var text, book, again bytes.Buffer
		require.NoError(t, tt.WriteCSV(&text, tabular.Dictionary()))
		require.NoError(t, tt.WriteWorkbook(&book, tabular.Dictionary()))
		require.NoError(t, tt.WriteWorkbook(&again, tabular.Dictionary()))
		require.Equal(t, book.Bytes(), again.Bytes(), "the same bytes each time")
		require.True(t, strings.HasPrefix(text.String(), "\ufeff"))
		requireFile(t, text.Bytes(), tabular.Empty, 0)
		requireFile(t, book.Bytes(), tabular.Empty, 0)

		// Filled in, both are read without a word of mapping.
		header := strings.Split(strings.TrimRight(strings.TrimPrefix(text.String(), "\ufeff"), "\r\n"), ",")
		s := open(t, text.String()+string(c[0])+strings.Repeat(",", len(header)-1)+"\r\n")
		require.Equal(t, header, s.Headers)
		f, err := excelize.OpenReader(&book)
		require.NoError(t, err)
		require.NoError(t, f.SetCellStr("Counts", "A2", string(c[0])))
		var filled bytes.Buffer
		_, err = f.WriteTo(&filled)
		require.NoError(t, err)
		w, err := tabular.Open(filled.Bytes(), nil)
		require.NoError(t, err)
		require.Equal(t, "Counts", w.Name)
		require.Equal(t, header, w.Headers)
		for i, column := range s.Guess().Columns {
			require.NotEmpty(t, column.Field, "header %q means nothing", header[i])
			require.Equal(t, column, w.Guess().Columns[i])
		}
		require.NoError(t, s.Guess().Check())
	}
}

func TestDictionary(t *testing.T) {
	docs := tabular.Dictionary()
	require.Len(t, docs, len(tabular.Fields()))
	for i, d := range docs {
		require.Equal(t, tabular.Fields()[i], d.Field)
		require.NotEmpty(t, d.Meaning)
	}
	var b bytes.Buffer
	require.NoError(t, tabular.WriteDictionary(&b, docs))
	require.Contains(t, b.String(), "per 250 cm3")
	require.Equal(t, len(docs)+1, strings.Count(b.String(), "\r\n"))

	// Every unit can be written as the template offers it.
	c := codes(t, 1)
	for _, u := range assay.Units() {
		_, rows := read(t, []byte(lines("code,density,unit,bulk density", string(c[0])+",5,"+strings.ReplaceAll(u.String(), "_", " ")+",1.3")))
		require.True(t, rows[0].OK())
		require.Equal(t, u, rows[0].Entry.Report.Unit)
	}
}

// Nothing is left in, or ever put into, the folder for temporary files.
func TestNoTemporaryFiles(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	_, rows := read(t, large(t, 20_000))
	require.Len(t, rows, 20_000)
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, left)
}
