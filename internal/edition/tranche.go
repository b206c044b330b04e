package edition

import (
	"errors"
	"fmt"
	"slices"

	"sixmile/internal/place"
)

// ClassKind says what a class of a scheme means for the question "is it there".
type ClassKind string

// The kinds of class.
const (
	ClassNone        ClassKind = "none"        // no eggs seen
	ClassUnconfirmed ClassKind = "unconfirmed" // too few eggs seen to be sure whose they are
	ClassFound       ClassKind = "found"
)

// Ranks is a scheme as the counting sees it: the kind of each class, lowest
// first.
type Ranks []ClassKind

// ErrRanks is wrapped when a scheme's classes are not none, then unconfirmed,
// then found.
var ErrRanks = errors.New("classes are out of order")

// Check wants one class of the kind none, at most one unconfirmed, and one or
// more found, in this order.
func (r Ranks) Check() error {
	last, seen := 0, [3]int{}
	for rank, kind := range r {
		i := slices.Index(coarseKinds, kind)
		if i < last {
			return fmt.Errorf("%w: rank %d is %q", ErrRanks, rank, kind)
		}
		last = i
		seen[i]++
	}
	if seen[0] != 1 || seen[1] > 1 || seen[2] == 0 {
		return fmt.Errorf("%w: %d for none found, %d unconfirmed, %d found", ErrRanks, seen[0], seen[1], seen[2])
	}
	return nil
}

// coarseKinds are the three classes of a coarse tranche, in the order of its
// counts.
var coarseKinds = []ClassKind{ClassNone, ClassUnconfirmed, ClassFound}

// Tranche is the results of at least Senders senders, released together, once,
// for ever. It is all the public ever sees of a result.
type Tranche struct {
	ID      int // 1, 2, 3 in its edition, by county, kind and place
	Edition int
	County  place.ID
	Kind    Kind
	Places  []place.ID
	Senders int // "this many or more": the k of the edition, never the exact number
	Samples int
	Window  Window

	// Coarse: few senders, so Counts are none, unconfirmed, found. Otherwise
	// Counts has a number for each class of the edition's scheme.
	Coarse bool
	Counts []int // sums to Samples

	// Joins are the recalled tranches that came out again in this one, in order.
	// Samples and Counts include them.
	Joins []Ref
}

// ErrCount is wrapped when a draft cannot be counted.
var ErrCount = errors.New("draft cannot be counted")

// Count counts every draft into classes and numbers the tranches. classOf gives
// the rank of a sample's result; it is asked for the members of the drafts and
// for no other sample.
//
// Rule 7: a draft of fewer than rules.FullClassesFrom senders is counted into
// none, unconfirmed and found only.
func (p Plan) Count(rules Rules, edition int, ranks Ranks, classOf func(SampleID) int) ([]Tranche, error) {
	if err := ranks.Check(); err != nil {
		return nil, err
	}
	drafts := slices.Clone(p.Tranches)
	sortDrafts(drafts)
	out := make([]Tranche, 0, len(drafts))
	for i, d := range drafts {
		t, err := d.count(rules.FullClassesFrom, ranks, classOf)
		if err != nil {
			return nil, err
		}
		t.ID, t.Edition = i+1, edition
		out = append(out, t)
	}
	return out, nil
}

func (d Draft) count(fullFrom int, ranks Ranks, classOf func(SampleID) int) (Tranche, error) {
	if d.Senders < d.Floor || len(d.Members) < d.Senders {
		return Tranche{}, fmt.Errorf("%w: %d senders and %d samples under a floor of %d",
			ErrCount, d.Senders, len(d.Members), d.Floor)
	}
	t := Tranche{
		County: d.County, Kind: d.Kind, Places: slices.Clone(d.Places), Senders: d.Floor,
		Window: d.Window, Coarse: d.Senders < fullFrom, Counts: make([]int, len(ranks)),
	}
	if t.Coarse {
		t.Counts = make([]int, len(coarseKinds))
	}
	for _, j := range d.Joins {
		t.Joins = append(t.Joins, j.Ref)
	}
	for _, m := range d.everyone() {
		column, err := columnOf(ranks, t.Coarse, classOf(m))
		if err != nil {
			return Tranche{}, err
		}
		t.Counts[column]++
		t.Samples++
	}
	return t, nil
}

// columnOf is where a sample of the rank is counted.
func columnOf(ranks Ranks, coarse bool, rank int) (int, error) {
	if rank < 0 || rank >= len(ranks) {
		return 0, fmt.Errorf("%w: a sample's rank is %d of %d", ErrCount, rank, len(ranks))
	}
	if coarse {
		return slices.Index(coarseKinds, ranks[rank]), nil
	}
	return rank, nil
}
