package assay

import "math"

// Kind is what a class says about a bag, whatever the scheme. The zero Kind is
// none of them and belongs to a Class nobody made.
type Kind uint8

// The kinds.
const (
	None        Kind = iota + 1 // nothing was seen; not proof that nothing is there
	Unconfirmed                 // something was seen, too little to call a find
	Found                       // a find, sorted by its density
)

// String is the kind's key: none, unconfirmed or found.
func (k Kind) String() string {
	switch k {
	case None:
		return "none"
	case Unconfirmed:
		return "unconfirmed"
	case Found:
		return "found"
	}
	return ""
}

// Class is one row of a scheme. The sentence that names it is kept with the
// other texts, under its Name.
type Class struct {
	Rank  int     // 0 none, 1 unconfirmed, 2 and up found, lowest first
	Name  string  // a key, such as "very_high"
	Upper Density // highest density in it, itself included; +Inf for the last
	Kind  Kind
}

// FewEggs is the largest number of eggs on a slide that does not yet make a
// find: four. The number is ours; with 2 of 100 mL from 100 cm³ it is
// HouseTrace.
const FewEggs = 4

// HouseTrace is the trace limit of schemes whose source has none: 200 eggs per
// 100 cm³. It is ours, not the sources'. Two published tables (Minnesota, Ohio)
// have their lowest positive class end there. It does not move with a scheme's
// cut points: look-alike eggs care nothing for what is advised at a density.
const HouseTrace Density = 200

// Scheme is an ordered list of classes with a source. Cut points are closed on
// the right: a density of exactly Upper is in the class. Published tables that
// give whole numbers (1-2,000, 2,001-12,000) mean that, and where a table is
// silent or says otherwise its preset says so.
//
// Class 0 is none and class 1 is unconfirmed; both are always there. Where a
// found class ends at or under Trace only a cyst seen leads to it.
type Scheme struct {
	Key     string
	Version int
	Title   string
	Source  string   // citation, as printed under a map
	Trace   Density  // at or under it a positive is unconfirmed, unless a cyst was seen
	Methods []string // names of the methods whose counts its cut points fit; empty: not said
	Classes []Class
}

// Found lists the found classes, lowest first.
func (s Scheme) Found() []Class {
	var found []Class
	for _, c := range s.Classes {
		if c.Kind == Found {
			found = append(found, c)
		}
	}
	return found
}

// Fits reports whether the scheme's cut points are meant for counts by the
// method. A scheme that names no methods fits them all.
func (s Scheme) Fits(m Method) bool {
	for _, name := range s.Methods {
		if name == m.Name {
			return true
		}
	}
	return len(s.Methods) == 0
}

// Class sorts a reading. In this order:
//
//  1. Nothing seen: none.
//  2. No eggs and no density, but a cyst or juveniles seen: unconfirmed. Not
//     none, because something was seen: an old cyst may have hatched empty, and
//     the full one may be in the next scoop. Not found, because there is no
//     density to sort by, and other nematodes' cysts and juveniles look alike.
//  3. One to four eggs seen, or a density at or under the trace limit, and no
//     cyst seen: unconfirmed. A reported density has no eggs seen to ask for.
//  4. Otherwise found, in the class of its density.
//
// The zero Class, with no Kind, comes back for a reading without a Basis, for
// one whose figures are negative or not finite, and from a scheme that has no
// class of the kind; a scheme that passes Check has them all.
func (s Scheme) Class(r Reading) Class {
	positive := r.Eggs > 0 || r.Density > 0
	switch {
	case r.Basis == 0 || r.Eggs < 0 || belowZero(float64(r.Density)) != "":
		return Class{}
	case !r.Seen():
		return s.first(None)
	case !positive:
		return s.first(Unconfirmed)
	case !r.CystSeen && (r.few() || atOrUnder(r.Density, s.Trace)):
		return s.first(Unconfirmed)
	}
	return s.find(r.Density)
}

