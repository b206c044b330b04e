package open

import (
	"math"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/internal/stat"
)

// answerState is how far one bag has come, as its sender may know.
type answerState string

const (
	stateWaiting  answerState = "waiting"  // the form is in, the soil is not
	stateCounting answerState = "counting" // the soil is in
	stateCounted  answerState = "counted"
	// stateCorrecting: an answer that was given turned out to be wrong, and the
	// new one is not signed yet.
	stateCorrecting answerState = "correcting"
)

// answerView is everything an answer's page shows. What has no result has only
// the first block.
type answerView struct {
	State  answerState
	Season int
	County place.Place
	Office *desk.Office
	Note   string
	// Changed: this answer takes the place of one given before.
	Changed bool
	// Ends is the day until which the page can be opened at least; nil: not known.
	Ends *time.Time
	// ByStub: it was opened with the stub's words, and has no address of its own.
	ByStub bool
	Follow string // the code of the free bag that waits for this sender

	Class  assay.Class // zero: the scheme has no class for it
	Mark   levelMark
	Advice advice
	Eggs   eggsShown
	// Whole eggs per 100 cm³ of soil.
	Density, Low, High int
	Limits             bool
	Clumped            bool // and they are wider, since the portions looked at differed
	Seen               int  // eggs on the slide

	Sure              sureness
	SureLow, SureHigh string // names of classes

	Worth       bool // Missed, Some and Times are known
	Missed      int  // density missed one time in twenty
	Some, Times int  // a lower density, and how often in 100 it is missed

	Wide, Narrow string // the county's map, drawn twice; "" for none
	// Varieties: there is something to say of varieties at this level. TableSays is
	// the key under answer.table of what the table of levels says of it, if it does.
	Varieties bool
	TableSays string

	SchemeTitle  string
	SchemeSource string
	Trace        int
	EggsPerCyst  int
	Unfit        bool // the scheme is not meant for the method

	Ahead string // where rotations are looked ahead from this level; empty for no find

	Next    []string // keys under answer.next, in order
	Sources []string // keys under answer.source
}

// advice is the kind of advice a class gets, whatever the scheme calls it.
type advice string

const (
	adviceNone        advice = "none"
	adviceUnconfirmed advice = "unconfirmed"
	adviceLow         advice = "low"    // the lowest of several found classes
	adviceMiddle      advice = "middle" // between them, or the only one
	adviceHigh        advice = "high"   // the highest of several
)

// eggsShown says which figure the page can give.
type eggsShown string

const (
	eggsDensity   eggsShown = "density"
	eggsNone      eggsShown = "none"
	eggsCyst      eggsShown = "cyst"      // no eggs, a cyst
	eggsJuveniles eggsShown = "juveniles" // no eggs, juveniles
)

// sureness says what the limits mean for the class; empty for what is not a find.
type sureness string

const (
	sureOne     sureness = "one"     // both limits are in the class
	sureBetween sureness = "between" // they are in different classes
	sureUnknown sureness = "unknown" // there are no limits
)

// viewAnswer works out what an answer says. County, Office and Note are for the
// caller to fill in.
func viewAnswer(a sample.Answer, s assay.Scheme, methods map[int]assay.Method) answerView {
	v := answerView{Season: a.Season, SchemeTitle: s.Title, SchemeSource: s.Source, Trace: whole(float64(s.Trace))}
	// A code that the office has to settle first is told of in no way: the page
	// of an unknown code reads like that of a bag still on a shelf, so that codes
	// cannot be tried out.
	switch {
	case a.Result != nil && !a.Held:
		v.State = stateCounted
		v.Changed = a.Changed
		if a.Follow != "" {
			v.Follow = a.Follow.String()
		}
		v.result(*a.Result, s, methods)
	case a.Changed && !a.Held:
		v.State = stateCorrecting
	case a.Received:
		v.State = stateCounting
	default:
		v.State = stateWaiting
	}
	return v
}

func (v *answerView) result(r sample.Result, s assay.Scheme, methods map[int]assay.Method) {
	reading := readingOf(r)
	v.Class = s.Class(reading)
	v.Mark = markOf(s, v.Class)
	v.Advice = adviceFor(s, v.Class)
	v.figure(r, reading)
	v.sureness(s, reading)
	if m, ok := methods[r.Method]; ok && m.Check() == nil {
		v.Unfit = !s.Fits(m)
		v.worth(s, m)
	}
	v.Varieties = v.Class.Kind == assay.Found
	v.TableSays = s.Key + "." + v.Class.Name
	v.Next = nextSteps[v.Advice]
	if v.Class.Kind == assay.Found && v.Eggs == eggsDensity {
		v.Ahead = aheadOf(v.Density)
	}
	v.Sources = v.sources()
}

