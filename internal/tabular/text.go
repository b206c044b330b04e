package tabular

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"regexp"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// Encodings a text can be in.
const (
	UTF8        = "utf-8"
	UTF16       = "utf-16"
	Windows1252 = "windows-1252"
)

// decode turns the bytes of a text file into UTF-8 with LF line ends and no
// byte order mark, and says what they were.
func decode(data []byte) (text []byte, encoding string, err error) {
	encoding = UTF8
	odd := false
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		data = data[3:]
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		encoding, odd = UTF16, len(data)%2 == 1
		data, err = unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().Bytes(data)
	case !utf8.Valid(data):
		encoding = Windows1252
		data, err = charmap.Windows1252.NewDecoder().Bytes(data)
	}
	if err != nil || odd || bytes.IndexByte(data, 0) >= 0 || !utf8.Valid(data) {
		return nil, "", &FileError{Problem: NotTable}
	}
	if bytes.IndexByte(data, '\n') < 0 {
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	if bytes.Contains(data, []byte(`="`)) {
		// Cells written ="text" break the rules for quotation marks, and mean text.
		data = regexp.MustCompile(`(?m)(^|[,;\t|])="([^"\r\n]*)"`).ReplaceAll(data, []byte(`$1"$2"`))
	}
	return data, encoding, nil
}

// delimited is a text of delimited cells.
type delimited struct {
	text      []byte
	delimiter rune
	skipped   int // lines cut off before text: the separator hint
}

// each hands over row by row, with its line in the file. Cells are only good
// until the next row. The reader is strict about quotation marks: a lenient one
// would swallow rows without a word.
func (d delimited) each(yield func(line int, cells []string) bool) error {
	r := csv.NewReader(bytes.NewReader(d.text))
	r.Comma, r.FieldsPerRecord, r.ReuseRecord = d.delimiter, -1, true
	r.TrimLeadingSpace = d.delimiter != '\t' // it would eat empty cells between tabs
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			var parse *csv.ParseError
			if errors.As(err, &parse) {
				return &FileError{Problem: Quote, Line: parse.StartLine + d.skipped}
			}
			return &FileError{Problem: Broken}
		}
		if len(cells) > MaxColumns && !blank(cells[MaxColumns:]) {
			line, _ := r.FieldPos(0)
			return &FileError{Problem: TooManyColumns, Line: line + d.skipped}
		}
		line, _ := r.FieldPos(0)
		if !yield(line+d.skipped, cells) {
			return nil
		}
	}
}

// sniffed is how many rows are looked at to find delimiter and header.
const sniffed = 30

// split finds the delimiter: what the first line says if it is a separator hint
// ("sep=;", as some spreadsheets write), else the one by which most headers are
// known, then by which most of the first rows have the same width.
func split(text []byte, memory Memory) delimited {
	first, rest, _ := bytes.Cut(text, []byte("\n"))
	if hint, ok := strings.CutPrefix(strings.ToLower(strings.TrimSpace(strings.Trim(string(first), "\"\r"))), "sep="); ok {
		if hint == "" && bytes.ContainsRune(first, '\t') {
			hint = "\t"
		}
		if r, size := utf8.DecodeRuneInString(hint); size == len(hint) && strings.ContainsRune(",;\t|", r) {
			return delimited{text: rest, delimiter: r, skipped: 1}
		}
	}
	best, bestKnown, bestEven := delimited{text: text, delimiter: ','}, -1, -1
	for _, comma := range []rune{',', ';', '\t', '|'} {
		d := delimited{text: text, delimiter: comma}
		known, even := d.score(memory)
		if known > bestKnown || known == bestKnown && even > bestEven {
			best, bestKnown, bestEven = d, known, even
		}
	}
	return best
}

// score counts the headers known in the best of the first rows, and the rows
// that share the commonest width over one.
func (d delimited) score(memory Memory) (known, even int) {
	widths, rows := map[int]int{}, 0
	_ = d.each(func(_ int, cells []string) bool { // a fault shows when the file is read
		if blank(cells) {
			return true
		}
		known = max(known, knownHeaders(cells, memory))
		if len(cells) > 1 {
			widths[len(cells)]++
		}
		rows++
		return rows < sniffed
	})
	for _, n := range widths {
		even = max(even, n)
	}
	return known, even
}

// knownHeaders counts the different fields that cells name.
func knownHeaders(cells []string, memory Memory) int {
	seen := map[Field]bool{}
	for _, cell := range cells {
		c, there := memory[Fold(cell)]
		if !there {
			c = guess(cell)
		}
		if c.Field != "" {
			seen[c.Field] = true
		}
	}
	return len(seen)
}

// blank reports cells with nothing in them.
func blank(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}