// Range gives the found classes that the limits of a reading reach down and up
// to: how sure a class is. It is false when the limits are unknown or the
// reading is not a find. Limits are of the slide alone.
func (s Scheme) Range(r Reading) (lowest, highest Class, known bool) {
	if !r.LimitsKnown || s.Class(r).Kind != Found {
		return Class{}, Class{}, false
	}
	return s.find(Density(r.Limits.Low)), s.find(Density(r.Limits.High)), true
}

// few reports a count of eggs too small to be a find.
func (r Reading) few() bool {
	return r.Basis == Counted && r.Eggs <= FewEggs
}

// find is the found class of a density by the cut points alone.
func (s Scheme) find(d Density) Class {
	for _, c := range s.Classes {
		if c.Kind == Found && atOrUnder(d, c.Upper) {
			return c
		}
	}
	return Class{}
}

func (s Scheme) first(k Kind) Class {
	for _, c := range s.Classes {
		if c.Kind == k {
			return c
		}
	}
	return Class{}
}

// atOrUnder compares with a cut point and forgives the last digits: 42 eggs in
// three portions of 0.7 mL come out as 2000.0000000000002 and are still in the
// class that ends at 2000.
func atOrUnder(d, cut Density) bool {
	return float64(d) <= float64(cut)*(1+rounding)
}

// MaxFoundClasses is the most found classes a scheme may have: the map rules a
// township with as many lines, and more than five cannot be told apart.
const MaxFoundClasses = 5

// Check returns an *Invalid for a scheme that cannot sort. Its fields are key,
// version, title, source, trace, classes and, numbered from zero,
// classes.0.rank, .name, .upper and .kind.
func (s Scheme) Check() error {
	found := findings{}
	found.add("key", keyProblem(s.Key))
	if s.Version < 1 {
		found.add("version", NotPositive)
	}
	if s.Title == "" {
		found.add("title", Missing)
	}
	if s.Source == "" {
		found.add("source", Missing)
	}
	found.add("trace", belowZero(float64(s.Trace)))
	s.checkClasses(found)
	if finds := s.Found(); len(finds) == 0 {
		found.add("classes", NoFoundClass)
	} else if len(finds) > MaxFoundClasses {
		found.add("classes", TooMany)
	} else if s.Trace > finds[0].Upper {
		found.add("trace", TraceAboveFirst)
	}
	return found.err()
}

func (s Scheme) checkClasses(found findings) {
	names := map[string]bool{}
	for i, c := range s.Classes {
		at := func(part string, p Problem) { found.add(classField(i, part), p) }
		at("name", keyProblem(c.Name))
		if names[c.Name] {
			at("name", Doubled)
		}
		names[c.Name] = true
		if c.Rank != i {
			at("rank", OutOfOrder)
		}
		if c.Kind != kindOfRank(i) {
			at("kind", WrongKind)
		}
		at("upper", s.upperProblem(i))
	}
}

// upperProblem holds rank 0 to zero, rank 1 to the trace limit, and the rest to
// rising cut points of which the last alone is open.
func (s Scheme) upperProblem(i int) Problem {
	upper, last := s.Classes[i].Upper, i == len(s.Classes)-1
	open := math.IsInf(float64(upper), 1)
	switch {
	case i == 0 && upper != 0, i == 1 && upper != s.Trace:
		return OutOfOrder
	case i < 2:
		return ""
	case open != last:
		return OpenEnd
	case open:
		return ""
	case belowZero(float64(upper)) != "":
		return belowZero(float64(upper))
	case upper == 0:
		return NotPositive
	case i > 2 && !(upper > s.Classes[i-1].Upper):
		return OutOfOrder
	}
	return ""
}

func kindOfRank(rank int) Kind {
	switch rank {
	case 0:
		return None
	case 1:
		return Unconfirmed
	}
	return Found
}
