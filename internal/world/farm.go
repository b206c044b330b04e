package world

import "math/rand/v2"

// farm is one operation. Its index in World.farms is its FarmID.
type farm struct {
	home       int // tract of the yard
	fields     []field
	habit      habit
	contact    float64 // how much soil moves onto it: hired machinery and the like
	keen       float64 // chance to send again the next fall
	agronomist int     // 0: none; else a number within the county
	household  bool    // two people of this farm may send separately
	last       int     // index of the last season it sent in, -1 for never
}

// habit is how a farm chooses its soybeans.
type habit int

const (
	mixes    habit = iota // what the dealer has, mostly resistant
	careful               // resistant, changing sources
	careless              // does not look at the source
)

// field is a field that the farm would sample.
type field struct {
	tract    int
	at       pt
	light    bool // lighter soil with a higher pH
	heavy    bool
	lowland  bool // floods
	texture  Texture
	ph       PHBand
	tillage  Tillage
	acres    AcresBand
	rotation []Crop
	phase    int

	before, crop, next Crop
	source             Source // of the last soybean, as it is
	known              bool   // the grower knows the source
	eggs               int    // per 100 cm³ in fall; 0: not there
	arrived            int    // year it got there; 0: not there

	years [Seasons + 1]fieldYear // the falls of the program
}

// fieldYear is a field in one fall of the program.
type fieldYear struct {
	eggs               int
	before, crop, next Crop
	source             Source
}

var rotations = []weighted[[]Crop]{
	{[]Crop{Corn, Soybean}, 58},
	{[]Crop{Corn, Corn, Soybean}, 14},
	{[]Crop{Soybean, Corn, Wheat}, 10},
	{[]Crop{Soybean, Soybean, Corn}, 6},
	{[]Crop{Soybean, SugarBeet, Wheat}, 4},
	{[]Crop{DryBean, Corn, Soybean, Corn}, 4},
	{[]Crop{Corn, Soybean, Alfalfa, Alfalfa, Alfalfa}, 2},
	{[]Crop{Soybean, OtherCrop, Corn}, 2},
}

// farmsPerTownship is the mean number of farms that might ever send, in a full
// township of ordinary land.
const farmsPerTownship = 11

// settle gives the state its farms.
func settle(l *land, rng *rand.Rand) []farm {
	var farms []farm
	for i := range l.tracts {
		for range poisson(rng, farmsPerTownship*l.tracts[i].farmed) {
			farms = append(farms, newFarm(l, i, rng))
		}
	}
	return farms
}

func newFarm(l *land, home int, rng *rand.Rand) farm {
	f := farm{
		home:      home,
		habit:     pick(rng, []weighted[habit]{{mixes, 55}, {careful, 13}, {careless, 32}}),
		contact:   pick(rng, []weighted[float64]{{0.2, 30}, {1, 40}, {1.8, 30}}),
		keen:      0.15 + 0.6*rng.Float64(),
		household: chance(rng, 0.12),
		last:      -1,
	}
	if chance(rng, 0.2) {
		f.agronomist = between(rng, 1, 2)
	}
	// A farm works in its own township and up to two of those around it.
	tracts := []int{home, home, home}
	for range pick(rng, []weighted[int]{{0, 50}, {1, 35}, {2, 15}}) {
		n := l.tracts[home].neighbors
		if t := n[rng.IntN(len(n))]; l.tracts[t].farmed > 0 {
			tracts = append(tracts, t)
		}
	}
	for range pick(rng, []weighted[int]{{1, 24}, {2, 28}, {3, 20}, {4, 14}, {5, 8}, {6, 6}}) {
		f.fields = append(f.fields, newField(l, tracts[rng.IntN(len(tracts))], rng))
	}
	return f
}

func newField(l *land, t int, rng *rand.Rand) field {
	f := field{
		tract:    t,
		at:       l.tracts[t].somewhere(rng),
		rotation: pick(rng, rotations),
		phase:    rng.IntN(60),
		tillage:  pick(rng, []weighted[Tillage]{{NoTill, 30}, {Reduced, 45}, {FullTill, 25}}),
		acres:    pick(rng, []weighted[AcresBand]{{AcresUnder40, 25}, {AcresTo80, 50}, {AcresTo160, 25}}),
		source:   UnknownSource,
	}
	ridge := inside(l.ridge, f.at)
	f.light = chance(rng, 0.08) || ridge && chance(rng, 0.8)
	f.heavy = !f.light && chance(rng, 0.3)
	f.lowland = l.nearRiver(f.at)
	switch {
	case f.light:
		f.texture, f.ph = Sandy, pick(rng, []weighted[PHBand]{{PH6, 20}, {PH7, 45}, {PH75, 35}})
	case f.heavy:
		f.texture, f.ph = Clay, pick(rng, []weighted[PHBand]{{PHUnder6, 30}, {PH6, 55}, {PH7, 15}})
	default:
		f.texture, f.ph = Loam, pick(rng, []weighted[PHBand]{{PHUnder6, 20}, {PH6, 55}, {PH7, 20}, {PH75, 5}})
	}
	f.crop, f.next = f.plannedCrop(0), f.plannedCrop(1)
	return f
}

func (f *field) plannedCrop(year int) Crop { return f.rotation[(year+f.phase)%len(f.rotation)] }
