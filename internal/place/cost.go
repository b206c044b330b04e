package place

// The sizes a district should have.
const (
	districtSize = 6
	districtMin  = 4
	districtMax  = 8
)

// cost is how bad a cut is. Costs of districts add up to the cost of the cut,
// which is what lets a cut be found piece by piece.
type cost struct {
	odd     int   // districts of fewer than districtMin or more than districtMax townships
	uneven  int   // sum of (size - districtSize)²
	borders int   // borders between two townships of one district: more is better
	spread  int64 // sum of squared distances from townships to their district's center, in 100 m squared
}

func (c cost) plus(d cost) cost {
	return cost{c.odd + d.odd, c.uneven + d.uneven, c.borders + d.borders, c.spread + d.spread}
}

// less orders costs: each part decides only where the parts before it are
// equal.
func (c cost) less(d cost) bool {
	switch {
	case c.odd != d.odd:
		return c.odd < d.odd
	case c.uneven != d.uneven:
		return c.uneven < d.uneven
	case c.borders != d.borders:
		return c.borders > d.borders
	default:
		return c.spread < d.spread
	}
}

// group gathers what the cost of one district needs while townships join it.
type group struct {
	n, borders int
	x, y, sq   int64
}

func (g group) with(p point, borders int) group {
	return group{g.n + 1, g.borders + borders, g.x + p.x, g.y + p.y, g.sq + p.x*p.x + p.y*p.y}
}

func (g group) cost() cost {
	c := cost{uneven: uneven(g.n), borders: g.borders}
	if g.n < districtMin || g.n > districtMax {
		c.odd = 1
	}
	if n := int64(g.n); n > 0 {
		c.spread = g.sq - (g.x*g.x+g.y*g.y)/n
	}
	return c
}

// uneven is how far a district of some size is from the wanted one.
func uneven(size int) int { return (size - districtSize) * (size - districtSize) }

// leastUneven gives, for every number of townships up to n, the least sum of
// unevenness that any cut into districts of the given sizes can have; -1 where
// there is none.
func leastUneven(n int, sizes []int) []int {
	least := make([]int, n+1)
	for m := 1; m <= n; m++ {
		least[m] = -1
		for _, size := range sizes {
			if size > m || least[m-size] < 0 {
				continue
			}
			if sum := least[m-size] + uneven(size); least[m] < 0 || sum < least[m] {
				least[m] = sum
			}
		}
	}
	return least
}
