package outlook

import (
	"fmt"
	"math"

	"sixmile/internal/assay"
	"sixmile/internal/edge"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/plan"
)

// Outlook is what an edition says of the season after it.
type Outlook struct {
	Places []plan.Place // every township
	Stands []edge.Stand // of each
	// Acres are the host acres of each county that the places were given: as the
	// office has them, else area times the usual share.
	Acres map[place.ID]int
	// Fitted is false where there was too little to fit a surface of chances: then
	// all places without finds have the same.
	Fitted bool
}

// Of works an edition's outlook out. Acres are host acres of counties that the
// office knows; counties it does not name are taken by area. A county's acres are
// shared among its townships by area.
func Of(x *gazette.Index, acres map[place.ID]int) (Outlook, error) {
	e, err := x.Edge()
	if err != nil {
		return Outlook{}, fmt.Errorf("outlook.Of: %w", err)
	}
	out := Outlook{Acres: map[place.ID]int{}, Fitted: e.Surface != nil}
	level := levels(x)
	county, area := map[place.ID]place.ID{}, map[place.ID]float64{}
	for _, c := range x.Issue.Counties {
		for _, t := range c.Townships {
			county[t.ID] = c.ID
		}
	}
	for _, p := range e.Survey.Places {
		area[county[p.ID]] += p.Acres
	}
	ground := make([]Ground, len(e.Survey.Places))
	for i, p := range e.Survey.Places {
		c := county[p.ID]
		host := p.Acres * e.Options.HostShare
		if given, ok := acres[c]; ok && area[c] > 0 {
			host = float64(given) * p.Acres / area[c]
		}
		ground[i] = Ground{County: c, Acres: int(math.Round(host)), Level: level[p.ID]}
		out.Acres[c] += ground[i].Acres
		out.Stands = append(out.Stands, e.Stands[p.ID])
	}
	for c, given := range acres {
		if _, known := out.Acres[c]; known {
			out.Acres[c] = given // without what rounding took
		}
	}
	out.Places, err = Given(e.Survey, e.Surface, ground, e.Options)
	return out, err
}

// levels are how high each township's own highest level is.
func levels(x *gazette.Index) map[place.ID]float64 {
	first := 0
	for _, c := range x.Issue.Scheme.Classes {
		if c.Kind == assay.Found {
			first = c.Rank
			break
		}
	}
	out := map[place.ID]float64{}
	for _, v := range x.State().Counties {
		for _, a := range v.Areas {
			if a.Finds > 0 {
				out[a.ID] = LevelShare(a.Level.Rank, first, len(x.Issue.Scheme.Classes))
			}
		}
	}
	return out
}

// Since looks back on a saved plan from what later editions released. ok is
// false where none has released anything of one township alone since.
func Since(p plan.Saved, later *gazette.Index, bins int) (b Back, ok bool, err error) {
	e, err := later.Edge()
	if err != nil {
		return Back{}, false, fmt.Errorf("outlook.Since: %w", err)
	}
	var since []edition.Tranche
	for _, t := range later.Issue.Tranches {
		if t.Edition > p.Edition {
			since = append(since, t)
		}
	}
	s, err := edge.NewSurvey(e.Survey.Season, e.Survey.Places, later.Issue.Ranks(), since, e.Options.Reach)
	if err != nil {
		return Back{}, false, fmt.Errorf("outlook.Since: %w", err)
	}
	b, ok = Look(p, s, bins)
	return b, ok, nil
}
