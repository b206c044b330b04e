package press

import (
	"fmt"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
	qr "github.com/piglig/go-qr"

	"sixmile/internal/bag"
	"sixmile/static/fonts"
)

// BundleSheet is a sealed bundle of bags. It is printed on sheets of its own, a
// row for each bag, with the bag's code four times: on the label tied to the bag,
// on the slip that travels in it, on the stub the grower keeps, and on the cup of
// the laboratory.
type BundleSheet struct {
	Head string // first line of the sheet, such as county, season and number of bags
	Bags []Bag
}

// Bag is one bag of a bundle.
type Bag struct {
	Code bag.Code
	URL  string // address of the form with the code: in the QR codes of label, slip and stub
	// Words open the bag's answer together with its code; on the stub alone. ""
	// where the stub is in somebody's hand already.
	Words string
}

// BagWords are the sentences on a bag sheet; all come from the catalog.
type BagWords struct {
	Lang      string // language of the sheet, such as "en"
	Title     string // of the document
	Intro     string // under the head of each sheet: how to cut and seal
	Label     string // names of the four parts
	Slip      string
	Stub      string
	Cup       string
	LabelNote string // what each part is for
	SlipNote  string
	StubNote  string
	Words     string // before the words that open the answer
	MyField   string // before the blank line on the stub, which only the grower keeps
	Footer    string // cautions at the foot of each sheet
}

// Measures of a bag sheet in millimeters: US Letter, six rows.
const (
	bagRows   = 6
	bagLeft   = 12.7
	bagTop    = 31.0
	rowHeight = 38.0
	footTop   = bagTop + bagRows*rowHeight + 5
	pageWidth = 215.9
)

// bagParts are the widths of label, slip, stub and cup; they fill the sheet
// between its margins.
var bagParts = [4]float64{62, 56, 44, 28.5}

// fixedDate stands for the time of making in every document, so that the same
// input gives the same bytes.
func fixedDate() time.Time { return time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC) }

// Bundles writes the sheets of bundles as one PDF;
// the same input gives the same bytes. The QR codes of label, slip and stub hold
// the bag's URL; that of the cup holds the bare code, for a scanner that types
// into the laboratory's page. It fails when a URL is too long for a QR code.
func Bundles(w io.Writer, bundles []BundleSheet, words BagWords) error {
	d := newDocument(words.Title, words.Lang)
	s := bagSheet{d: d, words: words}
	for _, b := range bundles {
		for first := 0; first < len(b.Bags); first += bagRows {
			page := b.Bags[first:min(first+bagRows, len(b.Bags))]
			if err := s.page(b.Head, page); err != nil {
				return fmt.Errorf("press.Bundles: %w", err)
			}
		}
	}
	if err := d.Output(w); err != nil {
		return fmt.Errorf("press.Bundles: %w", err)
	}
	return nil
}

// newDocument starts a letter-size document with our fonts and fixed dates.
func newDocument(title, lang string) *fpdf.Fpdf {
	d := fpdf.New("P", "mm", "Letter", "")
	d.SetCatalogSort(true)
	d.SetCreationDate(fixedDate())
	d.SetModificationDate(fixedDate())
	d.SetProducer("Sixmile", true)
	d.SetTitle(title, true)
	d.SetLang(lang)
	d.SetAutoPageBreak(false, 0)
	d.SetMargins(0, 0, 0)
	d.SetCellMargin(0)
	d.AddUTF8FontFromBytes("sans", "", fonts.SansRegular())
	d.AddUTF8FontFromBytes("sans", "B", fonts.SansSemiBold())
	d.AddUTF8FontFromBytes("condensed", "", fonts.CondensedRegular())
	d.AddUTF8FontFromBytes("condensed", "B", fonts.CondensedSemiBold())
	d.AddUTF8FontFromBytes("serif", "B", fonts.SerifSemiBold())
	return d
}

type bagSheet struct {
	d     *fpdf.Fpdf
	words BagWords
}

func (s *bagSheet) page(head string, bags []Bag) error {
	d := s.d
	d.AddPage()
	d.SetTextColor(0, 0, 0)
	d.SetFont("serif", "B", 15)
	d.Text(bagLeft, 16, head)
	s.lines(bagLeft, 18.2, pageWidth-2*bagLeft, 8.5, "", s.words.Intro)
	s.crop(len(bags))
	for i, b := range bags {
		if err := s.row(bagTop+float64(i)*rowHeight, b); err != nil {
			return err
		}
	}
	s.lines(bagLeft, footTop, pageWidth-2*bagLeft, 7.5, "", s.words.Footer)
	return nil
}

