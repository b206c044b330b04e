package atlas

import "fmt"

// Paper is one of the sheets a map can be composed for.
type Paper uint8

// The papers.
const (
	Screen     Paper = iota // a wide page: legend at the side, as tall as needed
	Phone                   // a narrow page: legend below, as tall as needed
	LetterWide              // US Letter, 11 × 8.5 in
	LetterTall              // US Letter, 8.5 × 11 in
	Slide                   // 16:9, 13.333 × 7.5 in
)

// Papers lists every paper.
func Papers() []Paper { return []Paper{Screen, Phone, LetterWide, LetterTall, Slide} }

// String returns the name used in addresses: screen, phone, letter-wide,
// letter-tall, slide.
func (p Paper) String() string { return p.sheet().name }

// ParsePaper reads such a name.
func ParsePaper(s string) (Paper, error) {
	for _, p := range Papers() {
		if p.String() == s {
			return p, nil
		}
	}
	return 0, fmt.Errorf("atlas.ParsePaper: no such paper %q", s)
}

// sheet holds the measures of a paper, in units.
type sheet struct {
	name          string
	width, height Unit // height zero: as tall as needed
	margin        Unit
	text          Unit // size of running text
	title         Unit
	code0         Unit // size of the code in the corner of a place
	side          Unit // width of the column beside the map; zero: everything below it
	apron         Unit // how much of the neighbors shows around the subject
}

func (p Paper) sheet() sheet {
	const inch = 2540
	switch p {
	case Phone:
		// 358 CSS pixels of 1/96 inch: a 390 pixel phone less the page's margins.
		return sheet{"phone", 9472, 0, 60, 330, 560, 262, 0, 260}
	case LetterWide:
		return sheet{"letter-wide", 11 * inch, 17 * inch / 2, 1270, 330, 820, 250, 6600, 800}
	case LetterTall:
		return sheet{"letter-tall", 17 * inch / 2, 11 * inch, 1270, 330, 820, 250, 0, 700}
	case Slide:
		return sheet{"slide", 40 * inch / 3, 15 * inch / 2, 1100, 480, 1150, 320, 10200, 900}
	default:
		return sheet{"screen", 30000, 0, 60, 345, 860, 262, 8200, 900}
	}
}
