package press_test

import (
	"bytes"
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
}
