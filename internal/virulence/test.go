package virulence

import (
	"fmt"

	"sixmile/internal/assay"
	"sixmile/internal/stat"
)

// Elevated is the female index from which on a line is named in the HG type.
const Elevated = 10

// What a good test has; a test without it is taken, with a Doubt.
const (
	// EnoughPots a line: five (Iowa State University).
	EnoughPots = 5
	// EnoughFemales a pot on the check: a hundred, from memory. Fewer mean that
	// the nematodes did not thrive, and every index rests on them.
	EnoughFemales = 100
)

// Limits on what can have been counted, ours.
const (
	MaxPots    = 50
	MaxFemales = 20_000
)

// Test is what was counted: females in each pot.
type Test struct {
	Check []int           // pots of the susceptible check
	Pots  [NumLines][]int // pots of line n at n-1; empty: not tested
}

// Of gives the pots of a line.
func (t Test) Of(l Line) []int { return t.Pots[l-1] }

// Valid returns an *assay.Invalid for a test that cannot be read. Its fields
// are check, lines and, numbered from zero, check.0 and by line line.2.0.
func (t Test) Valid() error {
	found := map[string]assay.Problem{}
	if len(t.Check) == 0 {
		found["check"] = assay.Missing
	}
	pots(found, "check", t.Check)
	tested := 0
	for _, l := range Lines() {
		tested += len(t.Of(l))
		pots(found, fmt.Sprintf("line.%d", l), t.Of(l))
	}
	if tested == 0 {
		found["lines"] = assay.Missing
	}
	if _, bad := found["check"]; !bad && sum(t.Check) == 0 {
		found["check"] = assay.NotPositive
	}
	if len(found) > 0 {
		return &assay.Invalid{Fields: found}
	}
	return nil
}

// pots notes what is wrong with the pots of one line.
func pots(found map[string]assay.Problem, field string, females []int) {
	if len(females) > MaxPots {
		found[field] = assay.TooMany
	}
	for i, n := range females {
		switch {
		case n < 0:
			found[fmt.Sprintf("%s.%d", field, i)] = assay.Negative
		case n > MaxFemales:
			found[fmt.Sprintf("%s.%d", field, i)] = assay.TooLarge
		}
	}
}

// Index is the female index of a line.
type Index struct {
	Line     Line
	Tested   bool // false: nothing of the rest is known
	Pots     int
	Mean     float64       // females a pot
	Value    float64       // per cent of the check
	SE       float64       // delta method; NaN from fewer than two pots a side
	Limits   stat.Interval // 95 %, Fieller
	Known    bool          // Limits says something
	Elevated bool          // Value is Elevated or more
	Sure     bool          // Limits lie all on one side of Elevated
	Rating   Rating
}

// Result is a test worked out.
type Result struct {
	Indexes [NumLines]Index // of line n at n-1
	Type    Type
	Doubts  []Doubt
}

// Result works out a test. The error is that of Valid.
func (t Test) Result() (Result, error) {
	if err := t.Valid(); err != nil {
		return Result{}, fmt.Errorf("Result: %w", err)
	}
	var r Result
	for _, l := range Lines() {
		index, err := t.index(l)
		if err != nil {
			return Result{}, fmt.Errorf("Result: %w", err)
		}
		r.Indexes[l-1] = index
		switch {
		case !index.Tested:
			r.Type.Untested = append(r.Type.Untested, l)
		case index.Elevated:
			r.Type.Elevated = append(r.Type.Elevated, l)
		}
	}
	r.Doubts = t.doubts(r)
	return r, nil
}

func (t Test) index(l Line) (Index, error) {
	on := t.Of(l)
	if len(on) == 0 {
		return Index{Line: l}, nil
	}
	ratio, err := stat.RatioOfMeans(floats(on), floats(t.Check), stat.Confidence)
	if err != nil {
		return Index{}, err
	}
	// Whole numbers: FI >= 10 where 100 x females x pots of the check is at
	// least 10 x females of the check x pots. A float could fall a hair short.
	over := 100*sum(on)*len(t.Check) - Elevated*sum(t.Check)*len(on)
	i := Index{
		Line: l, Tested: true, Pots: len(on),
		Mean:  float64(sum(on)) / float64(len(on)),
		Value: float64(100*sum(on)*len(t.Check)) / float64(sum(t.Check)*len(on)),
		SE:    100 * ratio.SE, Limits: ratio.Limits.Scale(100), Known: ratio.Known,
		Elevated: over >= 0,
	}
	i.Sure = i.Known && (i.Limits.Low >= Elevated || i.Limits.High < Elevated)
	i.Rating = Rate(i.Value)
	return i, nil
}

func sum(pots []int) int {
	total := 0
	for _, n := range pots {
		total += n
	}
	return total
}

func floats(pots []int) []float64 {
	out := make([]float64, len(pots))
	for i, n := range pots {
		out[i] = float64(n)
	}
	return out
}
