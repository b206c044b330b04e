package lookahead

import (
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
)

// Key names a figure of a parameter set.
type Key string

// The figures. Those of a dry bean have the key of its Crop.
const (
	UsualDensity   Key = "usual"     // eggs per 100 cm³ that published multiplications are taken at
	Crowding       Key = "crowding"  // eggs per 100 cm³ at planting by which roots fill up
	FieldShare     Key = "field"     // share of the departures that stays with a field
	BagOfField     Key = "bag"       // what a field holds against what its bag shows
	Winter         Key = "winter"    // share left in spring
	WinterWeeds    Key = "weeds"     // winter's factor where host weeds stand
	VolunteerShare Key = "volunteer" // volunteers as a share of a soybean stand
	AfterNonHost   Key = "nonhost"
	AfterFallow    Key = "fallow"
	AfterSoybean   Key = "susceptible"
	HatchShare     Key = "hatch" // what a resistant soybean leaves unhatched of what a non-host leaves
	After88788     Key = "r88788"
	AfterPeking    Key = "peking"
	After437654    Key = "r437654"
	Trend88788     Key = "trend_r88788" // yearly rise of what reproduces, on a logarithmic scale
	TrendPeking    Key = "trend_peking"
	Trend437654    Key = "trend_r437654"
	OfGreatNorth   Key = "greatnorthern"
	Tolerance      Key = "tolerance"
	LeastYield     Key = "least"
	ToleranceRes   Key = "tolerance_resistant"
	LeastYieldRes  Key = "least_resistant"
)

// Shape is how a figure varies and what it may be.
type Shape int

// The shapes.
const (
	One    Shape = iota + 1 // one number, the same in every draw
	Factor                  // any factor above zero, log-normal on each side
	Share                   // a factor that never exceeds one
	Rate                    // zero or more, normal on each side
)

// Rule is what holds of a figure.
type Rule struct {
	Key       Key
	Shape     Shape
	Low, High float64 // between these, both included
}

// Rules lists every figure that a set has, in the order of a form.
var Rules = []Rule{
	{Winter, Share, 0.01, 1},
	{WinterWeeds, Factor, 1, 20},
	{AfterNonHost, Share, 0.01, 1},
	{AfterFallow, Share, 0.01, 1},
	{AfterSoybean, Factor, 0.01, 200},
	{HatchShare, One, 0, 1},
	{After88788, Factor, 0.01, 200},
	{Trend88788, Rate, 0, 0.5},
	{AfterPeking, Factor, 0.01, 200},
	{TrendPeking, Rate, 0, 0.5},
	{After437654, Factor, 0.01, 200},
	{Trend437654, Rate, 0, 0.5},
	{Key(Kidney), One, 0, 200},
	{Key(Navy), One, 0, 200},
	{Key(Pinto), One, 0, 200},
	{Key(Black), One, 0, 200},
	{OfGreatNorth, Rate, 0, 200},
	{VolunteerShare, Share, 0.001, 1},
	{UsualDensity, One, 1, 100000},
	{Crowding, One, 1, 1000000},
	{FieldShare, One, 0, 1},
	{BagOfField, Factor, 0.01, 100},
	{Tolerance, Factor, 0.1, 100000},
	{LeastYield, Share, 0.01, 1},
	{ToleranceRes, Factor, 0.1, 100000},
	{LeastYieldRes, Share, 0.01, 1},
}

// Figure is a number with its range and where it comes from. A figure of shape
// One has its number in all three.
type Figure struct {
	Low    float64 `json:"low"`
	Mean   float64 `json:"mean"`
	High   float64 `json:"high"`
	Source string  `json:"source"`
}

// Set is a parameter set. A stored one is never changed: a change is the next
// version of its name.
type Set struct {
	Name    string // lower-case letters, digits and hyphens
	Version int
	Note    string // what it is for, or what changed
	Figures map[Key]Figure
}

