package press_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/press"
)

// The same labels give the same bytes, forty to a sheet.
func TestCupLabels(t *testing.T) {
	var labels []press.CupLabel
	for i := range 41 {
		labels = append(labels, press.CupLabel{Tray: 3, Cup: i + 1, Code: "K7QF2M9X"})
	}
	labels[4].Code, labels[4].Note = "", "blank"
	words := press.CupWords{Lang: "en", Title: "Labels", Tray: "Tray", Cup: "cup"}
	var a, b bytes.Buffer
	require.NoError(t, press.CupLabels(&a, labels, words))
	require.NoError(t, press.CupLabels(&b, labels, words))
	require.Equal(t, a.Bytes(), b.Bytes())
	require.Equal(t, 2, strings.Count(a.String(), "/Type /Page\n"))

	// A scanner reads every cup's code back, and none off the blank's.
	dir := t.TempDir()
	file := filepath.Join(dir, "cups.pdf")
	require.NoError(t, os.WriteFile(file, a.Bytes(), 0o600))
	tool(t, "pdftoppm", "-r", "200", "-gray", "-png", file, filepath.Join(dir, "page"))
	var files []string
	for i, label := range labels {
		page := filepath.Join(dir, fmt.Sprintf("page-%d.png", i/40+1))
		files = append(files, cupOf(t, page, i%40))
		if label.Code == "" { // a blank has none
			files = files[:len(files)-1]
		}
	}
	read := strings.Fields(tool(t, "zbarimg", append([]string{"--quiet", "--raw", "-Sdisable", "-Sqrcode.enable"}, files...)...))
	require.Len(t, read, 40)
	for _, code := range read {
		require.Equal(t, "K7QF2M9X", code)
	}
}

// cupOf cuts one label out of a page, as a scanner sees one cup at a time.
func cupOf(t *testing.T, page string, at int) string {
	t.Helper()
	f, err := os.Open(page)
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	dots := func(mm float64) int { return int(mm / 25.4 * 200) }
	x, y := 12.7+float64(at%5)*38.1, 14+float64(at/5)*31
	box := image.Rect(dots(x), dots(y), dots(x+38.1), dots(y+31))
	out := filepath.Join(t.TempDir(), fmt.Sprintf("cup-%02d.png", at))
	to, err := os.Create(out)
	require.NoError(t, err)
	defer to.Close()
	require.NoError(t, png.Encode(to, img.(interface {
		SubImage(image.Rectangle) image.Image
	}).SubImage(box)))
	return out
}