// readingOf is a result as the level rules take it. A result of another kind
// than these two has no class of its own making.
func readingOf(r sample.Result) assay.Reading {
	out := assay.Reading{
		Density: assay.Density(r.Density), CystSeen: r.Cyst, JuvenilesSeen: r.Juveniles,
		Limits: stat.Interval{Low: r.Low, High: r.High}, LimitsKnown: r.Limits,
	}
	switch r.Kind {
	case "counted":
		out.Basis, out.Eggs = assay.Counted, r.Eggs
	case "density":
		out.Basis = assay.Reported
	}
	return out
}

func (v *answerView) figure(r sample.Result, reading assay.Reading) {
	v.Density, v.Low, v.High = whole(r.Density), whole(r.Low), whole(r.High)
	v.Seen = reading.Eggs
	switch {
	case r.Eggs > 0 || r.Density > 0:
		v.Eggs = eggsDensity
		v.Limits = r.Limits
		v.Clumped = r.Limits && r.LimitsBy == assay.NegBinomial.String()
	case r.Cyst:
		v.Eggs = eggsCyst
	case r.Juveniles:
		v.Eggs = eggsJuveniles
	default:
		// The slide's own limits would read as if the scoop could not have
		// missed: worth says it from bag to slide.
		v.Eggs = eggsNone
	}
}

func (v *answerView) sureness(s assay.Scheme, reading assay.Reading) {
	if v.Class.Kind != assay.Found {
		return
	}
	low, high, known := s.Range(reading)
	switch {
	case !known:
		v.Sure = sureUnknown
	case low.Rank == high.Rank:
		v.Sure = sureOne
	default:
		v.Sure = sureBetween
		v.SureLow, v.SureHigh = low.Name, high.Name
	}
}

// worth says what "none found" is worth by the method: the density missed one
// time in twenty, and how often a lower one is missed.
func (v *answerView) worth(s assay.Scheme, m assay.Method) {
	v.Worth = true
	v.EggsPerCyst = whole(m.EggsPerCyst)
	missed := m.MissedOneInTwenty()
	v.Missed = twoDigits(float64(missed))
	some := s.Trace
	if some <= 0 || some >= missed {
		some = missed / 2
	}
	v.Some = twoDigits(float64(some))
	v.Times = whole(100 * m.MissChance(assay.Density(v.Some)))
}

// adviceFor sorts a class by where it stands among the scheme's found ones.
func adviceFor(s assay.Scheme, c assay.Class) advice {
	switch c.Kind {
	case assay.None:
		return adviceNone
	case assay.Unconfirmed:
		return adviceUnconfirmed
	case assay.Found:
	default:
		return ""
	}
	found := s.Found()
	switch {
	case len(found) == 1:
		return adviceMiddle
	case c.Rank == found[0].Rank:
		return adviceLow
	case c.Rank == found[len(found)-1].Rank:
		return adviceHigh
	}
	return adviceMiddle
}

// nextSteps are the steps for each kind of advice, in order. Where each comes
// from stands in the catalog, under answer.source.
var nextSteps = map[advice][]string{
	adviceNone:        {"cleanin", "rotate", "again.none"},
	adviceUnconfirmed: {"confirm", "clean", "rotate"},
	adviceLow:         {"nonhost", "resistant", "sources", "weeds", "clean", "again.low", "help"},
	adviceMiddle:      {"nonhost", "resistant", "sources", "weeds", "clean", "again.middle", "help"},
	adviceHigh:        {"nonhosts", "resistant", "sources", "weeds", "clean", "again.high", "help"},
}

// sources are the sources of what this page says, in its order.
func (v *answerView) sources() []string {
	var out []string
	switch {
	case v.Clumped:
		out = append(out, "clumped")
	case v.Limits:
		out = append(out, "limits")
	}
	switch v.Advice {
	case adviceNone:
		if v.Worth {
			out = append(out, "worth")
		}
		return append(out, "none", "clean", "look")
	case adviceUnconfirmed:
		return append(out, "unconfirmed", "clean", "look")
	case adviceLow:
		return append(out, "hidden", "varieties", "bushels", "nonhost", "rotate", "weeds", "clean", "again.low", "look")
	case adviceMiddle:
		return append(out, "hidden", "resistant", "varieties", "bushels", "nonhost", "rotate", "weeds", "clean", "again.middle", "look")
	case adviceHigh:
		return append(out, "high", "varieties", "bushels", "nonhost", "rotate", "weeds", "clean", "look")
	}
	return out
}

// whole rounds to the nearest whole number.
func whole(x float64) int { return int(math.Round(x)) }

// twoDigits rounds to two digits that count: 473 to 470, 1,049 to 1,000.
func twoDigits(x float64) int {
	if x < 1 {
		return whole(x)
	}
	unit := math.Pow(10, math.Floor(math.Log10(x))-1)
	return whole(math.Round(x/unit) * unit)
}
