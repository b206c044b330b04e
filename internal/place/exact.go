package place

import (
	"math/bits"
	"slices"
)

// exactCutter finds the best cut of at most 64 townships by trying every one.
// It deals with one connected set of townships at a time, and in it with the
// district of its first township: whatever that district leaves falls into
// connected sets, which are met again and again and solved once.
type exactCutter struct {
	points []point
	near   []uint64 // for each township the set of its neighbors
	sizes  []int    // allowed sizes of districts
	least  []int    // least unevenness by number of townships, -1 where no cut exists
	budget int      // districts still to be tried before giving up
	solved map[uint64]solution
}

// solution is the best cut of a connected set: its cost and the district of
// its first township, or the news that there is none.
type solution struct {
	cost  cost
	first uint64
	found bool
}

// exactLimit is the most townships that are cut by trying districts of every
// size, a lone township included.
const exactLimit = 12

// exactBudget bounds the districts tried on one county. It is a count, not a
// clock, so that every machine cuts alike.
const exactBudget = 100_000

// cutExact returns the best cut of a connected graph as sets of townships.
// It first allows only districts of the wanted sizes: if such a cut exists, no
// other can be better, since odd sizes weigh most. ok is false if the graph is
// too large to be sure.
func cutExact(points []point, near []uint64, budget int) (sets []uint64, total cost, ok bool) {
	n := len(points)
	if n > 64 {
		return nil, cost{}, false
	}
	all := ^uint64(0) >> (64 - n)
	c := newExactCutter(points, near, districtMin, districtMax, budget)
	s := c.solve(all)
	if c.budget < 0 {
		return nil, cost{}, false
	}
	if !s.found {
		if n > exactLimit {
			return nil, cost{}, false
		}
		c = newExactCutter(points, near, 1, n, 1<<30)
		s = c.solve(all)
	}
	return c.sets(all, nil), s.cost, s.found
}

func newExactCutter(points []point, near []uint64, lo, hi, budget int) *exactCutter {
	c := &exactCutter{points: points, near: near, budget: budget, solved: map[uint64]solution{}}
	for size := lo; size <= min(hi, len(points)); size++ {
		c.sizes = append(c.sizes, size)
	}
	c.least = leastUneven(len(points), c.sizes)
	return c
}

// sets reads the districts off the solutions found.
func (c *exactCutter) sets(rest uint64, to []uint64) []uint64 {
	for rest != 0 {
		part := c.reach(rest&-rest, rest)
		first := c.solved[part].first
		to = c.sets(part&^first, append(to, first))
		rest &^= part
	}
	return to
}

// solve finds the best cut of a connected set. Without a cut in sizes 4 to 8
// there is no solution when those are the sizes allowed.
func (c *exactCutter) solve(part uint64) solution {
	if s, ok := c.solved[part]; ok {
		return s
	}
	var best solution
	n := bits.OnesCount64(part)
	for _, size := range c.sizesFor(n) {
		restricted := c.sizes[0] > 1 // then no district is odd, and unevenness decides first
		if restricted && best.found && uneven(size)+c.least[n-size] > best.cost.uneven {
			break
		}
		for _, t := range c.districts(part, size) {
			left := part &^ t.set
			bound := c.bound(left)
			if bound < 0 || restricted && best.found && t.cost.uneven+bound > best.cost.uneven {
				continue
			}
			total, ok := c.solveAll(left)
			if c.budget < 0 {
				return solution{}
			}
			if total = total.plus(t.cost); ok && (!best.found || total.less(best.cost)) {
				best = solution{cost: total, first: t.set, found: true}
			}
		}
	}
	c.solved[part] = best
	return best
}

// solveAll adds up the solutions of the connected parts of a set.
func (c *exactCutter) solveAll(rest uint64) (total cost, ok bool) {
	for rest != 0 {
		part := c.reach(rest&-rest, rest)
		s := c.solve(part)
		if !s.found || c.budget < 0 {
			return cost{}, false
		}
		total = total.plus(s.cost)
		rest &^= part
	}
	return total, true
}

// bound is the least unevenness any cut of a set can have, judged by the size
// of its connected parts; -1 if some part cannot be cut at all.
func (c *exactCutter) bound(rest uint64) int {
	sum := 0
	for rest != 0 {
		part := c.reach(rest&-rest, rest)
		least := c.least[bits.OnesCount64(part)]
		if least < 0 {
			return -1
		}
		sum += least
		rest &^= part
	}
	return sum
}

// sizesFor lists the sizes the first district of n townships may have, the
// ones that can lead to the most even cut first.
func (c *exactCutter) sizesFor(n int) []int {
	var sizes []int
	for _, size := range c.sizes {
		if size <= n && c.least[n-size] >= 0 {
			sizes = append(sizes, size)
		}
	}
	slices.SortStableFunc(sizes, func(a, b int) int {
		return uneven(a) + c.least[n-a] - uneven(b) - c.least[n-b]
	})
	return sizes
}

// reach is what can be walked to from start without leaving within.
func (c *exactCutter) reach(start, within uint64) uint64 {
	seen := start
	for edge := start; edge != 0; {
		v := bits.TrailingZeros64(edge)
		edge &= edge - 1
		fresh := c.near[v] & within &^ seen
		seen |= fresh
		edge |= fresh
	}
	return seen
}

// candidate is a district that could be part of a cut.
type candidate struct {
	set  uint64
	cost cost
}

// districts lists every connected district of one size that holds the first
// township of a set.
func (c *exactCutter) districts(part uint64, size int) []candidate {
	var out []candidate
	v := bits.TrailingZeros64(part)
	start := uint64(1) << v
	c.grow(start, c.near[v]&part&^start, start, part, size, group{}.with(c.points[v], 0), &out)
	c.budget -= len(out)
	return out
}

// grow lists every connected set of one size that contains set and, beyond it,
// only townships of part that are not barred, each once.
func (c *exactCutter) grow(set, edge, barred, part uint64, size int, g group, out *[]candidate) {
	if g.n == size {
		*out = append(*out, candidate{set, g.cost()})
		return
	}
	for edge != 0 {
		v := bits.TrailingZeros64(edge)
		bit := uint64(1) << v
		edge &^= bit
		barred |= bit
		next := (edge | c.near[v]&part) &^ barred
		c.grow(set|bit, next, barred, part, size, g.with(c.points[v], bits.OnesCount64(c.near[v]&set)), out)
	}
}
