package edge

import (
	"fmt"
	"slices"

	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// Place is a township as the surface sees it.
type Place struct {
	ID        place.ID
	X, Y      float64    // its middle, in meters east and north
	Acres     float64    // its area
	Neighbors []place.ID // places that share a boundary with it
}

// Look is the bags of one tranche.
type Look struct {
	Places []int // indexes into Survey.Places, one or the members of joined townships
	// From and Through are the falls its bags may be of.
	From, Through            int
	None, Unconfirmed, Finds int
	Senders                  int // this many or more
}

// Judged is how many bags are sure either way.
func (l Look) Judged() int { return l.None + l.Finds }

// middle is the fall that the look is taken to be of.
func (l Look) middle() float64 { return float64(l.From+l.Through) / 2 }

// Survey is everything that is known of looking, up to a fall.
type Survey struct {
	Season int
	Places []Place
	Looks  []Look
}

// NewSurvey sorts tranches into looks at places, oldest first. Remainder
// tranches and those of no place that is listed are left out: they say too
// little of where they are from. It errs where the tranches are of another level
// table (edition.ErrMixed).
//
// A tranche that was gathered over the years is of the falls after the last one
// of the same places, reach falls back at most: what waits longer goes out with
// its district. None is taken to reach back behind the first edition's fall.
func NewSurvey(season int, places []Place, ranks edition.Ranks, tranches []edition.Tranche, reach int) (Survey, error) {
	s := Survey{Season: season, Places: places}
	at := make(map[place.ID]int, len(places))
	for i, p := range places {
		at[p.ID] = i
	}
	ordered := slices.Clone(tranches)
	slices.SortStableFunc(ordered, func(a, b edition.Tranche) int { return a.Window.Through - b.Window.Through })
	last := map[string]int{}
	for _, t := range ordered {
		if t.Kind == edition.KindRemainder {
			continue
		}
		var members []int
		for _, id := range t.Places {
			if i, known := at[id]; known {
				members = append(members, i)
			}
		}
		if len(members) == 0 {
			continue
		}
		slices.Sort(members)
		f, err := edition.Sum(ranks, t)
		if err != nil {
			return Survey{}, fmt.Errorf("edge.NewSurvey: %w", err)
		}
		l := Look{Places: members, From: t.Window.Through, Through: t.Window.Through,
			None: f.None, Unconfirmed: f.Unconfirmed, Finds: f.Finds, Senders: t.Senders}
		key := fmt.Sprint(members)
		if !t.Window.ThisFall {
			l.From = max(l.From-reach, ordered[0].Window.Through)
			if before, seen := last[key]; seen {
				l.From = min(l.Through, max(l.From, before+1))
			}
		}
		last[key] = l.Through
		s.Looks = append(s.Looks, l)
	}
	return s, nil
}

// own are the looks at one place alone, oldest first.
func (s Survey) own() [][]Look {
	out := make([][]Look, len(s.Places))
	for _, l := range s.Looks {
		if len(l.Places) == 1 {
			out[l.Places[0]] = append(out[l.Places[0]], l)
		}
	}
	return out
}

// neighbors are the places' neighbors as indexes, each pair both ways.
func (s Survey) neighbors() [][]int {
	at := make(map[place.ID]int, len(s.Places))
	for i, p := range s.Places {
		at[p.ID] = i
	}
	out := make([][]int, len(s.Places))
	add := func(i, k int) {
		if !slices.Contains(out[i], k) {
			out[i] = append(out[i], k)
		}
	}
	for i, p := range s.Places {
		for _, id := range p.Neighbors {
			if k, known := at[id]; known && k != i {
				add(i, k)
				add(k, i)
			}
		}
	}
	for _, n := range out {
		slices.Sort(n)
	}
	return out
}
