package virulence

import (
	"slices"
	"strconv"
	"strings"
)

// Type is an HG type. The zero Type says nothing; Result makes them.
type Type struct {
	Elevated []Line // ascending
	Untested []Line // ascending; not empty: a type of a subset
}

// Complete reports whether all seven lines were tested.
func (t Type) Complete() bool { return len(t.Untested) == 0 }

// Mark is what is known of a line: "+" elevated, "-" not, "?" not tested.
func (t Type) Mark(l Line) string {
	switch {
	case slices.Contains(t.Elevated, l):
		return "+"
	case slices.Contains(t.Untested, l):
		return "?"
	}
	return "-"
}

// Name is the type as it is written: the elevated lines joined by points, "0"
// for none. Of a subset the name alone would claim more than is known; String
// says of which lines it is.
func (t Type) Name() string {
	if len(t.Elevated) == 0 {
		return "0"
	}
	return join(t.Elevated)
}

// String is the name, and for a subset the lines it is of: "2.7", "2 (of 1.2)",
// "0 (of 1.2.4)".
func (t Type) String() string {
	if t.Complete() {
		return t.Name()
	}
	return t.Name() + " (of " + join(t.Tested()) + ")"
}

// Tested lists the lines that were tested.
func (t Type) Tested() []Line {
	return slices.DeleteFunc(Lines(), func(l Line) bool { return slices.Contains(t.Untested, l) })
}

func join(lines []Line) string {
	parts := make([]string, len(lines))
	for i, l := range lines {
		parts[i] = strconv.Itoa(int(l))
	}
	return strings.Join(parts, ".")
}

// Doubt is a reason to look at a test once more before it is signed. None of
// them makes it wrong.
type Doubt struct {
	Reason DoubtReason
	Line   Line // zero: the check, or the test as a whole
}

// DoubtReason is a kind of doubt.
type DoubtReason string

// The reasons.
const (
	FewPots    DoubtReason = "few_pots"    // fewer than EnoughPots on a line or the check
	WeakCheck  DoubtReason = "weak_check"  // fewer than EnoughFemales a pot on the check
	NearTen    DoubtReason = "near_ten"    // limits of the index lie on both sides of Elevated
	OddSet     DoubtReason = "odd_set"     // elevated, while the line its group goes by is not
	RareLine   DoubtReason = "rare_line"   // PI 437654 elevated
	OverCheck  DoubtReason = "over_check"  // an index over 150: more females than on the check
	WildSpread DoubtReason = "wild_spread" // one pot holds more than all others of its line together
)

// overCheck is the index from which on a line has more females than the
// susceptible check can be believed to: half as many again, ours.
const overCheck = 150

// doubts lists what is worth a look. Lines 2, 5 and 7 rise together, and 1, 3
// and 6, so that 2.7 or 1.2 is an everyday type and 3.5 a likely slip of the
// pen: a line is odd when it is elevated and the line of its group that
// varieties are bred from was tested and is not, unless the limits of either
// leave that open. PI 437654 had indexes of 0 to 8.8 in Minnesota in 2007-08.
func (t Test) doubts(r Result) []Doubt {
	var out []Doubt
	add := func(when bool, reason DoubtReason, l Line) {
		if when {
			out = append(out, Doubt{reason, l})
		}
	}
	add(len(t.Check) < EnoughPots, FewPots, 0)
	add(sum(t.Check) < EnoughFemales*len(t.Check), WeakCheck, 0)
	add(wild(t.Check), WildSpread, 0)
	for _, l := range Lines() {
		i := r.Indexes[l-1]
		if !i.Tested {
			continue
		}
		add(i.Pots < EnoughPots, FewPots, l)
		add(i.Known && !i.Sure, NearTen, l)
		add(l == PI437654 && i.Elevated, RareLine, l)
		add(i.Value > overCheck, OverCheck, l)
		add(wild(t.Of(l)), WildSpread, l)
		if lead := l.fact().lead; lead != 0 {
			add(odd(i, r.Indexes[lead-1]), OddSet, l)
		}
	}
	return out
}

func odd(i, lead Index) bool {
	open := i.Known && !i.Sure || lead.Known && !lead.Sure
	return i.Elevated && lead.Tested && !lead.Elevated && !open
}

// wild reports one pot of three or more with more females than the rest
// together, and enough of them to mean something.
func wild(pots []int) bool {
	if len(pots) < 3 {
		return false
	}
	most := slices.Max(pots)
	return most >= 20 && 2*most > sum(pots)
}
