package tabular_test

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/tabular"
)

// codes draws bag codes, seeded.
func codes(t testing.TB, n int) []bag.Code {
	t.Helper()
	source := rand.NewChaCha8([32]byte{36})
	out := make([]bag.Code, n)
	for i := range out {
		code, err := bag.Draw(source)
		require.NoError(t, err)
		out[i] = code
	}
	return out
}

func date(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

func setup() tabular.Setup {
	newer := assay.DefaultMethod()
	newer.Version = 2
	return tabular.Setup{
		Method: assay.DefaultMethod(), Methods: []assay.Method{newer, assay.NewMethod(assay.MethodSoil250, 250, 100, 2), assay.DefaultMethod()},
		Day: date(2026, 11, 25), Earliest: date(2026, 8, 1), Latest: date(2026, 11, 25),
	}
}

func open(t testing.TB, data string) *tabular.Sheet {
	t.Helper()
	s, err := tabular.Open([]byte(data), nil)
	require.NoError(t, err)
	return s
}

// read opens a file and reads all its rows by the guessed mapping.
func read(t testing.TB, data []byte) (*tabular.Sheet, []tabular.Row) {
	t.Helper()
	s, err := tabular.Open(data, nil)
	require.NoError(t, err)
	return s, rows(t, s, s.Guess())
}

func rows(t testing.TB, s *tabular.Sheet, m tabular.Mapping) []tabular.Row {
	t.Helper()
	var out []tabular.Row
	require.NoError(t, s.Each(context.Background(), m, setup(), func(r tabular.Row) error {
		out = append(out, r)
		return nil
	}))
	require.Len(t, out, s.Rows)
	return out
}

// workbook makes a workbook of cells; times are dates, the rest as Go has it.
func workbook(t testing.TB, cells ...[]any) []byte {
	t.Helper()
	f := excelize.NewFile()
	for i, row := range cells {
		require.NoError(t, f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &row))
	}
	var b bytes.Buffer
	_, err := f.WriteTo(&b)
	require.NoError(t, err)
	return b.Bytes()
}

func requireFile(t *testing.T, data []byte, problem tabular.FileProblem, line int) {
	t.Helper()
	_, err := tabular.Open(data, nil)
	var bad *tabular.FileError
	require.ErrorAs(t, err, &bad)
	require.Equal(t, problem, bad.Problem)
	require.Equal(t, line, bad.Line)
	require.NotEmpty(t, bad.Error())
}

func lines(rows ...string) string { return strings.Join(rows, "\n") + "\n" }
