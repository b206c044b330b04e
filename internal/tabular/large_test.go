package tabular_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"sixmile/internal/tabular"
)

// largeHeader is a full day's file: three portions a bag.
var largeHeader = []any{"Bag code", "Date counted", "Eggs 1", "mL 1", "Eggs 2", "mL 2", "Eggs 3", "mL 3", "Cyst seen", "Juveniles seen", "Notes"}

// large is a workbook of n rows.
func large(t testing.TB, n int) []byte {
	t.Helper()
	f := excelize.NewFile()
	w, err := f.NewStreamWriter("Sheet1")
	require.NoError(t, err)
	require.NoError(t, w.SetRow("A1", largeHeader))
	for i, code := range codes(t, n) {
		require.NoError(t, w.SetRow(fmt.Sprintf("A%d", i+2), []any{code.String(), "2026-11-20", i % 90, 2, i % 80, 2.5, i % 70, 2, "no", "", "tray " + fmt.Sprint(i/38)}))
	}
	require.NoError(t, w.Flush())
	var b bytes.Buffer
	_, err = f.WriteTo(&b)
	require.NoError(t, err)
	return b.Bytes()
}

// largeText is the same as text.
func largeText(t testing.TB, n int) []byte {
	t.Helper()
	var b strings.Builder
	for i, h := range largeHeader {
		fmt.Fprintf(&b, "%s%v", map[bool]string{true: "", false: ","}[i == 0], h)
	}
	b.WriteString("\r\n")
	for i, code := range codes(t, n) {
		fmt.Fprintf(&b, "%s,2026-11-20,%d,2,%d,2.5,%d,2,no,,tray %d\r\n", code, i%90, i%80, i%70, i/38)
	}
	return []byte(b.String())
}

// pass reads a file to its end and sums it up, as an upload does.
func pass(t testing.TB, data []byte) (rows int, digest string) {
	t.Helper()
	s, err := tabular.Open(data, nil)
	require.NoError(t, err)
	var d tabular.Digest
	require.NoError(t, s.Each(context.Background(), s.Guess(), setup(), func(r tabular.Row) error {
		if r.OK() {
			d.Add(r.Entry)
			rows++
		}
		return nil
	}))
	return rows, d.Sum()
}

// A hundred thousand rows under twenty seconds, and with less memory than a
// small server has, where SIXMILE_LARGE asks for them; two thousand in every run.
func TestHundredThousandRows(t *testing.T) {
	whole := os.Getenv("SIXMILE_LARGE") != ""
	n := 2_000
	if whole {
		n = tabular.MaxRows
	}
	sums := map[string]bool{}
	for name, data := range map[string][]byte{"text": largeText(t, n), "workbook": large(t, n)} {
		runtime.GC()
		peak, stop := watchHeap()
		start := time.Now()
		rows, sum := pass(t, data)
		took := time.Since(start)
		most := stop()
		t.Logf("%s: %d bytes, %d rows in %v, heap at most %d MB over", name, len(data), rows, took.Round(time.Millisecond), (max(most, peak)-peak)>>20)
		require.Equal(t, n, rows)
		if whole { // a time says nothing of a short file on a busy machine
			require.Less(t, took, 20*time.Second)
		}
		require.Less(t, (max(most, peak)-peak)>>20, uint64(400))
		sums[sum] = true
	}
	require.Len(t, sums, 1, "text and workbook say the same")

	_, err := tabular.Open(largeText(t, tabular.MaxRows+1), nil)
	var bad *tabular.FileError
	require.ErrorAs(t, err, &bad)
	require.Equal(t, tabular.TooManyRows, bad.Problem)
}

// watchHeap samples the heap; stop gives the most it was.
func watchHeap() (now uint64, stop func() uint64) {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	now = m.HeapAlloc
	done, result := make(chan struct{}), make(chan uint64)
	go func() {
		most := now
		for {
			select {
			case <-done:
				result <- most
				return
			case <-time.After(20 * time.Millisecond):
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				most = max(most, m.HeapAlloc)
			}
		}
	}()
	return now, func() uint64 { close(done); return <-result }
}

func BenchmarkText10000(b *testing.B)     { benchmark(b, largeText(b, 10_000)) }
func BenchmarkWorkbook10000(b *testing.B) { benchmark(b, large(b, 10_000)) }

func benchmark(b *testing.B, data []byte) {
	b.ReportAllocs()
	for b.Loop() {
		pass(b, data)
	}
}
