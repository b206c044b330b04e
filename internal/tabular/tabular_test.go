package tabular_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"sixmile/internal/assay"
	"sixmile/internal/tabular"
)

// One day's counts, as labs write them: the same three results each time.
func TestShapesOfOneFile(t *testing.T) {
	c := codes(t, 3)
	plain := lines("Bag code,Date counted,Eggs 1,Eggs 2,mL,Cyst seen",
		fmt.Sprintf("%s,2026-11-20,42,38,2.5,no", c[0]), fmt.Sprintf("%s,11/21/2026,0,0,2.5,", c[1]), fmt.Sprintf("%s,2026-11-22,3,1,2.5,yes", c[2]))
	semicolon := strings.ReplaceAll(strings.ReplaceAll(plain, ",", ";"), "2.5", "2,5")
	utf16, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(strings.ReplaceAll(plain, ",", "\t"))
	require.NoError(t, err)
	latin, err := charmap.Windows1252.NewEncoder().String("Grüße aus dem Labor;;\n\n" + semicolon)
	require.NoError(t, err)
	book := workbook(t, []any{"Bag code", "Date counted", "Eggs 1", "Eggs 2", "mL", "Cyst seen"},
		[]any{c[0].String(), date(2026, 11, 20), 42, 38, 2.5, "no"},
		[]any{string(c[1]), date(2026, 11, 21), 0, 0, 2.5},
		[]any{strings.ToLower(c[2].String()), "2026-11-22", 3, 1, "2.5", true})

	var want string
	for _, tt := range []struct {
		name, data string
		encoding   string
		delimiter  rune
		header     int
	}{
		{"commas", plain, tabular.UTF8, ',', 1},
		{"byte order mark and CRLF", "\xef\xbb\xbf" + strings.ReplaceAll(plain, "\n", "\r\n"), tabular.UTF8, ',', 1},
		{"CR alone", strings.ReplaceAll(plain, "\n", "\r"), tabular.UTF8, ',', 1},
		{"semicolons and decimal commas", semicolon, tabular.UTF8, ';', 1},
		{"tabs", strings.ReplaceAll(plain, ",", "\t"), tabular.UTF8, '\t', 1},
		{"UTF-16", utf16, tabular.UTF16, '\t', 1},
		{"Latin-1 letters in a title above", latin, tabular.Windows1252, ';', 3},
		{"separator hint", "sep=;\n" + semicolon, tabular.UTF8, ';', 2},
		{"quoted", strings.ReplaceAll(plain, "42,38", `"42","38"`), tabular.UTF8, ',', 1},
		{"blank tails", strings.ReplaceAll(plain, "\n", ",,,,\n") + ",,,,,,\n\n   ,\n", tabular.UTF8, ',', 1},
		{"no line end at the end", strings.TrimSuffix(plain, "\n"), tabular.UTF8, ',', 1},
		{"codes kept as text", strings.ReplaceAll(plain, c[0].String(), `="`+c[0].String()+`"`), tabular.UTF8, ',', 1},
		{"a workbook", string(book), "", 0, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, rows := read(t, []byte(tt.data))
			require.Equal(t, tt.encoding, s.Encoding)
			require.Equal(t, tt.delimiter, s.Delimiter)
			require.Equal(t, tt.header, s.Header)
			require.Len(t, rows, 3)
			var d tabular.Digest
			for i, row := range rows {
				require.True(t, row.OK(), "%v", row)
				require.Equal(t, c[i], row.Entry.Code)
				require.Equal(t, tt.header+1+i, row.Line)
				d.Add(row.Entry)
			}
			require.Equal(t, assay.Density(1600), rows[0].Entry.Reading.Density) // 80 eggs in 5 of 100 mL
			require.Equal(t, date(2026, 11, 21), rows[1].Entry.Day)
			require.True(t, rows[2].Entry.Reading.CystSeen)
			if want == "" {
				want = d.Sum()
			}
			require.Equal(t, want, d.Sum(), "the same results, whatever they come in")
		})
	}
}

