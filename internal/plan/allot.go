package plan

import (
	"cmp"
	"container/heap"
	"fmt"
	"slices"

	"sixmile/internal/place"
)

// New makes the plan. Equal worth goes to the county with the lower number, so
// the same figures give the same plan. The error is a *fault.Invalid, or that
// there is no place.
func New(places []Place, a Ask) (Plan, error) {
	if len(places) == 0 {
		return Plan{}, fmt.Errorf("plan: no places")
	}
	if err := a.Check(countCounties(places)); err != nil {
		return Plan{}, err
	}
	p := Plan{Ask: a}
	for _, aim := range Aims() {
		var alone Gains
		alone[aim] = 1
		p.Best[aim] = total(allot(places, a, alone))[aim]
	}
	w := p.scale()
	given := allot(places, a, w)
	p.Total = total(given)
	p.Value = p.Total.weigh(w)
	p.Lots = lots(given)
	bags := make(map[place.ID]int, len(given))
	for _, s := range given {
		bags[s.id] = s.n
	}
	p.Places = suggest(places, a, w, bags)
	return p, nil
}

// scale is what one of each gain counts: its weight's share over the best that
// can be had of it.
func (p Plan) scale() (w Gains) {
	sum := 0.0
	for _, v := range p.Ask.Weights {
		sum += v
	}
	for _, aim := range Aims() {
		if p.Best[aim] > tiny && sum > 0 {
			w[aim] = p.Ask.Weights[aim] / sum / p.Best[aim]
		}
	}
	return w
}

// Weighed is what gains count by the plan's weights, where all its bags together
// count Value.
func (p Plan) Weighed(g Gains) float64 { return g.weigh(p.scale()) }

func countCounties(places []Place) int {
	seen := map[place.ID]bool{}
	for _, p := range places {
		seen[p.County] = true
	}
	return len(seen)
}

// allot gives each county its least and then every bag to where it is worth most.
func allot(places []Place, a Ask, w Gains) []*shire {
	all := shires(places, a)
	q := make(race, len(all))
	for i, s := range all {
		s.weigh(w)
		for range a.Least {
			s.take()
		}
		q[i] = runner{s, s.next().weigh(w)}
	}
	heap.Init(&q)
	for range a.Bags - a.Least*len(all) {
		q[0].take()
		q[0].worth = q[0].next().weigh(w)
		heap.Fix(&q, 0)
	}
	return all
}

// runner is a county with what its next bag is worth.
type runner struct {
	*shire
	worth float64
}

// race is the counties with the one on top that gets the next bag.
type race []runner

func (r race) Len() int { return len(r) }
func (r race) Less(i, j int) bool {
	if r[i].worth != r[j].worth {
		return r[i].worth > r[j].worth
	}
	return r[i].id < r[j].id
}
func (r race) Swap(i, j int) { r[i], r[j] = r[j], r[i] }
func (r *race) Push(x any)   { *r = append(*r, x.(runner)) }
func (r *race) Pop() any {
	last := (*r)[len(*r)-1]
	*r = (*r)[:len(*r)-1]
	return last
}

func total(all []*shire) (g Gains) {
	for _, s := range all {
		g.add(s.sum)
	}
	return g
}

func lots(all []*shire) []Lot {
	out := make([]Lot, len(all))
	for i, s := range all {
		out[i] = Lot{County: s.id, Acres: s.acres, Bags: s.n, Gains: s.sum, Last: s.last, Next: s.next()}
		out[i].Gains[Fair] = 0
	}
	return out
}

// suggest spreads each county's bags over its townships to where they are worth
// most, whatever way growers come.
func suggest(places []Place, a Ask, w Gains, bags map[place.ID]int) []Suggestion {
	out := make([]Suggestion, len(places))
	for i, p := range places {
		out[i].Place = p.ID
	}
	a.Reach = AsSuggested
	for _, s := range shires(places, a) {
		s.weigh(w)
		for range bags[s.id] {
			at := s.towns[s.queue[0]].at
			out[at].Gains.add(s.towns[s.queue[0]].next())
			out[at].Bags++
			s.take()
		}
	}
	return out
}

// Worth is what some other allotment would be worth by the plan's own reckoning,
// and its value on the scale of Plan.Value. Counties it does not name get nothing.
func (p Plan) Worth(places []Place, bags map[place.ID]int) (g Gains, value float64) {
	for _, s := range shires(places, p.Ask) {
		s.weigh(p.scale())
		for range bags[s.id] {
			s.take()
		}
		g.add(s.sum)
	}
	return g, g.weigh(p.scale())
}

// ByAcres shares bags among counties in proportion to their host acres, with a
// least number each, by Webster's method of major fractions: bag after bag to the
// county with the most acres for each bag and a half-bag it has. Of equals the
// county with the lower number comes first.
func ByAcres(places []Place, bags, least int) map[place.ID]int {
	all := shires(places, Ask{Bags: max(bags, 1), Return: 1})
	out := make(map[place.ID]int, len(all))
	for _, s := range all {
		out[s.id] = least
	}
	for range bags - least*len(all) {
		best := slices.MaxFunc(all, func(x, y *shire) int {
			// acres/(n+1/2) compared without dividing; the first wins a draw
			a, b := x.acres*(2*out[y.id]+1), y.acres*(2*out[x.id]+1)
			return cmp.Or(cmp.Compare(a, b), cmp.Compare(out[y.id], out[x.id]), cmp.Compare(y.id, x.id))
		})
		out[best.id]++
	}
	return out
}

// Within spreads some other allotment's bags over each county's townships by the
// plan's own reckoning of what they are worth.
func (p Plan) Within(places []Place, bags map[place.ID]int) []Suggestion {
	return suggest(places, p.Ask, p.scale(), bags)
}