// row prints the four parts of one bag.
func (s *bagSheet) row(y float64, b Bag) error {
	x := bagLeft
	form, err := qr.EncodeText(b.URL, qr.Medium)
	if err != nil {
		return fmt.Errorf("QR of a bag's address: %w", err)
	}
	bare, err := qr.EncodeText(string(b.Code), qr.Medium)
	if err != nil {
		return fmt.Errorf("QR of a bag's code: %w", err)
	}
	code := b.Code.String()

	s.name(x, y, s.words.Label)
	s.square(x+1.5, y+7, 27, form)
	s.code(x+30, y+15.5, bagParts[0]-31, 15, code)
	s.lines(x+30, y+18.5, bagParts[0]-33, 7.5, "", s.words.LabelNote)
	x += bagParts[0]

	s.name(x, y, s.words.Slip)
	s.square(x+1.5, y+7, 24, form)
	s.code(x+27, y+15.5, bagParts[1]-28, 13, code)
	s.lines(x+27, y+18.5, bagParts[1]-30, 7.5, "", s.words.SlipNote)
	x += bagParts[1]

	s.name(x, y, s.words.Stub)
	s.square(x+1.5, y+6, 19, form)
	s.code(x+21.5, y+12, bagParts[2]-22.5, 10.5, code)
	s.lines(x+21.5, y+13.6, bagParts[2]-24, 6.2, "", s.words.StubNote)
	if b.Words != "" {
		s.opening(x+3, y+rowHeight-9.6, bagParts[2]-6, b.Words)
	}
	s.blank(x+3, y+rowHeight-4.6, bagParts[2]-6, s.words.MyField)
	x += bagParts[2]

	s.name(x, y, s.words.Cup)
	s.square(x+(bagParts[3]-20)/2, y+6, 20, bare)
	w := s.codeWidth(bagParts[3]-3, 13, code)
	s.code(x+(bagParts[3]-w)/2, y+31.5, bagParts[3]-3, 13, code)
	return nil
}

// name sets the name of a part at its head.
func (s *bagSheet) name(x, y float64, name string) {
	s.d.SetFont("condensed", "B", 8)
	s.d.Text(x+3, y+5.2, name)
}

// code sets a code as large as given, or as fits the width: W and M are wide.
func (s *bagSheet) code(x, y, width, size float64, code string) {
	s.codeWidth(width, size, code)
	s.d.Text(x, y, code)
}

// codeWidth chooses the size of a code and returns how wide it comes out.
func (s *bagSheet) codeWidth(width, size float64, code string) float64 {
	s.d.SetFont("condensed", "B", size)
	w := s.d.GetStringWidth(code)
	if w > width {
		s.d.SetFontSize(size * width / w)
		return width
	}
	return w
}

// lines wraps a text to a width, its first line under y.
func (s *bagSheet) lines(x, y, w, size float64, style, text string) {
	if text == "" {
		return
	}
	s.d.SetFont("condensed", style, size)
	lead := size * 0.3528 * 1.2
	for i, l := range s.d.SplitText(text, w) {
		s.d.Text(x, y+lead*(float64(i)+0.85), l)
	}
}

// opening sets the words that open an answer after their name, as large as fits.
func (s *bagSheet) opening(x, y, w float64, words string) {
	s.d.SetFont("condensed", "", 8)
	s.d.Text(x, y, s.words.Words)
	at := s.d.GetStringWidth(s.words.Words) + 1
	s.code(x+at, y, w-at, 9.5, words)
}

// blank draws a line to write on, with its words before it.
func (s *bagSheet) blank(x, y, w float64, words string) {
	s.d.SetFont("condensed", "", 8)
	s.d.Text(x, y, words)
	at := x + s.d.GetStringWidth(words) + 1
	s.d.SetLineWidth(0.2)
	s.d.Line(at, y+0.6, x+w, y+0.6)
}

// square draws a QR code as dark runs in a square with side w, quiet zone of four
// modules included (ISO/IEC 18004 asks for four).
func (s *bagSheet) square(x, y, w float64, c *qr.QrCode) {
	n := c.Size()
	m := w / float64(n+8)
	s.d.SetFillColor(0, 0, 0)
	for row := range n {
		for col := 0; col < n; col++ {
			if !c.Module(col, row) {
				continue
			}
			from := col
			for col < n && c.Module(col, row) {
				col++
			}
			s.d.Rect(x+float64(from+4)*m, y+float64(row+4)*m, float64(col-from)*m, m, "F")
		}
	}
}

// crop marks where to cut: short lines in the margins and small crosses where
// four parts meet.
func (s *bagSheet) crop(rows int) {
	s.d.SetLineWidth(0.15)
	s.d.SetDrawColor(0, 0, 0)
	right, bottom := pageWidth-bagLeft, bagTop+float64(rows)*rowHeight
	xs := [5]float64{bagLeft}
	for i, w := range bagParts {
		xs[i+1] = xs[i] + w
	}
	for _, x := range xs {
		s.d.Line(x, bagTop-4, x, bagTop-1)
		s.d.Line(x, bottom+1, x, bottom+4)
	}
	for r := range rows + 1 {
		y := bagTop + float64(r)*rowHeight
		s.d.Line(bagLeft-4, y, bagLeft-1, y)
		s.d.Line(right+1, y, right+4, y)
		for _, x := range xs[1:4] {
			s.d.Line(x-1, y, x+1, y)
			s.d.Line(x, y-1, x, y+1)
		}
	}
}
