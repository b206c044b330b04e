package edition

import (
	"errors"
	"fmt"
	"slices"

	"sixmile/internal/place"
)

// Figures is a sum of whole tranches: what a page may say about a place, a
// county or the state. Both parts of every share come from the same tranches.
type Figures struct {
	Tranches int
	Samples  int

	None, Unconfirmed, Finds int // they sum to Samples

	// Counts is by rank, from the tranches that show every class. CoarseFinds
	// are finds whose class is not shown.
	Counts      []int
	CoarseFinds int

	ranks Ranks
}

// ErrMixed is wrapped when tranches counted by another scheme are summed.
var ErrMixed = errors.New("tranches are of different level tables")

// Sum adds whole tranches, each with the coefficient one.
func Sum(ranks Ranks, tranches ...Tranche) (Figures, error) {
	f := Figures{Counts: make([]int, len(ranks)), ranks: ranks}
	for _, t := range tranches {
		want := len(ranks)
		if t.Coarse {
			want = len(coarseKinds)
		}
		if len(t.Counts) != want {
			return Figures{}, fmt.Errorf("%w: tranche %d of edition %d has %d counts, want %d",
				ErrMixed, t.ID, t.Edition, len(t.Counts), want)
		}
		f.Tranches++
		f.Samples += t.Samples
		for i, n := range t.Counts {
			f.add(t.Coarse, i, n)
		}
	}
	return f, nil
}

func (f *Figures) add(coarse bool, i, n int) {
	kind := ClassFound
	if coarse {
		kind = coarseKinds[i]
		if kind == ClassFound {
			f.CoarseFinds += n
		}
	} else {
		kind = f.ranks[i]
		f.Counts[i] += n
	}
	switch kind {
	case ClassNone:
		f.None += n
	case ClassUnconfirmed:
		f.Unconfirmed += n
	default:
		f.Finds += n
	}
}

// finds is how many of the tranche's samples are finds.
func (t Tranche) finds(ranks Ranks) int {
	if t.Coarse {
		return t.Counts[len(coarseKinds)-1]
	}
	n := 0
	for rank, count := range t.Counts {
		if ranks[rank] == ClassFound {
			n += count
		}
	}
	return n
}

// Judged is how many samples are sure either way: an unconfirmed one counts
// neither as found nor as none found.
func (f Figures) Judged() int { return f.None + f.Finds }

// Highest is the highest rank among the samples, -1 without samples. Where
// finds without a class are among them it is the least it can be, and exact is
// false.
func (f Figures) Highest() (rank int, exact bool) {
	switch {
	case f.Samples == 0:
		return -1, true
	case f.Finds == 0 && f.Unconfirmed > 0:
		return slices.Index(f.ranks, ClassUnconfirmed), true
	case f.Finds == 0:
		return slices.Index(f.ranks, ClassNone), true
	}
	rank = slices.Index(f.ranks, ClassFound)
	for i := rank; i < len(f.Counts); i++ {
		if f.Counts[i] > 0 {
			rank = i
		}
	}
	return rank, f.CoarseFinds == 0 || rank == len(f.ranks)-1
}

// Typical is the rank of the middle sample, of two middle ones the lower. It
// is not known (false) without samples, or where finds without a class could
// decide it.
func (f Figures) Typical() (rank int, known bool) {
	if f.Samples == 0 {
		return -1, false
	}
	middle := (f.Samples + 1) / 2
	switch {
	case middle <= f.None:
		return slices.Index(f.ranks, ClassNone), true
	case middle <= f.None+f.Unconfirmed:
		return slices.Index(f.ranks, ClassUnconfirmed), true
	case f.CoarseFinds > 0:
		return -1, false
	}
	seen := f.None + f.Unconfirmed
	for i, n := range f.Counts {
		if f.ranks[i] != ClassFound {
			continue
		}
		if seen += n; middle <= seen {
			return i, true
		}
	}
	return -1, false
}

// OfTownship are the tranches of the township's own.
func OfTownship(tranches []Tranche, id place.ID) []Tranche {
	return filter(tranches, func(t Tranche) bool {
		return t.Kind == KindTownship && t.Places[0] == id
	})
}

// OfCounty are all tranches of a county, of whatever kind.
func OfCounty(tranches []Tranche, county place.ID) []Tranche {
	return filter(tranches, func(t Tranche) bool { return t.County == county })
}

// OfFall are the tranches of one fall alone.
func OfFall(tranches []Tranche, season int) []Tranche {
	return filter(tranches, func(t Tranche) bool {
		return t.Window == Window{ThisFall: true, Through: season}
	})
}

// Since are the tranches gathered up to the given fall or a later one. Some of
// their bags may be older; nothing finer is known.
func Since(tranches []Tranche, season int) []Tranche {
	return filter(tranches, func(t Tranche) bool { return t.Window.Through >= season })
}

// TownshipsShown lists the townships with a tranche of their own, in order.
func TownshipsShown(tranches []Tranche) []place.ID {
	var out []place.ID
	for _, t := range tranches {
		if t.Kind == KindTownship {
			out = append(out, t.Places[0])
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func filter(tranches []Tranche, keep func(Tranche) bool) []Tranche {
	var out []Tranche
	for _, t := range tranches {
		if keep(t) {
			out = append(out, t)
		}
	}
	return out
}
