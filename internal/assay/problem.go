package assay

import (
	"fmt"
	"slices"
	"strings"
)

// Problem says what is wrong with one field. It is a key, not a sentence: the
// sentences people read are kept with the other texts. A Problem is an error,
// so that errors.Is(err, assay.Negative) works on what ParseNumber returns.
type Problem string

// The problems a field can have.
const (
	Missing            Problem = "missing"               // nothing given
	NotNumber          Problem = "not_number"            // not digits as a person types them
	NotWhole           Problem = "not_whole"             // a count with a fraction
	NotFinite          Problem = "not_finite"            // infinite or not a number
	Negative           Problem = "negative"              // under zero
	NotPositive        Problem = "not_positive"          // zero where there must be some
	TooLarge           Problem = "too_large"             // over the limit stated at the field
	TooSmall           Problem = "too_small"             // under the limit stated at the field
	TooMany            Problem = "too_many"              // more entries than MaxAliquots
	MoreThanSuspension Problem = "more_than_suspension"  // aliquots add up to more than there is
	MoreThanSlide      Problem = "more_than_slide"       // more eggs than can be told apart on a slide
	Unknown            Problem = "unknown"               // not one of the listed choices
	NotKey             Problem = "not_key"               // not lower-case letters, digits, underscores
	Doubled            Problem = "doubled"               // the same name twice
	OutOfOrder         Problem = "out_of_order"          // ranks or cut points do not rise
	NoFoundClass       Problem = "no_found_class"        // a scheme that can never say "found"
	WrongKind          Problem = "wrong_kind"            // ranks 0 and 1 are none and unconfirmed
	OpenEnd            Problem = "open_end"              // only the last class has no upper end
	TraceAboveFirst    Problem = "trace_above_first_cut" // trace swallows more than the lowest class
)

// Error names the problem by its key.
func (p Problem) Error() string { return "assay: " + strings.ReplaceAll(string(p), "_", " ") }

// Invalid lists the fields that cannot stand, each with its problem. Fields of
// a list are numbered from zero: "aliquots.0.eggs".
type Invalid struct{ Fields map[string]Problem }

// Error lists the fields and their problems, never the values.
func (e *Invalid) Error() string {
	parts := make([]string, 0, len(e.Fields))
	for field, problem := range e.Fields {
		parts = append(parts, fmt.Sprintf("%s: %s", field, string(problem)))
	}
	slices.Sort(parts)
	return "assay: invalid " + strings.Join(parts, ", ")
}

// Is makes errors.Is(err, assay.Negative) true when any field has the problem.
func (e *Invalid) Is(target error) bool {
	problem, ok := target.(Problem)
	if !ok {
		return false
	}
	for _, p := range e.Fields {
		if p == problem {
			return true
		}
	}
	return false
}

// findings gathers problems while a value is checked; the first one at a field
// stays.
type findings map[string]Problem

func (f findings) add(field string, p Problem) {
	if _, there := f[field]; !there && p != "" {
		f[field] = p
	}
}

// under gives the same problems with a word before each field.
func (f findings) under(prefix string) findings {
	out := make(findings, len(f))
	for field, p := range f {
		out[prefix+field] = p
	}
	return out
}

// err is nil when nothing was found.
func (f findings) err() error {
	if len(f) == 0 {
		return nil
	}
	return &Invalid{Fields: f}
}
