package place

import (
	"errors"
	"strings"
)

// Query is what somebody typed to name a place, taken apart. A section or a
// quarter in it is gone: Query holds nothing finer than a township.
type Query struct {
	Survey *Survey // a legal description
	Fault  Fault   // what is wrong with the text as a legal description; NotLegal: it is none
	Name   string  // the text, folded, where it is no legal description
	County string  // the county that it says, folded
}

// maxQuery is how much of a name is looked at, in bytes.
const maxQuery = 80

// ParseQuery takes apart what somebody typed: a legal description, a name or a
// code, with or without a county.
func ParseQuery(text string) Query {
	rest, county := SplitCounty(text)
	q := Query{County: Fold(county)}
	s, err := ParseSurvey(rest)
	var bad *LegalError
	switch {
	case err == nil:
		q.Survey = &s
		return q
	case errors.As(err, &bad):
		q.Fault = bad.Fault
	}
	// Names may look like descriptions in part ("Town 5"), descriptions never
	// like names as a whole: what is left of those is not looked up.
	if len(rest) <= maxQuery && q.Fault != Coordinates {
		q.Name = Fold(rest)
	}
	return q
}

// Empty tells whether nothing can be looked up.
func (q Query) Empty() bool { return q.Survey == nil && q.Name == "" }

// generic are the words that people add to a township's or a county's name or
// leave out.
var generic = map[string]bool{"township": true, "twp": true, "twsp": true, "county": true, "co": true}

// Fold brings a name to the form in which names are compared: small letters
// without marks, words parted by one space, without "township" and the like.
// "" for a name without a Latin letter or a digit.
func Fold(name string) string {
	words := strings.Split(Slug(name), "-")
	kept := words[:0:0]
	for i, w := range words {
		if generic[w] && len(words) > 1 && i == len(words)-1 {
			continue
		}
		if w == "of" && i == 1 && (words[0] == "town" || generic[words[0]]) {
			kept = kept[:0] // "town of", "township of"
			continue
		}
		kept = append(kept, w)
	}
	return strings.Join(kept, " ")
}

// How says by what a place was found.
type How string

// The ways to be found.
const (
	BySurvey How = "survey"
	ByCode   How = "code"
	ByName   How = "name"
	ByTown   How = "town"
)

// Candidate is a place that what was typed may mean.
type Candidate struct {
	Place  Place
	County Place // the place itself for a county
	How    How
	Town   string  // the town it was found by
	Alike  float64 // 1 for an exact match, less for a likeness
}

// Sure tells whether a candidate is meant without a doubt: it is the only one,
// and what was typed is exactly its name, its code, or its survey numbers with
// both directions. Everything else asks.
func Sure(list []Candidate, q Query) bool {
	if len(list) != 1 || list[0].Alike < 1 || list[0].How == ByTown {
		return false
	}
	return list[0].How != BySurvey || q.Survey != nil && q.Survey.Sided()
}
