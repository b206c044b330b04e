package edition

import (
	"errors"
	"fmt"
	"slices"

	"sixmile/internal/place"
)

// Township says where a township lies. A district is about six neighboring
// townships of one county.
type Township struct {
	ID, County, District place.ID
}

// Ground is the counties, districts and townships of one boundary set. Build
// it once with NewGround; it does not change and may be shared.
type Ground struct {
	counties []county
	countyOf map[place.ID]place.ID // a township's county; a county's own id
}

type county struct {
	id        place.ID
	townships []place.ID
	districts []district
}

type district struct {
	id        place.ID
	townships []place.ID
}

// ErrGround is wrapped by every refusal of NewGround.
var ErrGround = errors.New("places do not fit together")

// NewGround checks the places and puts them in order. Counties without
// townships are allowed: bags may be known by county alone.
func NewGround(counties []place.ID, townships []Township) (Ground, error) {
	g := Ground{countyOf: make(map[place.ID]place.ID, len(counties)+len(townships))}
	at := make(map[place.ID]int, len(counties))
	for _, id := range slices.Sorted(slices.Values(counties)) {
		if _, twice := g.countyOf[id]; twice {
			return Ground{}, fmt.Errorf("%w: county %v comes twice", ErrGround, id)
		}
		g.countyOf[id] = id
		at[id] = len(g.counties)
		g.counties = append(g.counties, county{id: id})
	}
	districtCounty := make(map[place.ID]place.ID)
	members := make(map[place.ID][]place.ID)
	for _, t := range townships {
		i, known := at[t.County]
		if !known {
			return Ground{}, fmt.Errorf("%w: township %v is in an unknown county", ErrGround, t.ID)
		}
		if _, twice := g.countyOf[t.ID]; twice {
			return Ground{}, fmt.Errorf("%w: place %v comes twice", ErrGround, t.ID)
		}
		if home, known := districtCounty[t.District]; known && home != t.County {
			return Ground{}, fmt.Errorf("%w: district %v lies in two counties", ErrGround, t.District)
		}
		districtCounty[t.District] = t.County
		members[t.District] = append(members[t.District], t.ID)
		g.countyOf[t.ID] = t.County
		g.counties[i].townships = append(g.counties[i].townships, t.ID)
	}
	for id, home := range districtCounty {
		if _, clash := g.countyOf[id]; clash {
			return Ground{}, fmt.Errorf("%w: district %v has the number of another place", ErrGround, id)
		}
		slices.Sort(members[id])
		c := &g.counties[at[home]]
		c.districts = append(c.districts, district{id: id, townships: members[id]})
	}
	for i := range g.counties {
		slices.Sort(g.counties[i].townships)
		slices.SortFunc(g.counties[i].districts, func(a, b district) int {
			return slices.Compare(a.townships, b.townships)
		})
	}
	return g, nil
}

// holds says whether a sample may name this place and this county together.
func (g Ground) holds(p, county place.ID) bool {
	home, known := g.countyOf[p]
	return known && home == county
}
