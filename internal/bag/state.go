package bag

import (
	"errors"
	"fmt"
	"slices"
)

// State is how far a bag has come. It is the furthest step reached: a form
// that arrives after its soil leaves the bag at SoilIn.
type State string

// The states of a bag, in the order a bag usually goes through them.
const (
	Issued    State = "issued"     // code printed, bag sealed in a bundle at a county office
	HandedOut State = "handed_out" // bundle given to somebody
	FormIn    State = "form_in"    // the grower's form has arrived
	SoilIn    State = "soil_in"    // the soil has arrived at the lab
	Counted   State = "counted"    // the lab has a result
	Signed    State = "signed"     // the coordinator has signed the result off
	Waiting   State = "waiting"    // signed, looked at by a release, not in a tranche yet
	Released  State = "released"   // in a tranche, for ever
	Void      State = "void"       // lost, spoiled, doubled or returned unusable
)

// States lists every state in the usual order.
func States() []State {
	return []State{Issued, HandedOut, FormIn, SoilIn, Counted, Signed, Waiting, Released, Void}
}

// Next lists the states a bag may go to from s.
//
// Steps may be missing, since bags are handed out without a scan, and soil
// comes without a form. HandedOut goes back to Issued when a sealed bundle is
// returned. Counted goes back to SoilIn for a recount, Signed and Waiting go
// back to Counted when a correction supersedes the result. Nothing leaves
// Released: a sample is in one tranche for ever, and what is wrong with it is
// corrected through its tranche. Nothing leaves Void.
func (s State) Next() []State {
	switch s {
	case Issued:
		return []State{HandedOut, FormIn, SoilIn, Void}
	case HandedOut:
		return []State{Issued, FormIn, SoilIn, Void}
	case FormIn:
		return []State{SoilIn, Void}
	case SoilIn:
		return []State{Counted, Void}
	case Counted:
		return []State{SoilIn, Signed, Void}
	case Signed:
		return []State{Counted, Waiting, Released, Void}
	case Waiting:
		return []State{Counted, Released, Void}
	default:
		return nil
	}
}

// ErrStep is wrapped when a bag is asked to take a step it may not take.
var ErrStep = errors.New("bag cannot take this step")

// Step checks that a bag may go from s to t.
func (s State) Step(t State) error {
	if slices.Contains(s.Next(), t) {
		return nil
	}
	return fmt.Errorf("%w: from %q to %q", ErrStep, string(s), string(t))
}
