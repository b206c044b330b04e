package past

import (
	"errors"

	"sixmile/internal/place"
	"sixmile/internal/tabular"
)

// Problems of a row beside those of its cells.
const (
	NotSeason      tabular.Problem = "not_season"      // no year in it
	SeasonDisagree tabular.Problem = "season_disagree" // season and date are of different falls
	SeasonOpen     tabular.Problem = "season_open"     // a fall whose bags come by form
	NoPlace        tabular.Problem = "no_place"        // no place of that name, code or description
	ManyPlaces     tabular.Problem = "many_places"     // several places that it may mean
	TownOnly       tabular.Problem = "town_only"       // a town, which may lie in several townships
	BadLegal       tabular.Problem = "bad_legal"       // a legal description that cannot be right
	Outside        tabular.Problem = "outside"         // coordinates in no county of the program
	OtherCounty    tabular.Problem = "other_county"    // coordinates in another county than the row says
	NoCounty       tabular.Problem = "no_county"       // no county of that name or code
	NoSystem       tabular.Problem = "no_system"       // coordinates, and nobody has said of which system
	NoLevel        tabular.Problem = "no_level"        // no level of the table in force
)

// Named is a place by what it may be called.
type Named struct {
	ID, County place.ID // the same for a county
	Names      []string // name and code, as they are
	Towns      []string // towns in it
	Survey     *place.Survey
}

// Spot is a place with its county: the county twice where only that is known.
type Spot struct{ Place, County place.ID }

// Gazetteer finds places by what a file calls them, in memory: what does not
// match goes nowhere.
type Gazetteer struct {
	counties map[string][]place.ID
	county   map[place.ID]place.ID // of every place
	names    map[string][]place.ID
	towns    map[string]bool
	surveys  map[[2]place.Tier][]surveyed
}

type surveyed struct {
	id     place.ID
	survey place.Survey
}

// NewGazetteer makes it from the places of the current boundaries.
func NewGazetteer(all []Named) *Gazetteer {
	g := &Gazetteer{counties: map[string][]place.ID{}, county: map[place.ID]place.ID{}, names: map[string][]place.ID{}, towns: map[string]bool{},
		surveys: map[[2]place.Tier][]surveyed{}}
	for _, n := range all {
		g.county[n.ID] = n.County
		index := g.names
		if n.ID == n.County {
			index = g.counties
		}
		for _, name := range n.Names {
			f := place.Fold(name)
			if list := index[f]; f != "" && (len(list) == 0 || list[len(list)-1] != n.ID) {
				index[f] = append(list, n.ID)
			}
		}
		for _, town := range n.Towns {
			g.towns[place.Fold(town)] = true
		}
		if s := n.Survey; s != nil {
			key := [2]place.Tier{s.Township, s.Range}
			g.surveys[key] = append(g.surveys[key], surveyed{n.ID, *s})
		}
	}
	return g
}

// Spot is a place of the gazetteer with its county; false for one that is not in it.
func (g *Gazetteer) Spot(id place.ID) (Spot, bool) {
	county, known := g.county[id]
	return Spot{id, county}, known
}

// errNone says that a cell is empty.
var errNone = errors.New("past: nothing said")

// County finds a county by its name or code.
func (g *Gazetteer) County(text string) (place.ID, error) {
	if text == "" {
		return 0, errNone
	}
	list := g.counties[place.Fold(text)]
	if len(list) != 1 {
		return 0, NoCounty
	}
	return list[0], nil
}

// Find finds the one place that a text means for certain: exactly its name, its
// code, or its survey numbers. county narrows it; 0 for not said. The error is a
// tabular.Problem. It never guesses at a likeness: who loads thousands of rows
// does not look at each.
func (g *Gazetteer) Find(text string, county place.ID) (Spot, error) {
	q := place.ParseQuery(text)
	if q.County != "" {
		said := g.counties[q.County]
		switch {
		case len(said) != 1:
			return Spot{}, NoCounty
		case county != 0 && county != said[0]:
			return Spot{}, OtherCounty
		}
		county = said[0]
	}
	var found []place.ID
	take := func(id place.ID) {
		if county == 0 || g.county[id] == county {
			found = append(found, id)
		}
	}
	switch {
	case q.Survey != nil:
		for _, s := range g.surveys[[2]place.Tier{q.Survey.Township, q.Survey.Range}] {
			if q.Survey.Fits(s.survey) {
				take(s.id)
			}
		}
	case q.Name != "":
		for _, id := range g.names[q.Name] {
			take(id)
		}
		if len(found) == 0 {
			for _, id := range g.counties[q.Name] {
				take(id)
			}
		}
	}
	switch {
	case len(found) == 1:
		return Spot{found[0], g.county[found[0]]}, nil
	case len(found) > 1:
		return Spot{}, ManyPlaces
	case q.Survey == nil && g.towns[q.Name]:
		return Spot{}, TownOnly
	case q.Fault != "" && q.Fault != place.NotLegal:
		return Spot{}, BadLegal
	}
	return Spot{}, NoPlace
}
