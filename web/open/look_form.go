package open

import (
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
)

// lookRotation is one rotation of the form, as typed.
type lookRotation struct {
	ID         string // a to d: the beginning of its fields' names
	Name       string // A to D
	Crops      [lookahead.MaxYears]string
	Weeds      bool
	Volunteers bool
}

// crop names the field of a year, counted from zero.
func (r lookRotation) crop(year int) string { return r.ID + strconv.Itoa(year+1) }

// filled tells whether anything is chosen in it.
func (r lookRotation) filled() bool { return r.Crops != [lookahead.MaxYears]string{} }

// lookForm is what stands in the page's address.
type lookForm struct {
	Eggs, Level string
	Grown88788  string
	GrownPeking string
	Set         string // a set's label; empty for the one in force
	Rotations   [lookahead.MaxPlans]lookRotation
	Asked       bool // the reader wants an answer
	Problems    map[string]fault.Problem
}

// lookAsk is a form that can be answered.
type lookAsk struct {
	Field lookahead.Field
	Plans []lookahead.Plan
	At    []int // which of the form's rotations each plan is
}

// longestTyped bounds what is kept of one field, in bytes.
const longestTyped = 60

// usualGrown is for how long PI 88788 is taken to have been grown where nobody
// says.
const usualGrown = 20

// firstRotations stand in an empty form: a non-host in turn with a resistant
// soybean, the published six-year rotation (University of Minnesota; Iowa State
// University), and a non-host in turn with a susceptible soybean.
var firstRotations = [lookahead.MaxPlans][]lookahead.Crop{
	{lookahead.NonHost, lookahead.PI88788, lookahead.NonHost, lookahead.PI88788, lookahead.NonHost, lookahead.PI88788},
	{lookahead.NonHost, lookahead.PI88788, lookahead.NonHost, lookahead.Peking, lookahead.NonHost, lookahead.Susceptible},
	{lookahead.NonHost, lookahead.Susceptible, lookahead.NonHost, lookahead.Susceptible, lookahead.NonHost, lookahead.Susceptible},
	nil,
}

// readLook reads the address. An address that names no rotation gets the first
// ones, so that a link with a density alone is answered.
func readLook(q url.Values) lookForm {
	get := func(name string) string {
		s := strings.TrimSpace(strings.ToValidUTF8(q.Get(name), ""))
		if len(s) > longestTyped {
			s = strings.ToValidUTF8(s[:longestTyped], "")
		}
		return s
	}
	f := lookForm{Eggs: get("eggs"), Level: get("level"), Grown88788: get("y1"), GrownPeking: get("y2"), Set: get("set")}
	f.Asked = f.Eggs != "" || f.Level != "" || q.Has("y1")
	any := false
	for i := range f.Rotations {
		id := string(rune('a' + i))
		r := lookRotation{ID: id, Name: strings.ToUpper(id), Weeds: get(id+"w") != "", Volunteers: get(id+"v") != ""}
		for year := range r.Crops {
			r.Crops[year] = get(r.crop(year))
		}
		f.Rotations[i] = r
		any = any || r.filled()
	}
	if !any && !q.Has("a1") {
		for i, crops := range firstRotations {
			for year, c := range crops {
				f.Rotations[i].Crops[year] = string(c)
			}
		}
	}
	if !q.Has("y1") {
		f.Grown88788 = strconv.Itoa(usualGrown)
	}
	if !q.Has("y2") {
		f.GrownPeking = "0"
	}
	return f
}

