package edition

import "slices"

// Entry is a tranche with everything that was ever published of it.
type Entry struct {
	Tranche                // as its own edition counted it
	Scheme     int         // the level table of its own edition
	Again      []CountedBy // by later editions, oldest first; those of a withdrawn restatement are left out
	Spent      []int       // level tables of withdrawn restatements: somebody has them on paper
	RecallUpTo int         // counts by editions up to this one were recalled; 0: none
	Into       Ref         // the tranche in which it came out again; zero: none
}

// CountedBy is a recount with the edition that made it.
type CountedBy struct {
	Edition int
	Scheme  int
	Recount
}

// counts lists every count of the tranche, oldest first.
func (e Entry) counts() []CountedBy {
	own := CountedBy{Edition: e.Edition, Scheme: e.Scheme,
		Recount: Recount{Of: e.Ref(), Samples: e.Samples, Coarse: e.Coarse, Counts: e.Counts}}
	return append([]CountedBy{own}, e.Again...)
}

// Recalled says that nothing of the tranche stands: it was taken back, and has
// not come out again.
func (e Entry) Recalled() bool {
	_, stands := e.count(1<<30, e.Scheme)
	return !stands && e.Into == Ref{}
}

// count is the count that stands for an edition, in its level table where there
// is one.
func (e Entry) count(no, scheme int) (best CountedBy, stands bool) {
	for _, c := range e.counts() {
		if c.Edition > no || c.Edition <= e.RecallUpTo {
			continue
		}
		if !stands || c.Scheme == scheme || best.Scheme != scheme {
			best, stands = c, true
		}
	}
	return best, stands
}

// Last is the tranche as it was last published, recalled or not, and the level
// table of that.
func (e Entry) Last() (Tranche, CountedBy) {
	all := e.counts()
	c := all[len(all)-1]
	return e.counted(c), c
}

// Before lists all tables published of the tranche in a level table.
func (e Entry) Before(scheme int) (out [][]int) {
	for _, c := range e.counts() {
		if c.Scheme == scheme {
			out = append(out, c.Counts)
		}
	}
	return out
}

// SchemesUsed lists the level tables that the tranche was ever counted by.
func (e Entry) SchemesUsed() []int {
	out := slices.Clone(e.Spent)
	for _, c := range e.counts() {
		out = append(out, c.Scheme)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// StandsIn says that a table of the tranche in these levels stands.
func (e Entry) StandsIn(scheme int) bool {
	c, stands := e.count(1<<30, scheme)
	return stands && c.Scheme == scheme
}

// MayCount says whether the tranche may be counted by a level table as far as its
// own past goes; whether the cut points fit is asked of CutsFit. Not where its
// table stands already; nor where an older table in the same levels was recalled:
// what was put right was weighed in other levels, and here might be one result.
func (e Entry) MayCount(scheme int) bool {
	c, stands := e.count(1<<30, scheme)
	if !stands || c.Scheme == scheme || e.Into != (Ref{}) {
		return false
	}
	return e.RecallUpTo == 0 || !slices.Contains(e.SchemesUsed(), scheme)
}

func (e Entry) counted(c CountedBy) Tranche {
	t := e.Tranche
	t.Samples, t.Counts = c.Samples, c.Counts
	return t
}

// Shown sorts the tranches up to edition no into those that stand on its map
// and those that were recalled from it. A tranche that came out again in another
// is in neither from then on. Where a tranche was never counted by the edition's
// level table it shows none, unconfirmed and found only, as another counted it;
// ranks gives the classes of a level table.
func Shown(entries []Entry, no, scheme int, ranks func(scheme int) Ranks) (shown, recalled []Tranche) {
	for _, e := range entries {
		if e.Edition > no || e.Into != (Ref{}) && e.Into.Edition <= no {
			continue
		}
		c, stands := e.count(no, scheme)
		switch {
		case !stands:
			recalled = append(recalled, e.Tranche)
		case c.Scheme != scheme:
			shown = append(shown, e.counted(c).coarsen(ranks(c.Scheme)))
		default:
			shown = append(shown, e.counted(c))
		}
	}
	return shown, recalled
}

// coarsen keeps of a tranche's counts what every level table can show.
func (t Tranche) coarsen(ranks Ranks) Tranche {
	if t.Coarse {
		return t
	}
	counts := make([]int, len(coarseKinds))
	for rank, n := range t.Counts {
		if rank < len(ranks) {
			counts[slices.Index(coarseKinds, ranks[rank])] += n
		}
	}
	t.Coarse, t.Counts = true, counts
	return t
}
