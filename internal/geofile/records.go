package geofile

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/twpayne/go-geom"
)

// Fields are the names of the properties that hold what is needed; the caller
// knows them, the format does not.
type Fields struct {
	Code   string
	Name   string // "" if there are no names: the code serves
	County string // of a township: the county's code or name; "" if the file does not say
}

// County is a county of a boundary file.
type County struct {
	Code, Name string
	Geometry   *geom.MultiPolygon
}

// Township is a township of a boundary file.
type Township struct {
	Code, Name string
	County     string // the county's code; "" if the file does not say
	Geometry   *geom.MultiPolygon
}

var errNoCRS = fmt.Errorf("%w: it does not say which; a shapefile needs its .prj part", ErrCRS)

// The most characters of a code and of a name.
const (
	maxCode = 40
	maxName = 120
)

// Counties reads the layer's features as counties, in the order of the file.
// The error is a *Report, or wraps ErrCRS if the layer does not say its
// coordinate system.
func (l Layer) Counties(f Fields) ([]County, error) {
	r := &records{layer: l, fields: f}
	if !l.CRS().Known() {
		return nil, errNoCRS
	}
	if !r.have(f.Code, true) || !r.have(f.Name, false) {
		return nil, &r.report
	}
	var out []County
	seen := map[string]bool{}
	for i, feature := range l.Features {
		c := County{Geometry: feature.Geometry}
		c.Code, c.Name = r.identity(i)
		r.unique(i, seen, "", c.Code)
		checkRings(l.CRS().IsDegrees(), i+1, feature.Geometry, &r.report)
		out = append(out, c)
	}
	if err := r.report.err(); err != nil {
		return nil, err
	}
	return out, nil
}

// Townships reads the layer's features as townships of the given counties, in
// the order of the file. A code may come again in another county: a surveyed
// township cut by a county line is one township for each. The error is a
// *Report.
func (l Layer) Townships(f Fields, counties []County) ([]Township, error) {
	r := &records{layer: l, fields: f}
	if !l.CRS().Known() {
		return nil, errNoCRS
	}
	if !r.have(f.Code, true) || !r.have(f.Name, false) || !r.have(f.County, false) {
		return nil, &r.report
	}
	find := countyFinder(counties)
	var out []Township
	seen := map[string]bool{}
	for i, feature := range l.Features {
		t := Township{Geometry: feature.Geometry}
		t.Code, t.Name = r.identity(i)
		if f.County != "" {
			said := r.value(i, f.County, maxName)
			var known bool
			if t.County, known = find(said); !known && said != "" {
				r.report.add(Problem{Feature: i + 1, Kind: UnknownCounty, Field: f.County, Detail: said})
			}
		}
		r.unique(i, seen, t.County, t.Code)
		checkRings(l.CRS().IsDegrees(), i+1, feature.Geometry, &r.report)
		out = append(out, t)
	}
	if err := r.report.err(); err != nil {
		return nil, err
	}
	return out, nil
}

// countyFinder finds a county's code by its code or by a name that only one
// county has.
func countyFinder(counties []County) func(string) (code string, ok bool) {
	codes := map[string]bool{}
	byName := map[string]string{}
	shared := map[string]bool{}
	for _, c := range counties {
		codes[c.Code] = true
		name := strings.ToLower(c.Name)
		if _, twice := byName[name]; twice {
			shared[name] = true
		}
		byName[name] = c.Code
	}
	return func(said string) (string, bool) {
		if codes[said] {
			return said, true
		}
		name := strings.ToLower(said)
		code, ok := byName[name]
		if !ok || shared[name] {
			return "", false
		}
		return code, true
	}
}

// records reads a layer's table and gathers what is wrong with it.
type records struct {
	layer  Layer
	fields Fields
	report Report
}

// have reports a field that no feature has: a wrong name, said once and not
// once for every feature.
func (r *records) have(field string, needed bool) bool {
	if field == "" && !needed {
		return true
	}
	for _, f := range r.layer.Features {
		if _, ok := f.Properties[field]; ok {
			return true
		}
	}
	r.report.add(Problem{Kind: NoField, Field: field, Detail: strings.Join(r.layer.Fields(), ", ")})
	return false
}

// identity is a feature's code and name.
func (r *records) identity(i int) (code, name string) {
	code = r.value(i, r.fields.Code, maxCode)
	if r.fields.Name == "" {
		return code, code
	}
	return code, r.value(i, r.fields.Name, maxName)
}

// value is a field's text without space around it, "" after reporting why not.
func (r *records) value(i int, field string, most int) string {
	text, ok := r.layer.Features[i].Properties[field]
	text = strings.TrimSpace(text)
	p := Problem{Feature: i + 1, Field: field}
	switch {
	case !ok:
		p.Kind = MissingField
	case text == "":
		p.Kind = EmptyValue
	case strings.ContainsFunc(text, unreadable):
		p.Kind = BadText
	case utf8.RuneCountInString(text) > most:
		p.Kind, p.Detail = LongText, strconv.Itoa(most)
	default:
		return text
	}
	r.report.add(p)
	return ""
}

// unreadable is true for what is left of text saved in another encoding.
func unreadable(c rune) bool { return c == utf8.RuneError || unicode.IsControl(c) }

func (r *records) unique(i int, seen map[string]bool, county, code string) {
	if code == "" {
		return
	}
	key := county + "\x00" + strings.ToUpper(code)
	if seen[key] {
		r.report.add(Problem{Feature: i + 1, Kind: Duplicate, Field: r.fields.Code, Detail: code})
	}
	seen[key] = true
}
