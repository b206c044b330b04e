// Package tray holds the lab's trays of numbered cups: where a bag's soil
// stands between its arrival and its count, and where the blanks and check
// samples stand among them. It also holds the book-keeping of a lot of bags,
// which must come out even.
//
// # The rule
//
// Bags go into trays in the order they arrive, one cup each, cup 1 first. Every
// tray has one blank (clean sand, washed like a sample: an egg in it was carried
// over) and one check sample (soil of known density), at two cups drawn anew for
// each tray from the lot's seed. They are drawn, not fixed, so that they follow
// different samples from day to day and are not counted with special care; the
// seed makes the draw the same for everybody who asks.
package tray

import (
	"errors"
	"fmt"
	"math/rand/v2"
)

// Kind is what stands in a cup.
type Kind uint8

// The kinds.
const (
	Sample Kind = iota + 1
	Blank
	Check
)

// String is the kind's key: sample, blank or check.
func (k Kind) String() string {
	switch k {
	case Sample:
		return "sample"
	case Blank:
		return "blank"
	case Check:
		return "check"
	}
	return ""
}

// Plan is how a lab fills its trays. Trays are numbered from 1, cups from 1.
type Plan struct {
	Cups   int // cups in a tray
	Blanks int // in each tray
	Checks int // in each tray
	Seed   uint64
}

// Limits on a plan, ours. MinSamples keeps a tray from being all controls.
const (
	MaxCups    = 400
	MinSamples = 2
)

// ErrPlan is wrapped by every refusal of a plan.
var ErrPlan = errors.New("trays cannot be filled so")

// Usual is the plan of a lab that has said nothing: forty cups with one blank
// and one check sample, common practice (a control of each kind in every batch
// of twenty to forty) with no source.
func Usual(seed uint64) Plan { return Plan{Cups: 40, Blanks: 1, Checks: 1, Seed: seed} }

// Valid refuses a plan by which nothing can be filled.
func (p Plan) Valid() error {
	switch {
	case p.Cups < 1 || p.Cups > MaxCups:
		return fmt.Errorf("%w: %d cups, a tray has 1 to %d", ErrPlan, p.Cups, MaxCups)
	case p.Blanks < 0 || p.Checks < 0 || p.Cups-p.Blanks-p.Checks < MinSamples:
		return fmt.Errorf("%w: %d blanks and %d check samples in %d cups", ErrPlan, p.Blanks, p.Checks, p.Cups)
	}
	return nil
}

// PerTray is how many samples a tray takes.
func (p Plan) PerTray() int { return p.Cups - p.Blanks - p.Checks }

// Seat is a cup of a tray.
type Seat struct{ Tray, Cup int }

// Lay tells what stands in each cup of a tray, cup 1 at index 0. The same plan
// and tray always give the same. The plan must be Valid and the tray at least 1.
func (p Plan) Lay(tray int) ([]Kind, error) {
	if err := p.Valid(); err != nil {
		return nil, fmt.Errorf("Lay: %w", err)
	}
	if tray < 1 {
		return nil, fmt.Errorf("Lay: %w: tray %d", ErrPlan, tray)
	}
	cups := make([]Kind, p.Cups)
	for i := range cups {
		cups[i] = Sample
	}
	// A draw of its own for each tray, so that any tray can be laid without the
	// ones before it. The first cups of a shuffle, worked out here from the
	// generator's raw numbers, which never change; the modulo favors no cup by
	// more than one in 10^16.
	source := rand.NewPCG(p.Seed, uint64(tray))
	order := make([]int, p.Cups)
	for i := range order {
		order[i] = i
	}
	for i := range p.Blanks + p.Checks {
		j := i + int(source.Uint64()%uint64(p.Cups-i))
		order[i], order[j] = order[j], order[i]
		cups[order[i]] = Check
		if i < p.Blanks {
			cups[order[i]] = Blank
		}
	}
	return cups, nil
}

// Place is the seat of the n-th sample logged under the plan, n from 1. A store
// takes n from its count of seats under a lock, so that two technicians at two
// scanners never share a cup.
func (p Plan) Place(n int) (Seat, error) {
	if err := p.Valid(); err != nil {
		return Seat{}, fmt.Errorf("Place: %w", err)
	}
	if n < 1 {
		return Seat{}, fmt.Errorf("Place: %w: sample %d", ErrPlan, n)
	}
	tray := (n-1)/p.PerTray() + 1
	cups, err := p.Lay(tray)
	if err != nil {
		return Seat{}, fmt.Errorf("Place: %w", err)
	}
	left := (n-1)%p.PerTray() + 1
	for cup, kind := range cups {
		if kind == Sample {
			left--
		}
		if left == 0 {
			return Seat{Tray: tray, Cup: cup + 1}, nil
		}
	}
	return Seat{}, fmt.Errorf("Place: %w: no cup for sample %d", ErrPlan, n) // not reached: a valid plan has PerTray samples a tray
}

// Controls lists the blanks and the check samples of a tray by cup number.
func (p Plan) Controls(tray int) (blanks, checks []int, err error) {
	cups, err := p.Lay(tray)
	if err != nil {
		return nil, nil, fmt.Errorf("Controls: %w", err)
	}
	for i, kind := range cups {
		switch kind {
		case Blank:
			blanks = append(blanks, i+1)
		case Check:
			checks = append(checks, i+1)
		}
	}
	return blanks, checks, nil
}

// Condition is what a technician sees of a bag as it arrives. The list is
// closed.
type Condition string

// The conditions.
const (
	Good     Condition = "good"
	Wet      Condition = "wet"       // mud; washed all the same
	Dry      Condition = "dry"       // hot or dried out: eggs may have died
	Frozen   Condition = "frozen"    //
	Torn     Condition = "torn"      // soil lost or mixed with a neighbor's
	Short    Condition = "short"     // less soil than the method takes
	NotSoil  Condition = "not_soil"  // residue, gravel, nothing to wash
	Unmarked Condition = "unmarked"  // no code to be read on it
	OutState Condition = "out_state" // from another state: not opened, the coordinator is told
)

// Conditions lists the conditions in the order a form offers them.
func Conditions() []Condition {
	return []Condition{Good, Wet, Dry, Frozen, Torn, Short, NotSoil, Unmarked, OutState}
}

// Countable reports whether a bag in this condition goes into a tray.
func (c Condition) Countable() bool {
	switch c {
	case Good, Wet, Dry, Frozen, Short:
		return true
	}
	return false
}

// ParseCondition reads a stored or posted condition.
func ParseCondition(s string) (Condition, bool) {
	for _, c := range Conditions() {
		if string(c) == s {
			return c, true
		}
	}
	return "", false
}
