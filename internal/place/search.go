package place

import (
	"cmp"
	"slices"
)

// recutBudget bounds each recut of two or three districts in search.
const recutBudget = 50_000

// search finds a good cut of a connected part too large to be cut exactly.
func (g *graph) search(part []int) [][]int {
	var best [][]int
	var bestCost cost
	for _, order := range g.sweeps(part) {
		districts := g.carve(order)
		g.improve(&districts)
		slices.SortFunc(districts, slices.Compare)
		c := g.costOf(districts)
		if best == nil || c.less(bestCost) {
			best, bestCost = districts, c
		}
	}
	return best
}

// sweeps lists the part's townships from north, south, west and east.
func (g *graph) sweeps(part []int) [][]int {
	westward := slices.Clone(part)
	slices.SortFunc(westward, func(v, w int) int {
		return cmp.Or(cmp.Compare(g.points[v].x, g.points[w].x), cmp.Compare(v, w))
	})
	orders := [][]int{part, nil, westward, nil}
	for i := 0; i < len(orders); i += 2 {
		orders[i+1] = slices.Clone(orders[i])
		slices.Reverse(orders[i+1])
	}
	return orders
}

// carve takes districts of six off the part in the order of a sweep, each time
// the neighbor with the most borders to the district, and gives what is left
// in pieces under districtMin to the smallest district next to it.
func (g *graph) carve(order []int) [][]int {
	label := map[int]int{}
	var districts [][]int
	for _, v := range order {
		if _, taken := label[v]; taken {
			continue
		}
		district := []int{v}
		label[v] = len(districts)
		for len(district) < districtSize {
			w := g.bestNeighbor(order, label, len(districts))
			if w < 0 {
				break
			}
			label[w] = len(districts)
			district = append(district, w)
		}
		slices.Sort(district)
		districts = append(districts, district)
	}
	return g.mergeSmall(districts)
}

// bestNeighbor is the unlabeled township with the most borders to a district,
// the first such in the order; -1 if the district has no unlabeled neighbor.
func (g *graph) bestNeighbor(order []int, label map[int]int, district int) int {
	best, most := -1, 0
	for _, v := range order {
		if _, taken := label[v]; taken {
			continue
		}
		borders := 0
		for _, w := range g.near[v] {
			if d, ok := label[w]; ok && d == district {
				borders++
			}
		}
		if borders > most {
			best, most = v, borders
		}
	}
	return best
}

// mergeSmall gives each district under districtMin to the smallest next to it.
func (g *graph) mergeSmall(districts [][]int) [][]int {
	for {
		slices.SortFunc(districts, func(a, b []int) int {
			return cmp.Or(cmp.Compare(len(a), len(b)), slices.Compare(a, b))
		})
		if len(districts) < 2 || len(districts[0]) >= districtMin {
			return districts
		}
		for i, d := range districts[1:] {
			if g.touch(districts[0], d) {
				merged := append(slices.Clone(districts[0]), d...)
				slices.Sort(merged)
				districts[i+1] = merged
				districts = districts[1:]
				break
			}
		}
	}
}

func (g *graph) touch(a, b []int) bool {
	for _, v := range a {
		for _, w := range g.near[v] {
			if slices.Contains(b, w) {
				return true
			}
		}
	}
	return false
}

// improve recuts two touching districts, or three that hang together, as well
// as they can be, until no such recut lowers the cost. The cost falls with
// every step, so it ends.
func (g *graph) improve(districts *[][]int) {
	for improved := true; improved; {
		slices.SortFunc(*districts, slices.Compare)
		improved = g.improveOnce(districts)
	}
}

// improveOnce makes the first recut that helps.
func (g *graph) improveOnce(districts *[][]int) bool {
	list := *districts
	for i := range list {
		for j := i + 1; j < len(list); j++ {
			if g.touch(list[i], list[j]) && g.recut(districts, i, j) {
				return true
			}
		}
	}
	for i := range list {
		for j := i + 1; j < len(list); j++ {
			for k := j + 1; k < len(list); k++ {
				ij, jk, ik := g.touch(list[i], list[j]), g.touch(list[j], list[k]), g.touch(list[i], list[k])
				if (ij && jk || jk && ik || ij && ik) && g.recut(districts, i, j, k) {
					return true
				}
			}
		}
	}
	return false
}

// recut replaces the districts at the given places by the best cut of their
// union, if that is better and can be found.
func (g *graph) recut(districts *[][]int, at ...int) bool {
	var old [][]int
	var union []int
	for _, i := range at {
		old = append(old, (*districts)[i])
		union = append(union, (*districts)[i]...)
	}
	slices.Sort(union)
	fresh, c, ok := g.exact(union, recutBudget)
	if !ok || !c.less(g.costOf(old)) {
		return false
	}
	var rest [][]int
	for i, d := range *districts {
		if !slices.Contains(at, i) {
			rest = append(rest, d)
		}
	}
	*districts = append(rest, fresh...)
	return true
}

// costOf adds up the cost of districts.
func (g *graph) costOf(districts [][]int) cost {
	var total cost
	for _, d := range districts {
		var sum group
		for i, v := range d {
			borders := 0
			for _, w := range g.near[v] {
				if slices.Contains(d[:i], w) {
					borders++
				}
			}
			sum = sum.with(g.points[v], borders)
		}
		total = total.plus(sum.cost())
	}
	return total
}
