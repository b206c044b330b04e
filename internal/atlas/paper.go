package atlas

import "fmt"

// Paper is one of the sheets a map can be composed for.
type Paper uint8

// The papers.
const (
	Screen      Paper = iota // a wide page: legend at the side, as tall as needed
	Phone                    // a narrow page: legend below, as tall as needed
	LetterWide               // US Letter, 11 × 8.5 in
	LetterTall               // US Letter, 8.5 × 11 in
	Slide                    // 16:9, 13.333 × 7.5 in
	TabloidWide              // 17 × 11 in
	TabloidTall              // 11 × 17 in
	HalfLetter               // 5.5 × 8.5 in
	lastPaper

	// PosterPanel, HandoutPanel and ReportPanel are the part of a tabloid poster, of a
	// letter handout and of a page of a report that a map fills. They are composed without a title of their own and
	// cannot be asked for by name.
	PosterPanel
	HandoutPanel
	ReportPanel
)

// Papers lists every paper that has a name.
func Papers() []Paper {
	out := make([]Paper, 0, lastPaper)
	for p := range lastPaper {
		out = append(out, p)
	}
	return out
}

// String returns the name used in addresses: screen, phone, letter-wide,
// letter-tall, slide, tabloid-wide, tabloid-tall, half-letter.
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

// Size returns the measures of a paper; the height is zero where it follows the
// map.
func (p Paper) Size() (width, height Unit) {
	s := p.sheet()
	return s.width, s.height
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

const inch = 2540

func (p Paper) sheet() sheet {
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
	case TabloidWide:
		return sheet{"tabloid-wide", 17 * inch, 11 * inch, 1500, 460, 1250, 330, 9400, 1100}
	case TabloidTall:
		return sheet{"tabloid-tall", 11 * inch, 17 * inch, 1500, 460, 1250, 330, 0, 1000}
	case HalfLetter:
		return sheet{"half-letter", 11 * inch / 2, 17 * inch / 2, 900, 255, 560, 205, 0, 450}
	case PosterPanel:
		return sheet{"poster panel", 11*inch - 2*1500, 21500, 0, 400, 0, 320, 7400, 700}
	case HandoutPanel:
		return sheet{"handout panel", 17*inch/2 - 2*1500, 12600, 0, 275, 0, 215, 5200, 500}
	case ReportPanel:
		return sheet{"report panel", 17*inch/2 - 2*1500, 18200, 0, 300, 0, 235, 0, 500}
	default:
		return sheet{"screen", 30000, 0, 60, 345, 860, 262, 8200, 900}
	}
}
