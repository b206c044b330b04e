package tabular_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/tabular"
)

// A sign that parts thousands in one country parts tenths in the next. The file
// decides as a whole, and where it does not the cell is refused.
func TestDecimalSigns(t *testing.T) {
	c := codes(t, 3)
	file := func(delimiter string, ml ...string) string {
		out := []string{strings.Join([]string{"code", "eggs", "ml", "suspension"}, delimiter)}
		for i, v := range ml {
			out = append(out, strings.Join([]string{string(c[i]), "5", v, "5000"}, delimiter))
		}
		return lines(out...)
	}
	value := func(t *testing.T, data string, row int) (float64, map[tabular.Field]tabular.Problem) {
		_, rows := read(t, []byte(data))
		if !rows[row].OK() {
			return 0, rows[row].Problems
		}
		return rows[row].Entry.Count.Aliquots[0].ML, nil
	}
	bad := func(p tabular.Problem) map[tabular.Field]tabular.Problem {
		return map[tabular.Field]tabular.Problem{tabular.ML: p}
	}
	for _, tt := range []struct {
		name, data string
		row        int
		want       float64
		bad        map[tabular.Field]tabular.Problem
	}{
		{"comma shown elsewhere", file(";", "2,5", "1,250"), 1, 1.25, nil},
		{"comma and grouped", file(";", "2,5", "1.250"), 1, 1250, nil},
		{"comma and grouped together", file(";", "1.250,5"), 0, 1250.5, nil},
		{"point shown elsewhere", file(";", "2.5", "1,250"), 1, 1250, nil},
		{"nothing shown, semicolons", file(";", "2", "1,250"), 1, 0, bad(tabular.Ambiguous)},
		{"nothing shown, tabs", file("\t", "2", "1,250"), 1, 1250, nil},
		{"both shown", file(";", "2,5", "2.5"), 1, 2.5, nil},
		{"both shown, comma cell", file(";", "2,5", "2.5"), 0, 2.5, nil},
		{"both shown, doubtful", file(";", "2,5", "2.5", "1,250"), 2, 0, bad(tabular.Ambiguous)},
		{"a point where commas are meant", file(";", "2,5", "2,5", "1.25,5"), 2, 0, bad(assay.NotNumber)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, problems := value(t, tt.data, tt.row)
			require.Equal(t, tt.bad, problems)
			require.Equal(t, tt.want, got)
		})
	}
	t.Run("a note has no say", func(t *testing.T) {
		_, rows := read(t, []byte(lines("code,density,unit,notes", string(c[0])+`,"1,250",per 100 cm3,"tray 3"`, string(c[1])+`,7,per 100 cm3,"3,4"`)))
		require.Equal(t, 1250.0, rows[0].Entry.Report.Value)
	})
	t.Run("marks of spreadsheets and of other countries", func(t *testing.T) {
		for typed, want := range map[string]float64{"'42": 42, "1\u00a0250": 1250, "1'250": 1250} {
			_, rows := read(t, []byte(lines("code;density;unit", string(c[0])+";"+typed+";per 100 cm3")))
			require.Equal(t, want, rows[0].Entry.Report.Value, typed)
		}
		_, rows := read(t, []byte(lines("code;density;unit", string(c[0])+";4'2;per 100 cm3")))
		require.Equal(t, assay.NotNumber, rows[0].Problems[tabular.Density])
	})
	t.Run("told by a person", func(t *testing.T) {
		s := open(t, file(";", "2", "1,250"))
		m := s.Guess()
		m.Decimal = tabular.DecimalComma
		require.Equal(t, 1.25, rows(t, s, m)[1].Entry.Count.Aliquots[0].ML)
	})
}

func TestDates(t *testing.T) {
	c := codes(t, 1)
	for _, typed := range []string{"2026-11-05", "2026-11-5", "11/5/2026", "11/05/26", "5.11.2026", `"Nov 5, 2026"`, "5-Nov-2026", "5 Nov 2026", "2026-11-05 14:03", "2026-11-05T14:03:22Z", "11/5/2026 2:03 PM", "20261105"} {
		_, rows := read(t, []byte(lines("code,date,eggs", string(c[0])+","+typed+",3")))
		require.Equal(t, date(2026, 11, 5), rows[0].Entry.Day, typed)
	}
}
