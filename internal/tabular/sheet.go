package tabular

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
)

// Format is the form of a file.
type Format string

// The formats.
const (
	CSV      Format = "csv" // delimited text, whatever the delimiter
	Workbook Format = "xlsx"
)

// Sheet is a file that was opened: what it is, where its header stands, and its
// first rows for a person to map by. It is used by one goroutine at a time.
type Sheet struct {
	Format    Format
	Encoding  string // of a text
	Delimiter rune   // of a text
	Name      string // of the worksheet that is read
	Headers   []string
	Header    int        // line of the header; 0: the file has none, and columns go by number
	First     [][]string // first rows below the header, at most five
	Width     int        // most cells in any of the first rows and the header
	Rows      int        // rows below the header with something in them

	source   source
	signs    []signs // of each column of a text
	from1904 bool    // which of its two calendars a workbook's day numbers are of
	memory   Memory
}

// source hands over the rows of a file.
type source interface {
	each(yield func(line int, cells []string) bool) error
}

// firstShown is how many rows Sheet.First holds.
const firstShown = 5

// Open recognizes a file and finds its header. remembered is what the office
// has said of headers before; nil for nothing. The error is a *FileError.
//
// Of a workbook the worksheet is read in whose first rows most headers are
// known, the first of those alike.
func Open(data []byte, remembered Memory) (*Sheet, error) {
	switch {
	case len(data) > MaxFile:
		return nil, &FileError{Problem: TooBig}
	case len(bytes.TrimSpace(data)) == 0:
		return nil, &FileError{Problem: Empty}
	case bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")):
		return nil, &FileError{Problem: OldWorkbook}
	}
	s := &Sheet{memory: remembered}
	var err error
	if bytes.HasPrefix(data, []byte("PK")) {
		err = s.openWorkbook(data)
	} else {
		err = s.openText(data)
	}
	if err != nil {
		return nil, fmt.Errorf("Open: %w", err)
	}
	if err := s.survey(); err != nil {
		return nil, fmt.Errorf("Open: %w", err)
	}
	return s, nil
}

func (s *Sheet) openText(data []byte) error {
	text, encoding, err := decode(data)
	if err != nil {
		return err
	}
	d := split(text, s.memory)
	s.Format, s.Encoding, s.Delimiter, s.source = CSV, encoding, d.delimiter, d
	return nil
}

func (s *Sheet) openWorkbook(data []byte) error {
	f, err := openWorkbook(data)
	if err != nil {
		return err
	}
	s.Format = Workbook
	if props, err := f.GetWorkbookProps(); err == nil && props.Date1904 != nil {
		s.from1904 = *props.Date1904
	}
	best := -1
	for _, name := range f.GetSheetList() {
		w := workbook{file: f, name: name}
		known, rows := 0, 0
		err := w.each(func(_ int, cells []string) bool {
			known = max(known, knownHeaders(cells, s.memory))
			rows++
			return rows < sniffed
		})
		if err != nil {
			return err
		}
		if rows > 0 && known > best {
			best, s.Name, s.source = known, name, w
		}
	}
	if s.source == nil {
		return &FileError{Problem: Empty}
	}
	return nil
}

// survey finds the header in the first rows and counts the rows below it; of a
// text it also notes the decimal signs.
func (s *Sheet) survey() error {
	if err := s.findHeader(); err != nil {
		return err
	}
	err := s.source.each(func(line int, cells []string) bool {
		if line <= s.Header || blank(cells) {
			return true
		}
		if len(s.First) < firstShown {
			s.First = append(s.First, slices.Clone(cells))
			s.Width = max(s.Width, len(cells))
		}
		s.Rows++
		if s.Format == CSV {
			s.noteSigns(cells)
		}
		return s.Rows <= MaxRows
	})
	switch {
	case err != nil:
		return err
	case s.Rows > MaxRows:
		return &FileError{Problem: TooManyRows}
	case s.Rows == 0:
		return &FileError{Problem: Empty}
	}
	return nil
}

// findHeader takes the row among the first ones in which most headers are
// known; where none is, the first row that is not blank, unless it holds a bag
// code: then there is no header.
func (s *Sheet) findHeader() error {
	best, rows := 0, 0
	first, firstLine, hasCode := []string(nil), 0, false
	err := s.source.each(func(line int, cells []string) bool {
		if blank(cells) {
			return true
		}
		if first == nil {
			first, firstLine, hasCode = slices.Clone(cells), line, slices.ContainsFunc(cells, isCode)
		}
		if known := knownHeaders(cells, s.memory); known > best {
			best, s.Headers, s.Header = known, slices.Clone(cells), line
		}
		rows++
		return rows < sniffed
	})
	if err != nil {
		return err
	}
	if best == 0 && !hasCode {
		s.Headers, s.Header = first, firstLine
	}
	s.Headers = trimTail(s.Headers)
	s.Width = len(s.Headers)
	return nil
}

// trimTail cuts off blank cells at the end of a row, and the space around the rest.
func trimTail(cells []string) []string {
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	for len(cells) > 0 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	return cells
}

// Each gives every row below the header its verdict, in the order of the file.
// It stops at the first error of yield, which it returns, and at the end of
// ctx. Other errors are a *FileError, or the *assay.Invalid of Mapping.Check.
//
// Rows are the caller's to keep. Sheet.Rows says how many there will be.
func (s *Sheet) Each(ctx context.Context, m Mapping, with Setup, yield func(Row) error) error {
	if err := m.Check(); err != nil {
		return fmt.Errorf("Each: %w", err)
	}
	reader := s.newReader(m, with)
	var stopped error
	err := s.source.each(func(line int, cells []string) bool {
		if line <= s.Header || blank(cells) {
			return true
		}
		if stopped = ctx.Err(); stopped == nil {
			stopped = yield(reader.row(line, cells))
		}
		return stopped == nil
	})
	if err = firstOf(stopped, err); err != nil {
		return fmt.Errorf("Each: %w", err)
	}
	return nil
}

func firstOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
