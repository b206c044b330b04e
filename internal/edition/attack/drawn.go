package attack

import (
	"cmp"
	"slices"
)

// Drawn sorts out what the map of an edition shows today, and what was taken back
// from it. To the latter come tranches of editions withdrawn since, up to the
// next that stands: a reader may have seen them on the map that was there.
func (p Public) Drawn(edition int) (drawn, recalled []Tranche) {
	until := 1 << 30
	for _, e := range p.Editions {
		if e.Number > edition && !slices.Contains(p.Withdrawn, e.Number) {
			until = min(until, e.Number)
		}
	}
	scheme := p.schemeOf(edition)
	refs, groups := p.sorted()
	for _, ref := range refs {
		g := groups[ref]
		switch t := g.drawn(edition, scheme); {
		case t != nil:
			out := g.Tranche
			out.Samples, out.Coarse, out.Counts = t.samples, t.coarse, t.counts
			if t.scheme != scheme && !t.coarse {
				out.Coarse, out.Counts = true, t.byKind()
			}
			drawn = append(drawn, out)
		case ref.Edition <= edition && (g.into.Edition == 0 || g.into.Edition > edition),
			ref.Edition > edition && ref.Edition < until && g.into.Edition == 0 && slices.Contains(p.Withdrawn, ref.Edition) && g.drawn(1<<30, scheme) == nil:
			recalled = append(recalled, g.Tranche)
		}
	}
	return drawn, recalled
}

// byKind is what every level table shows of a table: none, unconfirmed, found.
func (t *table) byKind() []int {
	out := make([]int, 3)
	for rank, n := range t.counts {
		out[slices.Index([]string{"none", "unconfirmed", "found"}, t.ranks[rank])] += n
	}
	return out
}

// FallsDrawn are the fall figures on the map of an edition as drawn today: those
// of the newest release up to it, without a county of which a tranche that bags of
// the fall may be in was taken back since.
func (p Public) FallsDrawn(edition int) (out []Fall) {
	var of *Edition
	for i, e := range p.Editions {
		if e.Number <= edition && e.Kind == "release" && (e.Number == edition || !slices.Contains(p.Withdrawn, e.Number)) {
			of = &p.Editions[i]
		}
	}
	if of == nil {
		return nil
	}
	_, groups := p.sorted()
	for _, f := range of.Falls {
		hidden := false
		for ref, g := range groups {
			hidden = hidden || g.County == f.County && g.Through >= f.Season && ref.Edition <= of.Number && g.recall >= of.Number
		}
		if hidden {
			continue
		}
		if p.schemeOf(edition) != of.Scheme {
			f.Highest = -1
		}
		out = append(out, f)
	}
	slices.SortFunc(out, func(a, b Fall) int { return cmp.Compare(a.County, b.County) })
	return out
}
