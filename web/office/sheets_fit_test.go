package office

import (
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/press"
)

// Every word of a bag's row stays on its own part of the sheet, in both languages
// and with the words that open an answer: nothing is cut off with the scissors.
// Where words stand is read with poppler's pdftotext.
func TestSheetWordsStayOnTheirParts(t *testing.T) {
	const mm = 72 / 25.4
	// The cuts of the sheet that bundles.go draws, in points.
	top, bottom := 31*mm, (31+38)*mm
	cuts := []float64{12.7 * mm, 74.7 * mm, 130.7 * mm, 174.7 * mm, 203.2 * mm}
	for _, l := range []*catalog.Lang{catalog.English(), catalog.Spanish()} {
		t.Run(l.Code(), func(t *testing.T) {
			sheets := bundleSheets(l, [][]bag.Code{codes[:1]}, map[bag.Code]bag.Words{codes[0]: 7}, "Sedge", 2026, "https://scn.example.org/")
			words := sheetWords(l)
			file := filepath.Join(t.TempDir(), "sheet.pdf")
			f, err := os.Create(file)
			require.NoError(t, err)
			require.NoError(t, press.Bundles(f, sheets, words))
			require.NoError(t, f.Close())
			out, err := exec.Command("pdftotext", "-bbox", file, "-").Output()
			require.NoError(t, err, "this test reads the sheet back: install poppler-utils")
			var page struct {
				Words []struct {
					XMin float64 `xml:"xMin,attr"`
					XMax float64 `xml:"xMax,attr"`
					YMin float64 `xml:"yMin,attr"`
					YMax float64 `xml:"yMax,attr"`
					Text string  `xml:",chardata"`
				} `xml:"body>doc>page>word"`
			}
			require.NoError(t, xml.Unmarshal(out, &page))
			inRow := 0
			for _, w := range page.Words {
				if w.YMax < top || w.YMin > bottom+160*mm { // head, and cautions at the foot
					continue
				}
				inRow++
				require.Less(t, w.YMax, bottom-1.5*mm, "%q is cut off below", w.Text)
				for _, cut := range cuts {
					require.False(t, w.XMin < cut+mm && w.XMax > cut-mm, "%q is cut through", w.Text)
				}
			}
			require.Greater(t, inRow, 40)
		})
	}
}
