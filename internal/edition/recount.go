package edition

import "sixmile/internal/place"

// Ref names a tranche for ever: its edition and its number there.
type Ref struct{ Edition, ID int }

// Ref is the tranche's name.
func (t Tranche) Ref() Ref { return Ref{t.Edition, t.ID} }

// Recount is what a later edition counted an older tranche to be: an erratum,
// or a restatement in another level table.
type Recount struct {
	Of      Ref
	Samples int
	Coarse  bool  // as the tranche is
	Counts  []int // by rank of the counting edition, or none, unconfirmed, found; sums to Samples
}

// Held is a member of a recalled tranche as it is known now.
type Held struct {
	Pending // Counted: the result that stands is signed
	// Gone: its bag turned out void, or from a place that is not the tranche's.
	// It never comes out again: what was in a tranche is in no other.
	Gone bool
}

// Back is a recalled tranche that may come out again. It is for the office
// only. Like Pending it holds no count and no class.
type Back struct {
	Ref
	County place.ID
	Kind   Kind
	Places []place.ID
	Window Window
	// Mended: something was put right since it was last published, or nothing
	// had to be. A tranche recalled for a wrong count is not mended before a
	// new result stands, whatever it says.
	Mended  bool
	Members []Held // those that were counted when it was last published
}

// BackOf is a recalled tranche with what was counted when it was last published.
func BackOf(t Tranche, mended bool, members []Held) Back {
	return Back{Ref: t.Ref(), County: t.County, Kind: t.Kind, Places: t.Places, Window: t.Window, Mended: mended, Members: members}
}

// left are the members that may come out again.
func (b Back) left() (out []Pending) {
	for _, m := range b.Members {
		if !m.Gone {
			out = append(out, m.Pending)
		}
	}
	return out
}

// ready says whether the tranche could be counted again now, and why not.
func (b Back) ready() (Reason, bool) {
	if !b.Mended {
		return BackUnmended, false
	}
	for _, m := range b.left() {
		if !m.Counted {
			return BackUncounted, false
		}
	}
	return "", true
}

// Lacks is why the tranche could not be counted again now; empty where it could.
func (b Back) Lacks() Reason {
	why, _ := b.ready()
	return why
}

// recount counts members into classes.
func recount(of Tranche, ranks Ranks, members []Pending, rank func(SampleID) int) (r Recount, err error) {
	ids := make([]SampleID, len(members))
	for i, m := range members {
		ids[i] = m.Sample
	}
	r = Recount{Of: of.Ref(), Samples: len(members), Coarse: of.Coarse}
	r.Counts, err = CountOf(ranks, of.Coarse, ids, rank)
	return r, err
}

// CountOf counts samples into the classes of a level table, or into none,
// unconfirmed and found.
func CountOf(ranks Ranks, coarse bool, members []SampleID, rank func(SampleID) int) ([]int, error) {
	counts := make([]int, len(ranks))
	if coarse {
		counts = make([]int, len(coarseKinds))
	}
	for _, m := range members {
		column, err := columnOf(ranks, coarse, rank(m))
		if err != nil {
			return nil, err
		}
		counts[column]++
	}
	return counts, nil
}
