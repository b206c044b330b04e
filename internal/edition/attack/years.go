package attack

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
)

// sorted lists the groups in the order of their editions and lines.
func (p Public) sorted() (refs []Ref, groups map[Ref]*group) {
	groups = p.groups()
	refs = slices.SortedFunc(maps.Keys(groups), func(a, b Ref) int {
		return cmp.Or(cmp.Compare(a.Edition, b.Edition), cmp.Compare(a.ID, b.ID))
	})
	return refs, groups
}

// oneOfThem works out, for a group that was counted again, how few results
// could have made the difference.
func oneOfThem(p Public) (found []string) {
	all := p
	all.Withdrawn = nil // what was printed stays known
	refs, groups := all.sorted()
	for _, ref := range refs {
		g := groups[ref]
		for i, now := range g.tables {
			for _, then := range g.tables[:i] {
				if then.scheme != now.scheme {
					continue
				}
				in, out := 0, 0
				for rank := range now.counts {
					d := now.counts[rank] - then.counts[rank]
					in, out = in+max(d, 0), out+max(-d, 0)
				}
				n := max(in, out)
				if n == 0 && now.kind == "restated" {
					continue // the same again
				}
				if n < p.kOf(now.edition) {
					found = append(found, fmt.Sprintf("edition %d counts %v again: %d results make the difference to edition %d",
						now.edition, ref, n, then.edition))
				}
			}
		}
	}
	return found
}

func (p Public) kOf(number int) int {
	for _, e := range p.Editions {
		if e.Number == number {
			return max(3, e.K)
		}
	}
	return 3
}

// leastK is the least k of the editions after one and up to another: rules may
// have changed between them.
func (p Public) leastK(after, upto int) int {
	least := 0
	for _, e := range p.Editions {
		if e.Number > after && e.Number <= upto && (least == 0 || e.K < least) {
			least = e.K
		}
	}
	return max(3, least)
}

// backAgain subtracts a recalled group from the one that it came out in.
func backAgain(p Public) (found []string) {
	refs, groups := p.sorted()
	for _, ref := range refs {
		g := groups[ref]
		if len(g.holds) == 0 {
			continue
		}
		more := g.Samples
		for _, h := range g.holds {
			old := groups[h]
			more -= old.tables[len(old.tables)-1].samples
			if old.County != g.County || old.Kind != g.Kind || !slices.Equal(old.Places, g.Places) || h.Edition >= ref.Edition {
				found = append(found, fmt.Sprintf("%v came out again in %v, of another place", h, ref))
			}
			if old.recall < old.tables[len(old.tables)-1].edition {
				found = append(found, fmt.Sprintf("%v came out again in %v and was never recalled", h, ref))
			}
		}
		if more < p.kOf(ref.Edition) {
			found = append(found, fmt.Sprintf("%v has %d samples besides what came out again in it", ref, more))
		}
	}
	return twice(p, found)
}

// twice adds the groups that came out again more than once: the difference of
// two such is somebody else.
func twice(p Public, found []string) []string {
	seen := make(map[Ref]bool)
	for _, e := range p.Editions {
		for _, j := range e.Joins {
			if seen[j.Of] {
				found = append(found, fmt.Sprintf("%v came out again twice", j.Of))
			}
			seen[j.Of] = true
		}
	}
	return found
}

// fencedIn lists the groups of which several level tables together tell too
// finely how dense a result is.
func fencedIn(p Public) (found []string) {
	all := p
	all.Withdrawn = nil
	refs, groups := all.sorted()
	for _, ref := range refs {
		// What came out again in it is counted once more with k senders' new results
		// about it; only a second table of them all can be laid beside the first.
		schemes := map[int]bool{}
		for _, t := range groups[ref].tables {
			schemes[t.scheme] = true
		}
		if len(schemes) < 2 {
			continue
		}
		cuts := map[float64]bool{}
		cutsOf(groups, ref, cuts)
		line := slices.Sorted(maps.Keys(cuts))
		if len(line) > 8 {
			found = append(found, fmt.Sprintf("%v was counted at %d cut points", ref, len(line)))
		}
		for i := 1; i < len(line); i++ {
			if line[i] <= 2*line[i-1] {
				found = append(found, fmt.Sprintf("%v was counted at %v and at %v", ref, line[i-1], line[i]))
			}
		}
	}
	return found
}

