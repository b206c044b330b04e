package outlook

import (
	"sixmile/internal/edge"
	"sixmile/internal/place"
	"sixmile/internal/plan"
)

// Back is what a saved plan expected against what was released since.
type Back struct {
	// Places are the townships without finds that bags were released from since,
	// in the plan's order.
	Places []Seen
	// Blind is how many townships without finds had no new figures: of them
	// nothing can be said either way.
	Blind int
	// Planned is how many first finds the plan expected, had every bag gone where
	// it was suggested and come back at the rate it was made for.
	Planned float64
	Count   plan.Count // over Places, with the bags that did come
	Score   plan.Score
}

// Seen is a township that was looked at since.
type Seen struct {
	Place, County   place.ID
	Suggested, Bags int     // suggested; come back and sure either way
	Chance          float64 // that one of Bags would be its first find
	Found           bool
}

// Look compares a plan with the looks that were released after it was made. Those
// of one township alone count that may hold bags of the plan's season or later.
// ok is false where there is nothing to look back on yet.
func Look(p plan.Saved, since edge.Survey, bins int) (b Back, ok bool) {
	bags, finds := map[place.ID]int{}, map[place.ID]int{}
	for _, l := range since.Looks {
		if len(l.Places) != 1 || l.Through < p.Season {
			continue
		}
		id := since.Places[l.Places[0]].ID
		bags[id] += l.Judged()
		finds[id] += l.Finds
	}
	var calls []plan.Call
	for i, g := range p.Given {
		if g.Found {
			continue
		}
		b.Planned += expected(g, p.Places[i].Bags, p.Ask.Return)
		n := bags[g.ID]
		if n == 0 {
			b.Blind++
			continue
		}
		s := Seen{Place: g.ID, County: g.County, Suggested: p.Places[i].Bags, Bags: n, Chance: g.FirstFind(n), Found: finds[g.ID] > 0}
		b.Places = append(b.Places, s)
		calls = append(calls, plan.Call{Chance: s.Chance, Came: s.Found})
	}
	if len(calls) == 0 {
		return b, false
	}
	b.Count = plan.Tally(calls)
	score, err := plan.Look(calls, bins)
	if err != nil {
		return b, false
	}
	b.Score = score
	return b, true
}

// expected is the chance of a first find of so many bags of which a share comes
// back: between whole bags on a straight line.
func expected(g plan.Place, bags int, back float64) float64 {
	n := float64(bags) * back
	low := int(n)
	a, b := g.FirstFind(low), g.FirstFind(low+1)
	return a + (b-a)*(n-float64(low))
}
