package geofile

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/htmlindex"
)

// column is a field of a dBASE table.
type column struct {
	name     string
	kind     byte
	from, to int // its place in a record
}

// table reads the .dbf part of a shapefile row by row. The layout is that of
// dBASE III (from memory; checked against GDAL on real files in the tests).
type table struct {
	in      *bufio.Reader
	columns []column
	record  []byte
	left    uint32
	decode  func([]byte) string
}

// newTable reads the header. charset is what the .cpg part says, "" without one.
func newTable(r io.Reader, b *builder, charset string) (*table, error) {
	t := &table{in: bufio.NewReaderSize(r, 64<<10)}
	var head [32]byte
	if _, err := io.ReadFull(t.in, head[:]); err != nil {
		return nil, shpError(err, "its .dbf part ends within the header")
	}
	t.left = binary.LittleEndian.Uint32(head[4:])
	header, record := int(binary.LittleEndian.Uint16(head[8:])), int(binary.LittleEndian.Uint16(head[10:]))
	if header < 33 || record < 1 {
		return nil, fmt.Errorf("%w: its .dbf part does not begin like one", ErrShapefile)
	}
	rest := make([]byte, header-32)
	if _, err := io.ReadFull(t.in, rest); err != nil {
		return nil, shpError(err, "its .dbf part ends within the header")
	}
	var err error
	if t.decode, err = decoder(charset, head[29]); err != nil {
		return nil, err
	}
	at := 1 // after the mark of deletion
	for ; len(rest) >= 32 && rest[0] != '\r'; rest = rest[32:] {
		name, _, _ := strings.Cut(string(rest[:11]), "\x00")
		c := column{name: t.decode([]byte(name)), kind: rest[11], from: at, to: at + int(rest[16])}
		if c.kind == 'C' {
			c.to += 256 * int(rest[17]) // long texts have their length's high byte where numbers have decimals
		}
		if c.to > record {
			return nil, fmt.Errorf("%w: in its .dbf part the field %q does not fit into a row", ErrShapefile, c.name)
		}
		at = c.to
		t.columns = append(t.columns, c)
	}
	t.record = make([]byte, record)
	return t, b.columns(len(t.columns))
}

// next reads a row. deleted rows belong to shapes that are to be left out.
// io.EOF: there are no more.
func (t *table) next() (row map[string]string, deleted bool, err error) {
	if t.left == 0 {
		return nil, false, io.EOF
	}
	t.left--
	if _, err := io.ReadFull(t.in, t.record); err != nil {
		return nil, false, shpError(err, "its .dbf part has fewer rows than it says")
	}
	if t.record[0] == '*' {
		return nil, true, nil
	}
	row = make(map[string]string, len(t.columns))
	for _, c := range t.columns {
		row[c.name] = t.value(c)
	}
	return row, false, nil
}

func (t *table) value(c column) string {
	raw := t.record[c.from:c.to]
	switch c.kind {
	case 'C':
		return strings.TrimRight(t.decode(raw), " \x00")
	case 'L':
		switch strings.TrimSpace(string(raw)) {
		case "T", "t", "Y", "y":
			return "true"
		case "F", "f", "N", "n":
			return "false"
		}
		return ""
	}
	text := strings.Trim(string(raw), " \x00")
	switch {
	case strings.Trim(text, "*") == "": // a number that did not fit, or none
		return ""
	case c.kind == 'D' && len(text) == 8 && strings.Trim(text, "0123456789") == "":
		if text == "00000000" {
			return ""
		}
		return text[:4] + "-" + text[4:6] + "-" + text[6:]
	}
	return t.decode([]byte(text))
}

// decoder finds how a table's text is written: as its .cpg part says, or else
// the byte in its header, or else as UTF-8 where that fits and Windows-1252
// where it does not.
func decoder(charset string, language byte) (func([]byte) string, error) {
	name := strings.ToLower(strings.TrimSpace(strings.TrimPrefix(charset, "\ufeff")))
	name = strings.TrimPrefix(strings.TrimPrefix(name, "ansi"), "cp")
	name = strings.Trim(name, " _-")
	switch name {
	case "":
		switch language {
		case 0x03, 0x57, 0x58, 0x59: // Windows ANSI (from memory)
			return guess, nil // many programs write it whatever the text is in
		case 0x01:
			return using(charmap.CodePage437), nil
		case 0x02:
			return using(charmap.CodePage850), nil
		}
		return guess, nil
	case "utf-8", "utf8", "65001":
		return asUTF8, nil
	case "437", "ibm437":
		return using(charmap.CodePage437), nil
	case "850", "ibm850":
		return using(charmap.CodePage850), nil
	}
	for _, prefix := range []string{"", "windows-", "iso-"} {
		tried := strings.Replace(prefix+name, "iso-8859", "iso-8859-", 1)
		tried = strings.Replace(tried, "--", "-", 1)
		if e, err := htmlindex.Get(tried); err == nil {
			return using(e), nil
		}
	}
	return nil, fmt.Errorf("%w: its .cpg part says %.40q, which is no known way of writing letters; save the file as UTF-8", ErrShapefile, charset)
}

func using(e encoding.Encoding) func([]byte) string {
	return func(b []byte) string {
		s, err := e.NewDecoder().Bytes(b)
		if err != nil {
			return strings.ToValidUTF8(string(b), "\uFFFD")
		}
		return string(s)
	}
}

// asUTF8 leaves out half a letter at the end, where the field was too short.
func asUTF8(b []byte) string {
	for n := 1; n < utf8.UTFMax && n <= len(b); n++ {
		if tail := b[len(b)-n:]; utf8.RuneStart(tail[0]) {
			if !utf8.FullRune(tail) {
				b = b[:len(b)-n]
			}
			break
		}
	}
	return strings.ToValidUTF8(string(b), "\uFFFD")
}

func guess(b []byte) string {
	if utf8.Valid(b) {
		return string(b)
	}
	return using(charmap.Windows1252)(b)
}