// cutsOf gathers the cut points of all tables of a group and of those in it.
func cutsOf(groups map[Ref]*group, ref Ref, cuts map[float64]bool) {
	g := groups[ref]
	if g == nil {
		return
	}
	for _, t := range g.tables {
		for _, c := range t.cuts {
			cuts[c] = true
		}
	}
	for _, h := range g.holds {
		cutsOf(groups, h, cuts)
	}
}

// otherResults lays two level tables of one group side by side. Both count the
// same results, so the number at or under a cut can only grow with the cut, and
// where both have the cut, or the same limit of trace, it is the same. If not,
// a result that was corrected shows.
func otherResults(p Public) (found []string) {
	all := p
	all.Withdrawn = nil
	refs, groups := all.sorted()
	for _, ref := range refs {
		g := groups[ref]
		last := g.tables[0]
		for _, t := range g.tables[1:] {
			if t.kind == "restated" && !sameResults(last, t) {
				found = append(found, fmt.Sprintf("edition %d counts %v into other levels, and not the same results as edition %d",
					t.edition, ref, last.edition))
			}
			if t.kind != "restated" {
				last = t
			}
		}
	}
	return found
}

// sameResults says whether one set of results could have given both tables.
func sameResults(a, b table) bool {
	if a.samples != b.samples || a.counts[0] != b.counts[0] {
		return false
	}
	if len(a.cuts) == 0 || len(b.cuts) == 0 || a.coarse || b.coarse {
		return true
	}
	if a.cuts[0] == b.cuts[0] && a.counts[1] != b.counts[1] {
		return false
	}
	type step struct {
		cut float64
		n   int
	}
	var steps []step
	for _, t := range []table{a, b} {
		n := t.counts[0] + t.counts[1]
		for i, rank := 1, 2; i < len(t.cuts) && rank < len(t.counts); i, rank = i+1, rank+1 {
			n += t.counts[rank]
			steps = append(steps, step{t.cuts[i], n})
		}
	}
	slices.SortStableFunc(steps, func(x, y step) int { return cmp.Compare(x.cut, y.cut) })
	for i := 1; i < len(steps); i++ {
		if steps[i].n < steps[i-1].n || steps[i].cut == steps[i-1].cut && steps[i].n != steps[i-1].n {
			return false
		}
	}
	return true
}

// twoOfOne compares an edition with the copies that readers kept of it.
func twoOfOne(p Public) (found []string) {
	for _, c := range p.Copies {
		for _, e := range p.Editions {
			if e.Number == c.Number && e.Text != c.Text {
				found = append(found, fmt.Sprintf("edition %d was released twice, with other figures", e.Number))
			}
		}
	}
	return found
}

// fallOfRecalled: with a group of the fall taken back and not out again, the
// fall figure less the rest of the map is about that group.
func fallOfRecalled(p Public) (found []string) {
	_, groups := p.sorted()
	for _, e := range p.Editions {
		for _, f := range e.Falls {
			for ref, g := range groups {
				if g.County == f.County && g.ThisFall && g.Through == f.Season && ref.Edition <= e.Number &&
					p.recalledBefore(ref, e.Number) && g.drawn(e.Number, e.Scheme) == nil &&
					(g.into.Edition == 0 || g.into.Edition > e.Number) && g.recall < e.Number {
					found = append(found, fmt.Sprintf("edition %d county %d tells of the fall of which %v is recalled", e.Number, f.County, ref))
				}
			}
		}
	}
	return found
}

// recalledBefore says that a tranche was recalled before the edition came out.
func (p Public) recalledBefore(ref Ref, edition int) bool {
	return slices.ContainsFunc(p.Recalls, func(r Recall) bool { return r.Of == ref && r.UpTo < edition })
}