// Label names a set as addresses and pages do: "upper-midwest.1".
func (s Set) Label() string { return fmt.Sprintf("%s.%d", s.Name, s.Version) }

// Problem says what is wrong with a field of a set: the last part of the key of
// a sentence in the catalog.
type Problem string

// The problems.
const (
	BadName      Problem = "name"
	Missing      Problem = "missing"
	OutOfRange   Problem = "range"   // not between the rule's ends
	OutOfOrder   Problem = "order"   // not low ≤ mean ≤ high
	Lopsided     Problem = "lopside" // no spread has this mean between these ends
	NoSource     Problem = "nosource"
	TooLong      Problem = "long"
	BelowNonHost Problem = "below" // a susceptible soybean that leaves less than a non-host
	AboveSoybean Problem = "above" // a source that leaves more than a susceptible soybean
)

// Invalid lists the fields of a set that cannot stand. A figure's field is its
// key.
type Invalid struct{ Fields map[string]Problem }

// Error lists the fields and their problems.
func (e *Invalid) Error() string {
	var parts []string
	for f, p := range e.Fields {
		parts = append(parts, f+": "+string(p))
	}
	slices.Sort(parts)
	return "lookahead: invalid " + strings.Join(parts, ", ")
}

// MaxText is the longest note or source, in bytes.
const MaxText = 400

var setName = regexp.MustCompile(`^[a-z][a-z0-9-]{0,39}$`)

// Check returns an *Invalid for a set that cannot be looked ahead with.
func (s Set) Check() error {
	bad := map[string]Problem{}
	add := func(field string, p Problem) {
		if _, there := bad[field]; !there && p != "" {
			bad[field] = p
		}
	}
	if !setName.MatchString(s.Name) {
		add("name", BadName)
	}
	if len(s.Note) > MaxText {
		add("note", TooLong)
	}
	for _, r := range Rules {
		f, there := s.Figures[r.Key]
		if !there {
			add(string(r.Key), Missing)
			continue
		}
		add(string(r.Key), r.problem(f))
	}
	if len(bad) == 0 {
		s.checkOrder(add)
	}
	if len(bad) > 0 {
		return &Invalid{bad}
	}
	return nil
}

// Completed gives a set the program's own figures where it was stored before
// they were asked for. They are those of crops that the set knew nothing of, so
// what was looked ahead with it comes out as it did.
func (s Set) Completed() Set {
	figures := Standard().Figures
	maps.Copy(figures, s.Figures)
	s.Figures = figures
	return s
}

// problem is what is wrong with one figure by itself.
func (r Rule) problem(f Figure) Problem {
	for _, x := range []float64{f.Low, f.Mean, f.High} {
		if math.IsNaN(x) || x < r.Low || x > r.High {
			return OutOfRange
		}
	}
	switch {
	case f.Low > f.Mean || f.Mean > f.High:
		return OutOfOrder
	case r.Shape == One && f.Low != f.High:
		return OutOfOrder
	case strings.TrimSpace(f.Source) == "":
		return NoSource
	case len(f.Source) > MaxText:
		return TooLong
	case r.Shape == Factor || r.Shape == Share:
		if f.Low < f.High && (meanOf(f, f.Low) > f.Mean || meanOf(f, f.High) < f.Mean) {
			return Lopsided
		}
	}
	return ""
}

// checkOrder holds a susceptible soybean above a non-host, and sources at or
// below a susceptible soybean.
func (s Set) checkOrder(add func(string, Problem)) {
	soy, non := s.Figures[AfterSoybean], s.Figures[AfterNonHost]
	if soy.Low < non.Low || soy.Mean < non.Mean || soy.High < non.High {
		add(string(AfterSoybean), BelowNonHost)
	}
	for _, key := range []Key{After88788, AfterPeking, After437654} {
		if f := s.Figures[key]; f.Mean > soy.Mean {
			add(string(key), AboveSoybean)
		}
	}
}
