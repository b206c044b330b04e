// Package outlook works out what a plan of the next season's bags is given of
// each township, from released figures alone: the chance of finds of the next
// bag, what the clean bags so far are worth, how high the level is, how much
// there is to look at. Package plan takes nothing else. It also looks back: what
// a saved plan expected against what was released since.
package outlook

import (
	"fmt"
	"math"

	"sixmile/internal/edge"
	"sixmile/internal/place"
	"sixmile/internal/plan"
)

// Ground is what is known of a township beside the looks at it.
type Ground struct {
	County place.ID
	Acres  int     // in host crops
	Level  float64 // how high its highest level is, 0 to 1; 0 without finds
}

// unsure is how many bags' worth of knowledge a chance rests on where no surface
// could be fitted, and usual the chance where nothing at all was looked at. Our
// own choice.
const (
	unsure = 2
	usual  = 0.1
)

// Given are the plan's places, in the order of the survey's. The surface may be
// nil: where too little was looked at to fit one, every place without finds has
// the chance that all looks together have.
func Given(s edge.Survey, surface *edge.Surface, ground []Ground, o edge.Options) ([]plan.Place, error) {
	if len(ground) != len(s.Places) {
		return nil, fmt.Errorf("outlook.Given: ground of %d places for %d", len(ground), len(s.Places))
	}
	next := s
	next.Season++ // clean bags are a fall older when the next come
	stands, err := edge.Stands(next, o)
	if err != nil {
		return nil, fmt.Errorf("outlook.Given: %w", err)
	}
	more, err := edge.Stands(oneMore(next, stands), o)
	if err != nil {
		return nil, fmt.Errorf("outlook.Given: %w", err)
	}
	alike := likeness(s, surface)
	out := make([]plan.Place, len(s.Places))
	for i, p := range s.Places {
		g := plan.Place{ID: p.ID, County: ground[i].County, Acres: ground[i].Acres}
		if g.Found = stands[i].Standing == edge.Found; g.Found {
			g.Level = ground[i].Level
		} else {
			g.Miss, g.Clean = stands[i].Worth.Exact, 1
			if g.Miss > 0 {
				g.Clean = math.Min(1, more[i].Worth.Exact/g.Miss)
			}
		}
		if surface != nil {
			g.Find, g.Weight = beta(surface.Chance(i, next.Season), alike)
		} else {
			g.Find, g.Weight = overall(s), unsure
		}
		out[i] = g
	}
	return out, nil
}

// oneMore adds one clean bag of the coming fall to every place without finds.
func oneMore(s edge.Survey, stands []edge.Stand) edge.Survey {
	looks := make([]edge.Look, len(s.Looks), len(s.Looks)+len(stands))
	copy(looks, s.Looks)
	for i, st := range stands {
		if st.Standing != edge.Found {
			looks = append(looks, edge.Look{Places: []int{i}, From: s.Season, Through: s.Season, None: 1, Senders: 1})
		}
	}
	s.Looks = looks
	return s
}

// beta is a beta distribution for the chance of a place's bags, as its mean and
// how many bags it is worth: the mean of the surface's chance, and its variance
// with what bags of one place are alike besides.
func beta(c edge.Chance, alike float64) (find, weight float64) {
	one, two := c.FirstFind(1), c.FirstFind(2)
	variance := 2*one - two - one*one // E p² is 2 E p less the chance that one of two finds
	within := variance/(one*(1-one)) + alike
	if !(within > 1e-6) {
		return one, 1e6 // as good as known
	}
	return one, math.Max(1/within-1, 0.1)
}

// likeness is how much two bags of one place are alike beyond what its chance
// says: they may be of one farm. A look of n bags whose variance is spread times
// a binomial's has bags with a correlation of (spread-1)/(n-1) (Kish 1965, Survey
// Sampling, "design effect"; from memory).
func likeness(s edge.Survey, surface *edge.Surface) float64 {
	judged, looks := 0, 0
	for _, l := range s.Looks {
		if l.Judged() > 0 {
			judged, looks = judged+l.Judged(), looks+1
		}
	}
	if surface == nil || judged <= looks {
		return 0
	}
	size := float64(judged) / float64(looks)
	return math.Min(1, (surface.Spread()-1)/(size-1))
}

// overall is the share with finds of all bags that are sure either way, with one
// bag's worth of doubt.
func overall(s edge.Survey) float64 {
	finds, judged := 0, 0
	for _, l := range s.Looks {
		finds, judged = finds+l.Finds, judged+l.Judged()
	}
	return (float64(finds) + usual) / (float64(judged) + 1)
}

// LevelShare is how high a rank stands among a level table's found classes: the
// lowest of three a third, the highest one.
func LevelShare(rank, firstFound, classes int) float64 {
	if rank < firstFound || classes <= firstFound {
		return 0
	}
	return float64(rank-firstFound+1) / float64(classes-firstFound)
}
