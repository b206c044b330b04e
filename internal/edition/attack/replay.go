package attack

import "slices"

// Recall says that what editions up to UpTo published of a tranche was taken
// back. It is public, like the edition that a tranche was withdrawn with.
type Recall struct {
	Of   Ref
	UpTo int
}

// table is one published count of a tranche.
type table struct {
	edition, scheme int
	kind            string // of the edition
	ranks           []string
	cuts            []float64
	samples         int
	coarse          bool
	counts          []int
}

// group is a tranche and everything that was published of it.
type group struct {
	Tranche
	edition int
	tables  []table // oldest first
	recall  int     // counts by editions up to this were recalled
	into    Ref     // where it came out again
	holds   []Ref   // what came out again in it
}

// groups replays all editions: who was published when, and what became of it.
// What only a reader sees who reads several editions side by side starts here.
func (p Public) groups() map[Ref]*group {
	out := make(map[Ref]*group)
	for _, e := range p.Editions {
		one := table{edition: e.Number, scheme: e.Scheme, kind: e.Kind, ranks: e.Ranks, cuts: e.Cuts}
		for _, t := range e.Tranches {
			c := one
			c.samples, c.coarse, c.counts = t.Samples, t.Coarse, t.Counts
			out[Ref{e.Number, t.ID}] = &group{Tranche: t, edition: e.Number, tables: []table{c}}
		}
		for _, j := range e.Joins {
			into := Ref{e.Number, j.ID}
			if g, whole := out[j.Of], out[into]; g != nil && whole != nil {
				g.into = into
				whole.holds = append(whole.holds, j.Of)
			}
		}
		if e.Kind == "restated" && slices.Contains(p.Withdrawn, e.Number) {
			continue // its tables are no longer drawn; tables says what they told
		}
		for _, a := range e.Again {
			if g := out[a.Of]; g != nil {
				c := one
				c.samples, c.coarse, c.counts = a.Samples, a.Coarse, a.Counts
				g.tables = append(g.tables, c)
			}
		}
	}
	for _, r := range p.Recalls {
		if g := out[r.Of]; g != nil {
			g.recall = max(g.recall, r.UpTo)
		}
	}
	return out
}

// drawn is the table of the group on the map of an edition as it is drawn
// today: not one recalled, not once it came out in another, and rather one by
// the edition's own levels than by others.
func (g *group) drawn(edition, scheme int) *table {
	if g.edition > edition || g.into.Edition > 0 && g.into.Edition <= edition {
		return nil
	}
	var best *table
	for i := range g.tables {
		t := &g.tables[i]
		if t.edition > edition || t.edition <= g.recall {
			continue
		}
		if best == nil || t.scheme == scheme || best.scheme != scheme {
			best = t
		}
	}
	return best
}

// finds is how many samples of a table are finds.
func (t *table) finds() int {
	if t.coarse {
		return t.counts[2]
	}
	n := 0
	for rank, count := range t.counts {
		if rank < len(t.ranks) && t.ranks[rank] == "found" {
			n += count
		}
	}
	return n
}

func (p Public) schemeOf(number int) int {
	for _, e := range p.Editions {
		if e.Number == number {
			return e.Scheme
		}
	}
	return 0
}
