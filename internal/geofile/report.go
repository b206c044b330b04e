package geofile

import (
	"fmt"
	"strings"
)

// Kind is what is wrong with a feature or a field.
type Kind string

// The kinds of problem.
const (
	NoField       Kind = "no field"       // no feature has the field; Detail lists the fields there are
	MissingField  Kind = "missing field"  // this feature lacks it
	EmptyValue    Kind = "empty value"    // nothing but space
	BadText       Kind = "bad text"       // unreadable characters
	LongText      Kind = "long text"      // Detail is the most characters allowed
	Duplicate     Kind = "duplicate"      // Detail is the code
	UnknownCounty Kind = "unknown county" // Detail is what the file says
	NotPolygon    Kind = "not polygon"    // Detail is the type found
	NoGeometry    Kind = "no geometry"
	BadFeature    Kind = "bad feature"     // not built as GeoJSON says
	BadPosition   Kind = "bad coordinates" // coordinates not nested as the type asks, or not numbers
	OpenRing      Kind = "open ring"       // last point is not the first
	ShortRing     Kind = "short ring"      // fewer than four points
	FlatRing      Kind = "flat ring"       // no area
	OutOfRange    Kind = "out of range"    // Detail is the position
	Antimeridian  Kind = "antimeridian"    // an edge goes around the back of the earth
)

// Problem is one thing to mend in a file.
type Problem struct {
	Feature int // counted from 1 as in the file; 0 if it is the file as a whole
	Kind    Kind
	Field   string // the field's name, where one is meant
	Detail  string
}

// String is a plain sentence that names the feature.
func (p Problem) String() string {
	if p.Feature == 0 {
		return p.sentence()
	}
	return fmt.Sprintf("Feature %d: %s", p.Feature, p.sentence())
}

func (p Problem) sentence() string {
	switch p.Kind {
	case NoField:
		return fmt.Sprintf("no feature has a field called %q; the fields are: %s.", p.Field, p.Detail)
	case MissingField:
		return fmt.Sprintf("the field %q is missing.", p.Field)
	case EmptyValue:
		return fmt.Sprintf("the field %q is empty.", p.Field)
	case BadText:
		return fmt.Sprintf("the field %q has characters that cannot be read; save the file as UTF-8.", p.Field)
	case LongText:
		return fmt.Sprintf("the field %q is longer than %s characters.", p.Field, p.Detail)
	case Duplicate:
		return fmt.Sprintf("the code %q is used by an earlier feature.", p.Detail)
	case UnknownCounty:
		return fmt.Sprintf("no county has the code or name %q.", p.Detail)
	case NotPolygon:
		return fmt.Sprintf("it is a %s; only Polygon and MultiPolygon can be used.", p.Detail)
	case NoGeometry:
		return "it has no outline."
	case BadFeature:
		return "it is not built as a GeoJSON feature."
	case BadPosition:
		return "its coordinates cannot be read."
	case OpenRing:
		return "an outline is not closed: its last point must be its first again."
	case ShortRing:
		return "an outline has fewer than four points."
	case FlatRing:
		return "an outline has no area."
	case OutOfRange:
		return fmt.Sprintf("the position %s is no longitude and latitude; is the file in another coordinate system?", p.Detail)
	case Antimeridian:
		return "an outline crosses the 180° meridian; cut it there into two."
	default:
		return string(p.Kind) + "."
	}
}

// maxProblems is how many problems a report spells out: enough to see a
// pattern, few enough to read.
const maxProblems = 50

// Report is every problem found in a file, as an error.
type Report struct {
	Problems []Problem // the first ones
	Total    int       // all of them
}

func (r *Report) Error() string {
	var b strings.Builder
	for i, p := range r.Problems {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(p.String())
	}
	if more := r.Total - len(r.Problems); more > 0 {
		fmt.Fprintf(&b, "\nAnd %d more.", more)
	}
	return b.String()
}

func (r *Report) add(p Problem) {
	r.Total++
	if len(r.Problems) < maxProblems {
		r.Problems = append(r.Problems, p)
	}
}

// err is nil if there is nothing to report.
func (r *Report) err() error {
	if r.Total == 0 {
		return nil
	}
	return r
}