func TestVerdicts(t *testing.T) {
	c := codes(t, 2)
	head := "code,date,method,soil,suspension,ml,eggs 1,ml 1,eggs 2,ml 2,cyst,juveniles,density,unit,bulk density\n"
	good := c[0].String()
	for _, tt := range []struct {
		name, row string
		want      map[tabular.Field]tabular.Problem
	}{
		{"all given", good + ",2026-11-25,,100,100,2,42", nil},
		{"the method's amounts", good + ",,,,,,42", nil},
		{"a named method", good + ",,Sieve crush 250cm3,,,,42", nil},
		{"two portions of their own", good + ",,,,,,42,2,30,1.5", nil},
		{"a report", good + ",,,,,,,,,,yes,,500,per 250 cm3", nil},
		{"a report by weight", good + ",,,,,,,,,,,,500,per_100_g,1.3", nil},
		{"thousands", good + `,,,,,,"1,250"`, nil},
		{"no code", ",,,,,,42", map[tabular.Field]tabular.Problem{tabular.Code: assay.Missing}},
		{"short code", "K7QF,,,,,,42", map[tabular.Field]tabular.Problem{tabular.Code: tabular.CodeLength}},
		{"letter O in a code", "O7QF-2M9X,,,,,,42", map[tabular.Field]tabular.Problem{tabular.Code: tabular.CodeLetter}},
		{"wrong check character", swapped(good) + ",,,,,,42", map[tabular.Field]tabular.Problem{tabular.Code: tabular.CodeCheck}},
		{"code turned into a number", "2.3456E+26,,,,,,42", map[tabular.Field]tabular.Problem{tabular.Code: tabular.CodeAsNumber}},
		{"negative", good + ",,,,,,-3", map[tabular.Field]tabular.Problem{"eggs_1": assay.Negative}},
		{"words", good + ",,,,,,many", map[tabular.Field]tabular.Problem{"eggs_1": assay.NotNumber}},
		{"half an egg", good + ",,,,,,2.5", map[tabular.Field]tabular.Problem{"eggs_1": assay.NotWhole}},
		{"more than a slide holds", good + ",,,,,2,20001", map[tabular.Field]tabular.Problem{"eggs_1": assay.MoreThanSlide}},
		{"more than the suspension", good + ",,,,100,,3,60,3,60", map[tabular.Field]tabular.Problem{"eggs_1": assay.MoreThanSuspension}},
		{"two portions, no milliliters", good + ",,,,,,3,,4", map[tabular.Field]tabular.Problem{"ml_1": assay.Missing, "ml_2": assay.Missing}},
		{"milliliters without eggs", good + ",,,,,,3,2,,2", map[tabular.Field]tabular.Problem{"eggs_2": assay.Missing}},
		{"nothing counted", good + ",,,,,,", map[tabular.Field]tabular.Problem{"eggs_1": assay.Missing}},
		{"no soil", good + ",,,0,,,3", map[tabular.Field]tabular.Problem{tabular.Soil: assay.NotPositive}},
		{"a formula", good + ",,,,,,=1+41", map[tabular.Field]tabular.Problem{"eggs_1": tabular.Formula}},
		{"a formula for a code", "=A1,,,,,,42", map[tabular.Field]tabular.Problem{tabular.Code: tabular.Formula}},
		{"an error of a spreadsheet", good + ",,,,,,#N/A", map[tabular.Field]tabular.Problem{"eggs_1": assay.NotNumber}},
		{"not a date", good + ",yesterday,,,,,42", map[tabular.Field]tabular.Problem{tabular.Day: tabular.NotDate}},
		{"day first", good + ",25/11/2026,,,,,42", map[tabular.Field]tabular.Problem{tabular.Day: tabular.NotDate}},
		{"tomorrow", good + ",2026-11-26,,,,,42", map[tabular.Field]tabular.Problem{tabular.Day: tabular.TooLate}},
		{"last year", good + ",2025-11-25,,,,,42", map[tabular.Field]tabular.Problem{tabular.Day: tabular.TooEarly}},
		{"a method there is not", good + ",,magic,,,,42", map[tabular.Field]tabular.Problem{tabular.Method: assay.Unknown}},
		{"perhaps", good + ",,,,,,42,,,,perhaps", map[tabular.Field]tabular.Problem{tabular.Cyst: tabular.NotYesNo}},
		{"eggs and a density", good + ",,,,,,42,,,,,,500,per 100 cm3", map[tabular.Field]tabular.Problem{tabular.Density: tabular.BothGiven}},
		{"a density of what", good + ",,,,,,,,,,,,500", map[tabular.Field]tabular.Problem{tabular.UnitField: assay.Missing}},
		{"per acre", good + ",,,,,,,,,,,,500,per acre", map[tabular.Field]tabular.Problem{tabular.UnitField: assay.Unknown}},
		{"no bulk density", good + ",,,,,,,,,,,,500,per kg", map[tabular.Field]tabular.Problem{tabular.BulkDensity: assay.Missing}},
		{"two faults", "K7QF,,,,,,-1", map[tabular.Field]tabular.Problem{tabular.Code: tabular.CodeLength, "eggs_1": assay.Negative}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, rows := read(t, []byte(head+tt.row+"\n"))
			require.Len(t, rows, 1)
			require.Equal(t, tt.want, rows[0].Problems)
			require.Equal(t, tt.want == nil, rows[0].OK())
			require.NotEmpty(t, rows[0].Cells, "what was typed is kept")
			if rows[0].OK() {
				require.NotZero(t, rows[0].Entry.Reading.Basis)
				require.False(t, rows[0].Entry.Day.IsZero())
			}
		})
	}
}

