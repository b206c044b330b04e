package tabular_test

import (
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/tabular"
)

// What a workbook within the limits can cost at the worst: parts that are small
// to send and large once read. Asked for, since it takes seconds.
func TestHostileWorkbooksStayBounded(t *testing.T) {
	if os.Getenv("SIXMILE_LARGE") == "" {
		t.Skip("set SIXMILE_LARGE=1 to read hostile workbooks")
	}
	texts := workbook(t, []any{"code", "eggs"}, []any{"text", "in the shared texts"})
	fill := func(name, head, piece, tail string, bytes int) []byte {
		return repack(t, texts, name, func([]byte) []byte {
			return []byte(head + strings.Repeat(piece, (bytes-len(head)-len(tail))/len(piece)) + tail)
		})
	}
	sst := `<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">`
	sheet := `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`
	for name, data := range map[string][]byte{
		"empty shared texts": fill("xl/sharedStrings.xml", sst, "<si/>", "</sst>", 8<<20),
		"runs":               fill("xl/sharedStrings.xml", sst+"<si>", "<r/>", "</si></sst>", 8<<20),
		"styles":             fill("xl/styles.xml", `<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><cellXfs>`, "<xf/>", "</cellXfs></styleSheet>", 4<<20),
		"one cell":           fill(firstSheet, sheet+`<row><c t="inlineStr"><is><t>`, "aaaaaaaaaa", "</t></is></c></row></sheetData></worksheet>", 90<<20),
		"cells":              fill(firstSheet, sheet+"<row>", "<c/>", "</row></sheetData></worksheet>", 90<<20),
		"rows":               fill(firstSheet, sheet, "<row/>", "</sheetData></worksheet>", 5<<20),
	} {
		runtime.GC()
		before, stop := watchHeap()
		start := time.Now()
		s, err := tabular.Open(data, nil)
		took, most := time.Since(start), stop()
		t.Logf("%s: %d bytes sent, %v, heap at most %d MB over, taken %t: %v", name, len(data), took.Round(time.Millisecond), (most-before)>>20, s != nil, err)
		require.Less(t, (most-before)>>20, uint64(600), name)
		require.Less(t, took, time.Minute, name)
	}
}
