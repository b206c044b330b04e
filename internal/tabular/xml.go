package tabular

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"io"
	"strconv"

	"github.com/xuri/excelize/v2"
)

// Limits on the XML of a workbook, ours: what is read must not grow to many
// times its size in memory.
const (
	maxDepth       = 64        // elements within each other
	maxTag         = 64 << 10  // bytes of a tag with its attributes
	maxText        = 256 << 10 // bytes between two tags; a cell holds 32,767 characters
	maxRowElements = 1_048_576 // rows a worksheet can have at all
)

// unpack reads one part to its end and says how long it is.
func unpack(part *zip.File, most int64, isXML bool) (int64, error) {
	if part.UncompressedSize64 > uint64(most) {
		return 0, &FileError{Problem: Bomb}
	}
	r, err := part.Open()
	if err != nil {
		return 0, &FileError{Problem: Broken}
	}
	defer r.Close()
	counted := &meter{r: io.LimitReader(r, most+1), tags: isXML}
	if isXML {
		if err := soundXML(counted); err != nil {
			return 0, err
		}
	}
	if _, err := io.Copy(io.Discard, counted); err != nil {
		return 0, &FileError{Problem: Broken}
	}
	if counted.n > most {
		return 0, &FileError{Problem: Bomb}
	}
	return counted.n, nil
}

// meter counts the bytes that pass and, of XML, refuses a tag longer than maxTag
// and a text longer than maxText before anybody keeps them.
type meter struct {
	r     io.Reader
	n     int64
	tags  bool
	in    bool // in a tag
	quote byte // in a quoted value of a tag
	piece int  // bytes of the tag or text so far
}

var errLong = errors.New("tag or text too long")

func (m *meter) Read(b []byte) (int, error) {
	n, err := m.r.Read(b)
	m.n += int64(n)
	if !m.tags {
		return n, err
	}
	for _, c := range b[:n] {
		m.piece++
		switch {
		case !m.in && c == '<':
			m.in, m.piece = true, 0
		case !m.in:
		case m.quote != 0 && c == m.quote:
			m.quote = 0
		case m.quote != 0:
		case c == '"' || c == '\'':
			m.quote = c
		case c == '>':
			m.in, m.piece = false, 0
		}
		if m.in && m.piece > maxTag || m.piece > maxText {
			return 0, errLong
		}
	}
	return n, err
}

// soundXML reads XML to its end, minds that what opens closes, and that the rows
// and cells of a worksheet rise. The library takes a worksheet that breaks off
// for one that ends there, and runs rows together that are out of order: results
// would be lost or land on another bag without a word.
func soundXML(r io.Reader) error {
	d := xml.NewDecoder(r)
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	depth, order := 0, rising{}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return &FileError{Problem: Broken}
		}
		switch token := token.(type) {
		case xml.StartElement:
			depth++
			if depth > maxDepth || !order.next(token) {
				return &FileError{Problem: Broken}
			}
		case xml.EndElement:
			depth--
		}
		if order.row > maxRowElements {
			return &FileError{Problem: TooManyRows}
		}
	}
}

// rising is the place of the last row and cell.
type rising struct{ row, column int }

// next reports whether a row or cell comes after the one before. Either may
// leave its place out, and is then the next one.
func (o *rising) next(e xml.StartElement) bool {
	at := ""
	for _, a := range e.Attr {
		if a.Name.Local == "r" {
			at = a.Value
		}
	}
	switch e.Name.Local {
	case "row":
		last := o.row
		o.row, o.column = last+1, 0
		if at != "" {
			n, err := strconv.Atoi(at)
			o.row = n
			return err == nil && n > last
		}
	case "c":
		last := o.column
		o.column++
		if at != "" {
			column, row, err := excelize.CellNameToCoordinates(at)
			o.column = column
			return err == nil && column > last && (row == o.row || o.row == 0)
		}
	}
	return true
}