// swapped exchanges two neighbors of a code, which its check character tells.
func swapped(code string) string {
	for i := 0; i < 3; i++ {
		if code[i] != code[i+1] {
			return code[:i] + string(code[i+1]) + string(code[i]) + code[i+2:]
		}
	}
	return code
}

func TestEntriesCarryTheirAmounts(t *testing.T) {
	c := codes(t, 3)
	_, rows := read(t, []byte(lines("code,recipe,soil cc,aliquot ml,count,eggs 2,ml 2", c[0].String()+",,,,42", c[1].String()+",sieve_crush_250cm3,,2,42,40,1", c[2].String()+",sieve_crush_100cm3,90,2,42")))
	require.Equal(t, assay.Count{SoilCM3: 100, SuspensionML: 100, Aliquots: []assay.Aliquot{{ML: 2, Eggs: 42}}}, rows[0].Entry.Count)
	require.Equal(t, assay.Density(2100), rows[0].Entry.Reading.Density)
	require.Equal(t, assay.Count{SoilCM3: 250, SuspensionML: 100, Aliquots: []assay.Aliquot{{ML: 2, Eggs: 42}, {ML: 1, Eggs: 40}}}, rows[1].Entry.Count)
	require.Equal(t, 90.0, rows[2].Entry.Count.SoilCM3)
	require.Equal(t, 2, rows[2].Entry.Method.Version, "of one name the highest version")
}

func TestUnitInTheHeader(t *testing.T) {
	c := codes(t, 1)
	_, rows := read(t, []byte(lines("Sample ID,Eggs per 250 cc soil", c[0].String()+",500")))
	require.True(t, rows[0].OK(), "%v", rows[0].Problems)
	require.Equal(t, assay.Density(200), rows[0].Entry.Reading.Density)
	require.Equal(t, assay.Reported, rows[0].Entry.Reading.Basis)
}

func TestDoubledCodes(t *testing.T) {
	c := codes(t, 2)
	_, rows := read(t, []byte(lines("code,eggs", c[0].String()+",1", c[1].String()+",2", strings.ToLower(string(c[0]))+",3")))
	require.True(t, rows[0].OK())
	require.True(t, rows[1].OK())
	require.Equal(t, map[tabular.Field]tabular.Problem{tabular.Code: tabular.CodeDoubled}, rows[2].Problems)
	require.Equal(t, 2, rows[2].Earlier)
}

