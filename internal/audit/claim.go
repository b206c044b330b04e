package audit

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"

	"sixmile/internal/edition/attack"
)

// Reader reads a published format back into figures.
type Reader interface {
	// Figures are all figures that the format states for an edition. What
	// cannot be read is an error: a figure nobody checks is no better than a
	// wrong one.
	Figures(ctx context.Context, edition int) ([]Claim, error)
}

// Scope is what a figure is of. The zero Scope is the whole state.
type Scope struct {
	County   int // 0: all counties
	Township int // a township's own figures
	Joined   int // the nth group of joined townships of the county, from 1
	Rest     bool
	Fall     int // the fall figure of one fall, waiting results included
}

// Measure is which figure of a scope.
type Measure string

// The measures. A level's number of samples is Level.
const (
	Samples     Measure = "samples"
	Finds       Measure = "finds"
	NoneFound   Measure = "none found"
	Unconfirmed Measure = "unconfirmed"
	Unsorted    Measure = "finds without a level"
	Highest     Measure = "highest rank"             // -1: no figures
	Mark        Measure = "mark"                     // as in the data-mark attribute
	Window      Measure = "falls"                    // "2026 only", "up to 2026"
	Shown       Measure = "townships with figures"   // of their own
	FoundIn     Measure = "townships with finds"     // of those
	FoundInAll  Measure = "counties with finds"      // of the state
	WithFigures Measure = "counties with figures"    // of the state
	Groups      Measure = "groups of joined places"  // of a county
	GroupsFound Measure = "groups with finds"        // of those
	Judged      Measure = "sure either way"          // none found, and finds
	Share       Measure = "finds in a hundred"       // of those, rounded
	HasFigures  Measure = "figures, and not a blank" // "true", "false"
)

// Level is the measure of the samples of one rank.
func Level(rank int) Measure { return Measure("rank " + strconv.Itoa(rank)) }

// Claim is a figure that a page or a file states.
type Claim struct {
	Source  string // where it was read, for people
	Edition int
	Scope   Scope
	Measure Measure
	Value   string // a number in plain digits, or the words of the measure
}

// figures are the claims that the attacker works with: samples and finds of a
// county or a township, where both are stated.
func figures(claims []Claim) []attack.Figure {
	type key struct {
		source  string
		edition int
		scope   Scope
	}
	samples, finds := make(map[key]int), make(map[key]int)
	var order []key
	for _, c := range claims {
		k := key{c.Source, c.Edition, c.Scope}
		n, err := strconv.Atoi(c.Value)
		if s := c.Scope; err != nil || s.County == 0 || s.Joined > 0 || s.Rest || s.Fall > 0 {
			continue
		}
		switch c.Measure {
		case Samples:
			samples[k] = n
			order = append(order, k)
		case Finds:
			finds[k] = n
		}
	}
	slices.SortStableFunc(order, func(a, b key) int { return cmp.Compare(a.edition, b.edition) })
	var out []attack.Figure
	for _, k := range order {
		if n, both := finds[k]; both {
			out = append(out, attack.Figure{Label: k.source, Edition: k.edition, County: k.scope.County,
				Township: k.scope.Township, Samples: samples[k], Finds: n})
		}
	}
	return out
}

// check works every claim out again from the editions' texts. Its sums are its
// own, so that it cannot share a mistake with the pages.
func check(p attack.Public, claims []Claim) (found []string) {
	sums := make(map[int]map[Scope]*sum)
	for _, c := range claims {
		if sums[c.Edition] == nil {
			sums[c.Edition] = sumUp(p, c.Edition)
		}
		s := sums[c.Edition][c.Scope]
		if s == nil {
			s = blank
		}
		if want := s.value(c.Measure); want != c.Value {
			found = append(found, fmt.Sprintf("%s, edition %d, %s: %s is %q, the tranches say %q",
				c.Source, c.Edition, c.Scope, c.Measure, c.Value, want))
		}
	}
	return found
}

// String names the scope by the numbers of its places.
func (s Scope) String() string {
	switch {
	case s.Fall > 0:
		return fmt.Sprintf("county %d, fall of %d", s.County, s.Fall)
	case s.Township > 0:
		return fmt.Sprintf("county %d, township %d", s.County, s.Township)
	case s.Joined > 0:
		return fmt.Sprintf("county %d, joined townships %d", s.County, s.Joined)
	case s.Rest:
		return fmt.Sprintf("county %d, the rest", s.County)
	case s.County > 0:
		return fmt.Sprintf("county %d", s.County)
	}
	return "all counties"
}
