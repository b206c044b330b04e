package press

import (
	"fmt"
	"io"
	"strconv"

	qr "github.com/piglig/go-qr"

	"sixmile/internal/bag"
)

// CupLabel is the label of one cup of a tray. A cup that still waits for a bag
// has no code and is printed with its number alone.
type CupLabel struct {
	Tray, Cup int
	Code      bag.Code
	Note      string // of a blank or a check sample: what stands in it
}

// CupWords are the words on cup labels; all come from the catalog.
type CupWords struct {
	Lang  string
	Title string // of the document
	Tray  string // before the tray's number
	Cup   string // before the cup's number
}

// Measures of a label sheet in millimeters: US Letter, five by eight.
const (
	cupColumns = 5
	cupRows    = 8
	cupLeft    = 12.7
	cupTop     = 14.0
	cupWidth   = (pageWidth - 2*cupLeft) / cupColumns
	cupHeight  = 31.0
)

// CupLabels writes the labels as sheets to cut apart, row by row in the order
// given; the same input gives the same bytes. The square code holds the bare
// code, for a scanner that types into the lab's page.
func CupLabels(w io.Writer, labels []CupLabel, words CupWords) error {
	d := newDocument(words.Title, words.Lang)
	s := bagSheet{d: d}
	for i, label := range labels {
		at := i % (cupColumns * cupRows)
		if at == 0 {
			d.AddPage()
			d.SetTextColor(0, 0, 0)
		}
		x, y := cupLeft+float64(at%cupColumns)*cupWidth, cupTop+float64(at/cupColumns)*cupHeight
		d.SetDrawColor(150, 150, 150)
		d.SetLineWidth(0.1)
		d.Rect(x, y, cupWidth, cupHeight, "D")
		d.SetFont("condensed", "", 8)
		d.Text(x+2, y+4.5, words.Tray+" "+strconv.Itoa(label.Tray)+"  "+words.Cup)
		d.SetFont("serif", "B", 18)
		d.Text(x+2, y+12, strconv.Itoa(label.Cup))
		if label.Note != "" {
			s.lines(x+2, y+15, cupWidth-4, 9, "B", label.Note)
		}
		if label.Code == "" {
			continue
		}
		square, err := qr.EncodeText(string(label.Code), qr.Medium)
		if err != nil {
			return fmt.Errorf("press.CupLabels: %w", err)
		}
		s.square(x+cupWidth-22, y+3.5, 21, square) // its quiet zone included
		s.code(x+2, y+28, cupWidth-4, 13, label.Code.String())
	}
	if err := d.Output(w); err != nil {
		return fmt.Errorf("press.CupLabels: %w", err)
	}
	return nil
}
