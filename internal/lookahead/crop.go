package lookahead

import "slices"

// Crop is what a field carries for a year. Its value is the key of its name in
// the catalog and in addresses.
type Crop string

// The crops. A resistant soybean whose source is not known is taken for
// PI 88788: about 95 in 100 varieties carry it.
const (
	Susceptible   Crop = "susceptible"
	PI88788       Crop = "r88788"
	Peking        Crop = "peking"
	PI437654      Crop = "r437654"
	NonHost       Crop = "nonhost" // corn, wheat, another small grain, alfalfa, beets, sunflower, canola
	Fallow        Crop = "fallow"
	Kidney        Crop = "kidney"
	Navy          Crop = "navy"
	Pinto         Crop = "pinto"
	Black         Crop = "black"
	GreatNorthern Crop = "greatnorthern" // nothing published says how good a host it is
)

// Crops lists them in the order a form offers them.
var Crops = []Crop{NonHost, Susceptible, PI88788, Peking, PI437654, Kidney, Navy, Pinto, Black, GreatNorthern, Fallow}

// Known tells whether c is one of the crops.
func (c Crop) Known() bool { return slices.Contains(Crops, c) }

// Resistant tells whether c is a resistant soybean.
func (c Crop) Resistant() bool { return c == PI88788 || c == Peking || c == PI437654 }

// Soybean tells whether c is a soybean: the only crop whose yield is said.
func (c Crop) Soybean() bool { return c == Susceptible || c.Resistant() }

// DryBean tells whether c is a dry bean.
func (c Crop) DryBean() bool {
	return c == Kidney || c == Navy || c == Pinto || c == Black || c == GreatNorthern
}

// ranked are the hosts of which one number says how good they are against a
// susceptible soybean, in percent: the figure with the crop's key.
var ranked = []Crop{Kidney, Navy, Pinto, Black}

// Limits of what one look takes.
const (
	MaxPlans = 4
	MaxYears = 6
	MaxDraws = 10000
	// MaxEggs is far above any density ever published.
	MaxEggs = 1000000
	// MaxGrown is the most years that a source can have been grown: resistant
	// soybeans are not older.
	MaxGrown = 60
)

// Plan is one rotation: a crop a year, from the year after the sample.
type Plan struct {
	Crops      []Crop
	Weeds      bool // winter weeds that are hosts stand; otherwise controlled
	Volunteers bool // volunteer soybean stands in non-host and fallow years
}

// Field is where the rotations start from.
type Field struct {
	Start Start
	// Grown is for how many years varieties of a source have been in the field's
	// rotation. A source that is not in it is new.
	Grown map[Crop]int
}

// Start is the density in the fall the look starts from, in eggs per 100 cm³.
// With High it is somewhere between Low and High, as a level says it; otherwise
// Low is a count, and the field lies around it as the set's "bag" says.
type Start struct{ Low, High float64 }

// Counted is a start from an egg count.
func Counted(eggs float64) Start { return Start{Low: eggs} }

// Between is a start from a level with these ends.
func Between(low, high float64) Start { return Start{low, high} }

// Better reports whether b is at least as good a host as a in every draw of the
// set, at every density, where volunteer soybean is controlled. It is false where neither is surely the better one: a
// resistant soybean makes more eggs hatch than a non-host does, so it depends on
// the density which leaves more.
func (s Set) Better(b, a Crop) bool {
	if a == b {
		return true
	}
	share := func(c Crop) (float64, bool) { return s.hostShare(c) }
	sb, okB := share(b)
	sa, okA := share(a)
	switch {
	case okA && okB:
		return sb >= sa
	case b == Susceptible && a.Resistant():
		return true
	case okB && a.Resistant():
		return sb >= 1 // no resistant soybean is let above a susceptible one
	}
	return false
}

// hostShare is how good a host a crop is against a susceptible soybean, where
// one number says it.
func (s Set) hostShare(c Crop) (float64, bool) {
	switch {
	case c == Susceptible:
		return 1, true
	case c == NonHost:
		return 0, true
	case slices.Contains(ranked, c):
		return s.Figures[Key(c)].Mean / 100, true
	}
	return 0, false
}
