package tabular_test

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/tabular"
)

// sound checks what must hold of any file, however odd: it is refused with a
// *FileError, or every row has a verdict that can be believed.
func sound(t *testing.T, data []byte) {
	s, err := tabular.Open(data, tabular.Memory{"remembered": {Field: tabular.Code}})
	if err != nil {
		var bad *tabular.FileError
		if !errors.As(err, &bad) || s != nil {
			t.Fatalf("refused with %v", err)
		}
		return
	}
	m := s.Guess()
	if m.Check() != nil { // map it by hand, as a person would
		m = tabular.Mapping{Columns: make([]tabular.Column, max(2, s.Width))}
		m.Columns[0].Field, m.Columns[1].Field = tabular.Code, tabular.EggsOf(1)
	}
	codes, rows := map[string]bool{}, 0
	err = s.Each(context.Background(), m, setup(), func(r tabular.Row) error {
		rows++
		if r.Line <= s.Header {
			t.Fatalf("line %d is at or above the header", r.Line)
		}
		if !r.OK() {
			return nil
		}
		e := r.Entry
		if codes[string(e.Code)] || len(e.Code) != 8 {
			t.Fatalf("code %q", e.Code)
		}
		codes[string(e.Code)] = true
		if e.Reading.Basis == 0 || e.Reading.Density < 0 || e.Reading.Density > assay.MaxDensity*1.000001 || e.Day.IsZero() || e.Day.After(setup().Latest) {
			t.Fatalf("taken: %+v", e)
		}
		return nil
	})
	if err != nil || rows != s.Rows {
		t.Fatalf("%d rows of %d: %v", rows, s.Rows, err)
	}
	_ = s.Remember(m)
}

func FuzzText(f *testing.F) {
	c := codes(f, 2)
	for _, s := range []string{
		"", "code,eggs\n" + string(c[0]) + ",42\n", "\xef\xbb\xbfcode;eggs;ml\r\n" + string(c[0]) + ";42;2,5\r\n", "sep=;\ncode;eggs\n" + string(c[1]) + ";1\n",
		"code\teggs\n" + string(c[0]) + "\t1.250\n", "\xff\xfec\x00o\x00", "code,eggs\n\"" + string(c[0]) + ",42\n", string(c[0]) + ",42\r" + string(c[1]) + ",7\r",
		"Gr\xfc\xdfe;;\ncode;density;unit\n" + string(c[0]) + ";500;per kg\n", "code,eggs\n=\"" + string(c[0]) + "\",42\n", "code,date,eggs\n" + string(c[0]) + ",11/20/26 2:03 PM,1\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 2 && data[0] == 'P' && data[1] == 'K' {
			return // FuzzWorkbook's
		}
		sound(t, data)
	})
}

// FuzzWorkbook puts any XML into a worksheet of a sound workbook.
func FuzzWorkbook(f *testing.F) {
	good := small(f)
	for _, s := range []string{
		"", "<worksheet/>", `<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>code</t></is></c><c r="B1" t="s"><v>1</v></c></row><row r="2"><c r="A2"><v>23456789</v></c><c r="B2"><f>1+1</f></c></row></sheetData></worksheet>`,
		`<worksheet><sheetData><row r="9"><c t="s"><v>99</v></c></row><row r="3"><c r="ZZZZ1"><v>1</v></c></row></sheetData></worksheet>`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, sheet []byte) {
		sound(t, repack(t, good, firstSheet, func([]byte) []byte { return sheet }))
	})
}

func FuzzHeader(f *testing.F) {
	for _, s := range []string{"Bag code", "eggs 3", "mL 8", "Eggs/250 cc", "per_100_cm3", "³", "EGGS  COUNTED!", "eggs 9", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, header string) {
		folded := tabular.Fold(header)
		if tabular.Fold(folded) != folded {
			t.Fatalf("%q folds to %q and that to %q", header, folded, tabular.Fold(folded))
		}
		s := &tabular.Sheet{Headers: []string{header, header}}
		m := s.Guess()
		if m.Columns[1].Field != "" {
			t.Fatalf("%q taken twice", header)
		}
		if f := m.Columns[0].Field; f != "" {
			again := (&tabular.Sheet{Headers: []string{folded}}).Guess()
			if again.Columns[0].Field != f {
				t.Fatalf("%q means %q, folded %q", header, f, again.Columns[0].Field)
			}
		}
	})
}

// Rows drawn, one of them spoiled in one cell: that row alone is refused, at that
// field alone, and all others come out as they were drawn.
func TestOneSpoiledCell(t *testing.T) {
	c := codes(t, 40)
	fields := []tabular.Field{tabular.Code, tabular.ML, tabular.EggsOf(1), tabular.EggsOf(2), tabular.Soil}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "rows")
		spoiled, column := rapid.IntRange(0, n-1).Draw(t, "spoiled"), rapid.IntRange(0, 4).Draw(t, "column")
		text, want := "code;ml;eggs 1;eggs 2;soil\n", []int{}
		for i := range n {
			eggs := rapid.IntRange(0, 500).Draw(t, "eggs")
			want = append(want, eggs)
			cells := []string{string(c[i]), "2,5", strconv.Itoa(eggs), strconv.Itoa(eggs), "100"}
			if i == spoiled {
				cells[column] = "spilt"
			}
			text += strings.Join(cells, ";") + "\n"
		}
		s, err := tabular.Open([]byte(text), nil)
		require.NoError(t, err)
		i := 0
		require.NoError(t, s.Each(context.Background(), s.Guess(), setup(), func(r tabular.Row) error {
			if i == spoiled {
				require.Len(t, r.Problems, 1)
				require.NotEmpty(t, r.Problems[fields[column]])
				require.Equal(t, "spilt", r.Cells[column])
			} else {
				require.True(t, r.OK(), "%v", r.Problems)
				require.Equal(t, 2*want[i], r.Entry.Reading.Eggs)
				require.InDelta(t, float64(want[i])*40, float64(r.Entry.Reading.Density), 1e-6)
			}
			i++
			return nil
		}))
	})
}
