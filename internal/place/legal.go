package place

import (
	"regexp"
	"strconv"
	"strings"
)

// Fault says why a text is no legal description that can be used.
type Fault string

// The faults. NotLegal means that the text is something else, such as a name.
const (
	NotLegal    Fault = "not-legal"
	TooLong     Fault = "too-long"
	NoTownship  Fault = "no-township"
	NoRange     Fault = "no-range"
	BadTownship Fault = "bad-township"
	BadRange    Fault = "bad-range"
	BadSection  Fault = "bad-section"
	BadQuarter  Fault = "bad-quarter"
	BadLot      Fault = "bad-lot"
	BadMeridian Fault = "bad-meridian"
	WrongWay    Fault = "wrong-way" // a township to the east or west, a range to the north or south
	Twice       Fault = "twice"     // two townships, ranges or meridians that differ
	Unclear     Fault = "unclear"   // it can be read in more than one way
	Coordinates Fault = "coordinates"
)

// Faults lists them all.
var Faults = []Fault{NotLegal, TooLong, NoTownship, NoRange, BadTownship, BadRange, BadSection, BadQuarter,
	BadLot, BadMeridian, WrongWay, Twice, Unclear, Coordinates}

// LegalError is a refused legal description. It never holds what was typed:
// that may name a field.
type LegalError struct{ Fault Fault }

func (e *LegalError) Error() string { return "place: legal description: " + string(e.Fault) }

// maxLegal bounds a description, in bytes. People write whole deeds; the
// township is not found by reading on.
const maxLegal = 200

// ParseSurvey reads a legal description in the ways people write it: "T21N
// R8E", "21-8", "Twp 21 Rge 8 E of the 5th", "SE¼ of the NE¼ of Sec. 12, T. 21
// N., R. 8 E.", and takes the township from it. Section, quarters (to any depth)
// and lots are checked and dropped.
//
// Directions and meridian that are not said stay unsaid: which township is
// meant is then settled against the places there are, by asking where several
// fit. A text that can be read in two ways that differ is refused as Unclear.
// Errors are *LegalError.
func ParseSurvey(text string) (Survey, error) {
	if len(text) > maxLegal {
		return Survey{}, &LegalError{TooLong}
	}
	if s, ok := parseCadastral(strings.TrimSpace(text)); ok {
		return s, nil
	}
	tokens, ok := lex(text)
	if !ok || len(tokens) == 0 {
		return Survey{}, &LegalError{NotLegal}
	}
	r := reader{tokens: tokens}
	if fault := r.read(); fault != "" {
		return Survey{}, &LegalError{fault}
	}
	s, fault := r.settle()
	if fault != "" {
		return Survey{}, &LegalError{fault}
	}
	return s, nil
}

// cadastral is the township id of the national cadastral data: state, meridian,
// township (three digits and a fraction), direction, the same of the range, and
// a mark for duplicates. The layout is from memory; the example in handbook
// section 12 is MN050430N0200W0.
var cadastral = regexp.MustCompile(`^[A-Za-z]{2}(\d{2})(\d{3})([0-3])([NSns])(\d{3})([0-3])([EWew])[0-9A-Za-z]$`)

func parseCadastral(text string) (Survey, bool) {
	m := cadastral.FindStringSubmatch(text)
	if m == nil {
		return Survey{}, false
	}
	number := func(s string) int {
		n, err := strconv.Atoi(s)
		if err != nil {
			return 0 // digits only
		}
		return n
	}
	s := Survey{
		Township: Tier(4*number(m[2]) + number(m[3])), NorthSouth: Side(strings.ToUpper(m[4])[0]),
		Range: Tier(4*number(m[5]) + number(m[6])), EastWest: Side(strings.ToUpper(m[7])[0]),
		Meridian: Meridian(number(m[1])),
	}
	if s.Meridian == fourthExtended {
		s.Meridian = 4
	}
	return s, s.Township.possible() && s.Range.possible() && s.Meridian.Known()
}

// county finds "Plover County" or "Plover Co." at either end of a text.
var (
	countyAfter  = regexp.MustCompile(`(?i)^(.*?)(?:[\s,;:(]+in)?[\s,;:(]+([\pL][\pL.' -]*?)\s+(?:county|co\.?)[\s).,;]*$`)
	countyBefore = regexp.MustCompile(`(?i)^([\pL][\pL.' -]*?)\s+(?:county|co\.?)[\s,;:(-]+(.+?)[\s)]*$`)
)

// SplitCounty takes the name of a county off a text that says so: "T21N R8E,
// Plover County" or "Plover Co.: 21-8". Where none is said county is "" and
// rest the text.
func SplitCounty(text string) (rest, county string) {
	text = strings.TrimSpace(text)
	if len(text) > maxLegal {
		return text, ""
	}
	if m := countyBefore.FindStringSubmatch(text); m != nil {
		return m[2], m[1]
	}
	m := countyAfter.FindStringSubmatch(text)
	if m == nil || m[1] == "" {
		return text, ""
	}
	// "R8E Fox River County": words that belong to the description stay with it.
	name, rest := m[2], m[1]
	for {
		word, more, found := strings.Cut(name, " ")
		if _, ok := lex(word); !ok || !found {
			break
		}
		rest, name = rest+" "+word, strings.TrimSpace(more)
	}
	return strings.TrimRight(rest, " ,;:("), name
}
