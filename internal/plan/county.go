package plan

import (
	"container/heap"
	"slices"

	"sixmile/internal/place"
)

// shire is a county while bags are being given to it. The value of its next bag
// never rises: see the package comment.
type shire struct {
	id    place.ID
	acres int
	towns []town
	fair  float64 // bags that acres would put here
	each  float64 // what one of them counts: one over all bags
	n     int
	reach Reach
	w     Gains
	queue []int // AsSuggested: a heap of towns, the most worth on top
	worth []float64
	sum   Gains // of the bags so far
	last  Gains
}

// shires groups places by county, in the order of the counties' numbers.
func shires(places []Place, a Ask) []*shire {
	byCounty := map[place.ID]*shire{}
	var out []*shire
	total := 0
	for _, p := range places {
		s := byCounty[p.County]
		if s == nil {
			s = &shire{id: p.County, reach: a.Reach}
			byCounty[p.County] = s
			out = append(out, s)
		}
		s.acres += p.Acres
		total += p.Acres
	}
	members := map[place.ID]int{}
	for _, p := range places {
		members[p.County]++
	}
	for i, p := range places {
		s := byCounty[p.County]
		rate := a.Return
		if a.Reach == AsTheyCome {
			rate *= part(p.Acres, s.acres, members[p.County])
		}
		s.towns = append(s.towns, newTown(i, p, rate))
	}
	for _, s := range out {
		s.fair = part(s.acres, total, len(out)) * float64(a.Bags)
		s.each = 1 / float64(a.Bags)
	}
	slices.SortFunc(out, func(x, y *shire) int { return int(x.id) - int(y.id) })
	return out
}

// part is a share by acres; where nobody has any, all get the same.
func part(acres, of, among int) float64 {
	if of <= 0 {
		return 1 / float64(among)
	}
	return float64(acres) / float64(of)
}

// weigh says what counts from now on.
func (s *shire) weigh(w Gains) {
	s.w = w
	if s.reach != AsSuggested {
		return
	}
	s.worth, s.queue = make([]float64, len(s.towns)), s.queue[:0]
	for i := range s.towns {
		s.worth[i] = s.towns[i].next().weigh(w)
		s.queue = append(s.queue, i)
	}
	heap.Init((*queue)(s))
}

// next is what one more bag is worth to the county, aim by aim.
func (s *shire) next() (g Gains) {
	if s.reach == AsSuggested {
		g = s.towns[s.queue[0]].next()
	} else {
		for i := range s.towns {
			g.add(s.towns[i].next())
		}
	}
	g[Fair] = min(max(s.fair-float64(s.n), 0), 1) * s.each
	return g
}

func (s *shire) take() {
	s.last = s.next()
	s.sum.add(s.last)
	s.n++
	if s.reach == AsSuggested {
		i := s.queue[0]
		s.towns[i].take()
		s.worth[i] = s.towns[i].next().weigh(s.w)
		heap.Fix((*queue)(s), 0)
		return
	}
	for i := range s.towns {
		s.towns[i].take()
	}
}

// queue is a county's towns with the one on top whose next bag is worth most;
// of equals the first.
type queue shire

func (q *queue) Len() int { return len(q.queue) }
func (q *queue) Less(i, j int) bool {
	a, b := q.queue[i], q.queue[j]
	if q.worth[a] != q.worth[b] {
		return q.worth[a] > q.worth[b]
	}
	return a < b
}
func (q *queue) Swap(i, j int) { q.queue[i], q.queue[j] = q.queue[j], q.queue[i] }
func (q *queue) Push(x any)    { q.queue = append(q.queue, x.(int)) }
func (q *queue) Pop() any {
	last := q.queue[len(q.queue)-1]
	q.queue = q.queue[:len(q.queue)-1]
	return last
}