func TestMappingByHand(t *testing.T) {
	c := codes(t, 1)
	s := open(t, lines("Kürzel;Zahl;Was", string(c[0])+";42;x"))
	require.Equal(t, 1, s.Header)
	m := s.Guess()
	require.Error(t, m.Check())
	m.Columns[0].Field, m.Columns[1].Field = tabular.Code, tabular.EggsOf(1)
	require.NoError(t, m.Check())
	require.True(t, rows(t, s, m)[0].OK())

	// What was mapped once is known the next time, in any order of columns.
	memory := s.Remember(m)
	again, err := tabular.Open([]byte(lines("WAS,zahl,kürzel", "x,7,"+string(c[0]))), memory)
	require.NoError(t, err)
	row := rows(t, again, again.Guess())[0]
	require.Equal(t, 7, row.Entry.Count.Aliquots[0].Eggs)
}

func TestMappingCheck(t *testing.T) {
	columns := func(fields ...tabular.Field) tabular.Mapping {
		var m tabular.Mapping
		for _, f := range fields {
			m.Columns = append(m.Columns, tabular.Column{Field: f})
		}
		return m
	}
	for name, tt := range map[string]struct {
		m    tabular.Mapping
		want map[string]assay.Problem
	}{
		"nothing":      {tabular.Mapping{}, map[string]assay.Problem{"columns": assay.Missing}},
		"no eggs":      {columns(tabular.Code, tabular.Day), map[string]assay.Problem{"columns": assay.Missing}},
		"twice":        {columns(tabular.Code, tabular.Density, tabular.Code), map[string]assay.Problem{"columns.2": assay.Doubled}},
		"not a field":  {columns(tabular.Code, tabular.EggsOf(9), tabular.EggsOf(1)), map[string]assay.Problem{"columns.1": assay.Unknown}},
		"eggs":         {columns(tabular.Code, "", tabular.EggsOf(3)), nil},
		"only density": {columns(tabular.Density, tabular.Code), nil},
	} {
		err := tt.m.Check()
		if tt.want == nil {
			require.NoError(t, err, name)
			continue
		}
		var invalid *assay.Invalid
		require.ErrorAs(t, err, &invalid, name)
		require.Equal(t, tt.want, invalid.Fields, name)
	}
}

func TestFileWithoutAHeader(t *testing.T) {
	c := codes(t, 2)
	s := open(t, lines(string(c[0])+",42", string(c[1])+",7"))
	require.Zero(t, s.Header)
	require.Equal(t, 2, s.Rows)
	require.Len(t, s.Guess().Columns, 2)
	m := tabular.Mapping{Columns: []tabular.Column{{Field: tabular.Code}, {Field: tabular.EggsOf(1)}}}
	require.Equal(t, 7, rows(t, s, m)[1].Entry.Count.Aliquots[0].Eggs)
}

func TestEachStops(t *testing.T) {
	c := codes(t, 2)
	s := open(t, lines("code,eggs", string(c[0])+",42", string(c[1])+",7"))
	full := errors.New("full")
	seen := 0
	err := s.Each(context.Background(), s.Guess(), setup(), func(tabular.Row) error { seen++; return full })
	require.ErrorIs(t, err, full)
	require.Equal(t, 1, seen)
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	require.ErrorIs(t, s.Each(gone, s.Guess(), setup(), func(tabular.Row) error { return nil }), context.Canceled)
	var invalid *assay.Invalid
	require.ErrorAs(t, s.Each(context.Background(), tabular.Mapping{}, setup(), nil), &invalid)
}

func TestDigestTellsChanges(t *testing.T) {
	c := codes(t, 2)
	sum := func(data string) string {
		_, rows := read(t, []byte(data))
		var d tabular.Digest
		for _, r := range rows {
			require.True(t, r.OK())
			d.Add(r.Entry)
		}
		return d.Sum()
	}
	first := sum(lines("code,eggs,notes", string(c[0])+",42,windy", string(c[1])+",7,"))
	require.Equal(t, first, sum(lines("eggs,code", "7,"+c[1].String(), "42,"+c[0].String())), "order of rows and columns, notes")
	require.NotEqual(t, first, sum(lines("code,eggs", string(c[0])+",42", string(c[1])+",8")))
	require.NotEqual(t, first, sum(lines("code,eggs,cyst", string(c[0])+",42,", string(c[1])+",7,x")))
	require.NotEqual(t, first, sum(lines("code,eggs", string(c[0])+",42")))
}
