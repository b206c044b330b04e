//go:build recalculate

package press

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// LibreOffice opens the workbook, works every formula out anew and saves it: each
// comes to what was stored. SIXMILE_WORKBOOK names a file to look at in the place
// of the invented one. (Debian package libreoffice-calc-nogui.)
func TestLibreOfficeRecalculates(t *testing.T) {
	dir := t.TempDir()
	from := filepath.Join(dir, "in", "annual.xlsx")
	require.NoError(t, os.MkdirAll(filepath.Dir(from), 0o700))
	body := written(t, "OFFICE COPY · NOT FOR RELEASE", threeRows)
	if name := os.Getenv("SIXMILE_WORKBOOK"); name != "" {
		var err error
		body, err = os.ReadFile(name)
		require.NoError(t, err)
	}
	require.NoError(t, os.WriteFile(from, body, 0o600))
	cmd := exec.Command("soffice", "--headless", "-env:UserInstallation=file://"+filepath.Join(dir, "home"), "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", filepath.Join(dir, "out"), from)
	said, err := cmd.CombinedOutput()
	require.NoError(t, err, string(said))
	ours, err := excelize.OpenReader(bytes.NewReader(body))
	require.NoError(t, err)
	defer ours.Close()
	theirs, err := excelize.OpenFile(filepath.Join(dir, "out", "annual.xlsx"))
	require.NoError(t, err)
	defer theirs.Close()
	formulas := 0
	for _, sheet := range ours.GetSheetList() {
		rows, err := ours.GetRows(sheet, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		for y := range rows {
			for x := range rows[y] {
				cell, err := excelize.CoordinatesToCellName(x+1, y+1)
				require.NoError(t, err)
				if formula, _ := ours.GetCellFormula(sheet, cell); formula == "" {
					continue
				}
				formulas++
				got, err := theirs.GetCellValue(sheet, cell, excelize.Options{RawCellValue: true})
				require.NoError(t, err)
				want, have := number(t, rows[y][x]), number(t, got)
				require.InDelta(t, want, have, 1e-9, "%s %s", sheet, cell)
			}
		}
	}
	require.Positive(t, formulas)
	t.Logf("%d formulas come to what is stored", formulas)
}

func number(t *testing.T, s string) float64 {
	if s == "" {
		return 0
	}
	n, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return n
}
