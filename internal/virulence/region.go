package virulence

import (
	"cmp"
	"slices"
)

// Sent is a finished test as far as a region is told of it.
type Sent struct {
	County int
	Sender [16]byte // zero: not known
	Sure   bool     // surely a farm of its own, by the form's one tap
	Type   Type
}

// Region is one county, or several put together, of which the types of its tests
// may be told.
type Region struct {
	Counties []int // ascending
	Tests    int
	Types    []TypeCount // the most frequent first
}

// TypeCount is how many tests of a region came out as a type.
type TypeCount struct {
	Type string
	N    int
}

// Regions parts the tests of one closed fall into regions by the rules of
// releases: every region holds tests of at least k senders that are surely
// different farms, and all but its two largest senders have at least dominance per
// cent of what the largest has (the p-percent rule). Fewer than three senders or
// less than 20 per cent is never enough, whatever is asked for. A county that meets both stands
// alone. The others are put together; where they do not meet them, the county
// alone with the fewest tests joins them, and so on. Nil where not even all
// together meet them: then nothing may be told.
//
// What was found decides nothing: types are looked at only after the parting.
// Regions are disjoint and hold every test, so that nothing comes of taking one
// from another.
func Regions(tests []Sent, k, dominance int) []Region {
	byCounty := map[int][]Sent{}
	for _, t := range tests {
		byCounty[t.County] = append(byCounty[t.County], t)
	}
	var alone, together [][]Sent
	for _, group := range byCounty {
		if enough(group, k, dominance) {
			alone = append(alone, group)
		} else {
			together = append(together, group)
		}
	}
	slices.SortFunc(alone, func(a, b []Sent) int {
		return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a[0].County, b[0].County))
	})
	for len(together) > 0 && !enough(slices.Concat(together...), k, dominance) {
		if len(alone) == 0 {
			return nil
		}
		together, alone = append(together, alone[0]), alone[1:]
	}
	if len(together) > 0 {
		alone = append(alone, slices.Concat(together...))
	}
	var out []Region
	for _, group := range alone {
		out = append(out, regionOf(group))
	}
	slices.SortFunc(out, func(a, b Region) int { return slices.Compare(a.Counties, b.Counties) })
	return out
}

// enough reports whether a group meets the rules. Tests whose sender is not known
// count as one sender's, and that one is never surely of its own.
func enough(group []Sent, k, dominance int) bool {
	tests, sure := map[[16]byte]int{}, map[[16]byte]bool{}
	for _, t := range group {
		tests[t.Sender]++
		if t.Sure && t.Sender != ([16]byte{}) {
			sure[t.Sender] = true
		}
	}
	sizes := make([]int, 0, len(tests))
	for _, n := range tests {
		sizes = append(sizes, n)
	}
	slices.SortFunc(sizes, func(a, b int) int { return b - a })
	rest := 0
	for i, n := range sizes {
		if i >= 2 {
			rest += n
		}
	}
	return len(sure) >= max(k, 3) && 100*rest >= max(dominance, 20)*sizes[0]
}

func regionOf(group []Sent) Region {
	r := Region{Tests: len(group)}
	types := map[string]int{}
	for _, t := range group {
		if !slices.Contains(r.Counties, t.County) {
			r.Counties = append(r.Counties, t.County)
		}
		types[t.Type.String()]++
	}
	slices.Sort(r.Counties)
	for name, n := range types {
		r.Types = append(r.Types, TypeCount{name, n})
	}
	slices.SortFunc(r.Types, func(a, b TypeCount) int { return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Type, b.Type)) })
	return r
}
