package atlas

import (
	"fmt"
	"strconv"
)

// Measure is what a map shows of its places.
type Measure uint8

// The measures. Those of a level are shown by furrows; share and samples print
// their number in each place, on a ramp of their own; standings have marks of
// their own.
const (
	HighestLevel  Measure = iota // over all years
	RecentHighest                // over the last five falls
	TypicalLevel                 // the middle one of all
	ShareFound                   // samples with finds, in percent
	SampleCount                  // samples
	NewFigures                   // what this edition adds
	Standings                    // found; or how hard was looked where nothing was
)

var measureNames = [...]string{"highest", "recent", "typical", "share", "samples", "new", "standing"}

// Measures lists every measure.
func Measures() []Measure {
	return []Measure{HighestLevel, RecentHighest, TypicalLevel, ShareFound, SampleCount, NewFigures, Standings}
}

// String returns the name used in addresses: highest, recent, typical, share,
// samples, new, standing.
func (m Measure) String() string {
	if int(m) < len(measureNames) {
		return measureNames[m]
	}
	return "measure " + strconv.Itoa(int(m))
}

// ParseMeasure reads such a name.
func ParseMeasure(s string) (Measure, error) {
	for _, m := range Measures() {
		if m.String() == s {
			return m, nil
		}
	}
	return 0, fmt.Errorf("atlas.ParseMeasure: no such measure %q", s)
}

// AmountStep is a step of a number's ramp: From and To are its least and greatest
// whole number; To is -1 where there is no greatest.
type AmountStep struct {
	Mark     Mark
	From, To int
}

// AmountSteps is how many steps the ramp of numbers has.
const AmountSteps = 5

// The last number of each step but the last. Percentages part at a tenth, a
// quarter and a half; numbers of samples about double. Both are ours: no source.
var (
	shareUpTo   = [AmountSteps - 1]int{0, 10, 25, 50}
	samplesUpTo = [AmountSteps - 1]int{4, 9, 19, 49}
)

// Steps returns the steps a legend of the measure explains, rising; nil for
// measures of a level, whose steps are the scheme's classes.
func (m Measure) Steps() []AmountStep {
	var upTo [AmountSteps - 1]int
	from, last := 0, -1
	switch m {
	case ShareFound:
		upTo, last = shareUpTo, 100
	case SampleCount:
		upTo, from = samplesUpTo, 1
	default:
		return nil
	}
	var out []AmountStep
	for i := range AmountSteps {
		s := AmountStep{Mark: Mark{Standing: Measured, Lines: i + 1, Of: AmountSteps}, From: from, To: last}
		if i < len(upTo) {
			s.To = upTo[i]
		}
		out, from = append(out, s), s.To+1
	}
	return out
}

// Percent returns part in percent of whole, rounded to the nearest, except that
// only none is 0 and only all is 100: of 400 bags with one find it is 1.
func Percent(part, whole int) int {
	switch {
	case whole <= 0 || part <= 0:
		return 0
	case part >= whole:
		return 100
	}
	return min(max((200*part+whole)/(2*whole), 1), 99)
}

// ShareMark is the mark of a place where finds of so many samples had finds.
func ShareMark(found, samples int) Mark {
	if samples <= 0 {
		return Mark{}
	}
	return stepMark(shareUpTo, Percent(found, samples))
}

// SamplesMark is the mark of a place with so many samples.
func SamplesMark(samples int) Mark {
	if samples <= 0 {
		return Mark{}
	}
	return stepMark(samplesUpTo, samples)
}

func stepMark(upTo [AmountSteps - 1]int, n int) Mark {
	step := 1
	for _, u := range upTo {
		if n > u {
			step++
		}
	}
	return Mark{Standing: Measured, Lines: step, Of: AmountSteps}
}
