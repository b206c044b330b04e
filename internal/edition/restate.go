package edition

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

const (
	// MaxCuts is how many different cut points may ever be used on one tranche.
	MaxCuts = 8

	// CutDistance is how far apart, as a factor, any two of them must be. Cuts
	// close together would fence in one density.
	CutDistance = 2.0

	sameCut = 1e-9 // relative: one cut written in two units
)

// CutsFit is rule 7's bound: whether all cut points ever used on a tranche,
// in any level table, are at most MaxCuts and none within a factor of
// CutDistance of another. The limit under which a positive is unconfirmed is
// one of them; the open end of the last class is not.
func CutsFit(cuts ...float64) bool {
	used := make([]float64, 0, len(cuts))
	for _, c := range cuts {
		if c > 0 && !math.IsInf(c, 1) {
			used = append(used, c)
		}
	}
	slices.Sort(used)
	used = slices.CompactFunc(used, func(a, b float64) bool { return math.Abs(b-a) <= sameCut*max(a, b) })
	for i := 1; i < len(used); i++ {
		if used[i] <= used[i-1]*CutDistance*(1+sameCut) {
			return false
		}
	}
	return len(used) <= MaxCuts
}

// ErrRestate is wrapped where a tranche must not be counted by one more level
// table.
var ErrRestate = errors.New("a level table too many for an old group of results")

// Restate counts an old tranche into another level table. Members are the
// results that were pinned when it was last published, and rank their classes
// in the new table: what was corrected since stays out, or the two tables side
// by side would show it. Used are the cut points of every level table that the
// tranche, or one that came out again in it, was ever counted by.
func Restate(t Tranche, ranks Ranks, used, cuts []float64, members []SampleID, rank func(SampleID) int) (Recount, error) {
	if err := ranks.Check(); err != nil {
		return Recount{}, err
	}
	if !CutsFit(slices.Concat(used, cuts)...) {
		return Recount{}, fmt.Errorf("%w: tranche %d of edition %d", ErrRestate, t.ID, t.Edition)
	}
	pinned := make([]Pending, len(members))
	for i, m := range members {
		pinned[i].Sample = m
	}
	return recount(t, ranks, pinned, rank)
}
