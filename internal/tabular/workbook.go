package tabular

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Limits on the parts of a workbook, ours: shared texts, styles and the like
// become structures many times their size once read, worksheets are read as
// they pass.
const (
	maxSharedTexts = 8 << 20
	maxOtherPart   = 4 << 20
	maxParts       = 2000
)

// workbook is one worksheet of a workbook, read as it passes.
type workbook struct {
	file *excelize.File
	name string
}

// openWorkbook reads the parts of a workbook into memory, once inspect has
// found them harmless. Nothing goes to temporary files: a part is only ever put
// there when it is over UnzipXMLSizeLimit, and parts that large are refused.
func openWorkbook(data []byte) (_ *excelize.File, err error) {
	defer recovered(&err)
	if err := inspect(data); err != nil {
		return nil, err
	}
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{
		RawCellValue:      true,
		UnzipSizeLimit:    MaxUnpacked,
		UnzipXMLSizeLimit: MaxUnpacked,
		TmpDir:            "/dev/null", // no folder: were anything to be spilled, it could not be
	})
	if err != nil {
		return nil, &FileError{Problem: Broken}
	}
	return f, nil
}

// inspect refuses what is no sound workbook of a bearable size. It unpacks every
// part without keeping it, which also checks the sums that tell a damaged file,
// and reads all XML to its end (soundXML).
func inspect(data []byte) error {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return &FileError{Problem: Broken}
	}
	if len(z.File) > maxParts {
		return &FileError{Problem: Bomb}
	}
	left := int64(MaxUnpacked)
	for _, part := range z.File {
		name := strings.ToLower(strings.ReplaceAll(part.Name, `\`, "/"))
		most := int64(maxOtherPart)
		switch {
		case strings.HasPrefix(name, "xl/worksheets/"):
			most = MaxUnpacked
		case name == "xl/sharedstrings.xml":
			most = maxSharedTexts
		}
		n, err := unpack(part, min(most, left), strings.HasSuffix(name, ".xml") || strings.HasSuffix(name, ".rels"))
		if err != nil {
			return err
		}
		left -= n
	}
	return nil
}

// each hands over row by row, with its number in the worksheet.
func (w workbook) each(yield func(line int, cells []string) bool) (err error) {
	defer recovered(&err)
	rows, err := w.file.Rows(w.name)
	if err != nil {
		return &FileError{Problem: Broken}
	}
	for line := 1; rows.Next(); line++ {
		cells, err := rows.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return &FileError{Problem: Broken, Line: line}
		}
		if len(cells) > MaxColumns {
			return &FileError{Problem: TooManyColumns, Line: line}
		}
		if !yield(line, cells) {
			break
		}
	}
	if rows.Close() != nil {
		return &FileError{Problem: Broken}
	}
	return nil
}

// recovered makes a broken file of a panic in the library: a file somebody
// uploads must not end a request, let alone the program.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("workbook: %w", &FileError{Problem: Broken})
	}
}