// check works out what is asked; the form's Problems say what cannot be.
func (f *lookForm) check(s assay.Scheme) lookAsk {
	bad := &fault.Invalid{}
	ask := lookAsk{Field: lookahead.Field{Start: f.start(s, bad), Grown: map[lookahead.Crop]int{
		lookahead.PI88788: grown(f.Grown88788, "y1", bad),
		lookahead.Peking:  grown(f.GrownPeking, "y2", bad),
	}}}
	for i, r := range f.Rotations {
		if !r.filled() {
			continue
		}
		p := lookahead.Plan{Weeds: r.Weeds, Volunteers: r.Volunteers}
		for year, name := range r.Crops {
			c := lookahead.Crop(name)
			switch {
			case name == "":
				if slices.ContainsFunc(r.Crops[year:], func(s string) bool { return s != "" }) {
					bad.Add(r.crop(year), "look.problem.gap")
				}
			case !c.Known():
				bad.Add(r.crop(year), "look.problem.crop")
			default:
				p.Crops = append(p.Crops, c)
			}
		}
		ask.Plans, ask.At = append(ask.Plans, p), append(ask.At, i)
	}
	if len(ask.Plans) == 0 {
		bad.Add("a1", "look.problem.none")
	}
	f.Problems = bad.Fields
	return ask
}

// start reads the density: a count goes before a level.
func (f *lookForm) start(s assay.Scheme, bad *fault.Invalid) lookahead.Start {
	if f.Eggs != "" {
		eggs, err := assay.ParseNumber(f.Eggs)
		switch {
		case err == nil && eggs == 0:
			bad.Add("eggs", "look.problem.zero")
		case err != nil || eggs < 0:
			bad.Add("eggs", "look.problem.number")
		case eggs < 1 || eggs > lookahead.MaxEggs:
			bad.Add("eggs", "look.problem.range", "most", lookahead.MaxEggs)
		}
		return lookahead.Counted(eggs)
	}
	if f.Level == "" {
		bad.Add("eggs", "look.problem.eggs")
		return lookahead.Start{}
	}
	for _, l := range startLevels(s) {
		if l.Name == f.Level {
			return lookahead.Between(l.Low, l.High)
		}
	}
	bad.Add("level", "look.problem.level")
	return lookahead.Start{}
}

// startLevel is a level to start from, with the ends it is taken to have.
type startLevel struct {
	Name      string
	Low, High float64
}

// openEnd is how far a table's last level is taken to reach, times its lower
// end.
const openEnd = 4

// startLevels are the found levels. The lowest begins at the trace limit, or at
// a tenth of its upper end; the highest is given an end.
func startLevels(s assay.Scheme) []startLevel {
	var out []startLevel
	low := float64(s.Trace)
	for _, c := range s.Found() {
		l := startLevel{Name: c.Name, Low: low, High: float64(c.Upper)}
		if math.IsInf(l.High, 1) {
			l.Low = max(l.Low, 1000)
			l.High = openEnd * l.Low
		}
		if l.Low <= 0 || l.Low >= l.High {
			l.Low = l.High / 10
		}
		out = append(out, l)
		low = float64(c.Upper)
	}
	return out
}

// grown reads for how many years a source has been grown: nothing is none.
func grown(s, field string, bad *fault.Invalid) int {
	if s == "" {
		return 0
	}
	n, err := assay.ParseEggs(s)
	if err != nil || n < 0 || n > lookahead.MaxGrown {
		bad.Add(field, "look.problem.years", "most", lookahead.MaxGrown)
		return 0
	}
	return n
}

// cutsOf are the scheme's cut points between found levels.
func cutsOf(s assay.Scheme) []assay.Density {
	var out []assay.Density
	for _, c := range s.Found() {
		if !math.IsInf(float64(c.Upper), 1) {
			out = append(out, c.Upper)
		}
	}
	return out
}

// writeFloats appends numbers to a key.
func writeFloats(b *strings.Builder, xs ...float64) {
	for _, x := range xs {
		b.WriteString(" " + strconv.FormatFloat(x, 'g', -1, 64))
	}
}

// wrong tells whether a field has a problem.
func (f lookForm) wrong(field string) bool { _, there := f.Problems[field]; return there }

// problemFields are the fields with problems in their order on the page.
func (f lookForm) problemFields() []string {
	order := []string{"eggs", "level"}
	for _, r := range f.Rotations {
		for year := range r.Crops {
			order = append(order, r.crop(year))
		}
	}
	order = append(order, "y1", "y2")
	return slices.DeleteFunc(order, func(name string) bool { return !f.wrong(name) })
}
