package lookahead

import "math"

// trendYears is how long a rise on a source is carried on: the published one
// ran for 15 years, and twice that is as far as it is stretched.
const trendYears = 30

// model is a set made ready for drawing.
type model struct {
	winter, weeds, nonHost, fallow, soy spread
	resistant                           [3]spread
	trend                               [3]spread
	greatNorthern, volunteer, bag       spread
	tolerance, least                    [2]spread        // susceptible, resistant
	ranked                              map[Crop]float64 // shares of a susceptible soybean
	hatch, room, shareField, shareYear  float64
	// perUsual turns what reproduction adds to a density of usual into the
	// multiplication at low density.
	perUsual float64
}

// sources are the resistant soybeans in the order of model's arrays.
var sources = [3]Crop{PI88788, Peking, PI437654}

func sourceOf(c Crop) int {
	for i, s := range sources {
		if s == c {
			return i
		}
	}
	return -1
}

// prepare needs a set that passes Check.
func (s Set) prepare() *model {
	of := func(k Key) spread {
		for _, r := range Rules {
			if r.Key == k {
				return spreadOf(s.Figures[k], r.Shape)
			}
		}
		return spread{}
	}
	number := func(k Key) float64 { return s.Figures[k].Mean }
	usual, room := number(UsualDensity), number(Crowding)
	shares := make(map[Crop]float64, len(ranked))
	for _, c := range ranked {
		shares[c] = number(Key(c)) / 100
	}
	return &model{
		winter: of(Winter), weeds: of(WinterWeeds), nonHost: of(AfterNonHost), fallow: of(AfterFallow), soy: of(AfterSoybean),
		resistant:     [3]spread{of(After88788), of(AfterPeking), of(After437654)},
		trend:         [3]spread{of(Trend88788), of(TrendPeking), of(Trend437654)},
		greatNorthern: of(OfGreatNorth), volunteer: of(VolunteerShare), bag: of(BagOfField),
		tolerance: [2]spread{of(Tolerance), of(ToleranceRes)},
		least:     [2]spread{of(LeastYield), of(LeastYieldRes)},
		ranked:    shares,
		hatch:     number(HatchShare), room: room,
		shareField: math.Sqrt(number(FieldShare)), shareYear: math.Sqrt(1 - number(FieldShare)),
		perUsual: usual / (room * -math.Expm1(-usual/room)),
	}
}

// ground is one draw of what stays with a field: standard normal numbers.
type ground struct {
	start, season, winter, weeds, volunteer, bean, tolerance, least float64
	trend                                                           [3]float64
}

// weather is one draw of a year's own.
type weather struct{ winter, season float64 }

// year is what one draw's year does to any crop: worked out once, used by every
// rotation.
type year struct {
	winter, weeds float64   // factors from fall to planting, without and with weeds
	stay          float64   // under a non-host
	fallow        float64   // under fallow
	soy           float64   // a of a susceptible soybean
	source        [3]source // of the resistant ones
	bean, thin    float64   // shares of soy: great northern's, volunteers'
}

type source struct{ a, stay float64 }

// year works out a year from its draws. Grown is for how long each source has
// been grown before it.
func (m *model) year(g *ground, w weather, grown [3]float64) year {
	z := m.shareField*g.season + m.shareYear*w.season
	y := year{winter: m.winter.at(m.shareField*g.winter + m.shareYear*w.winter)}
	y.weeds = y.winter * m.weeds.at(g.weeds)
	y.stay, y.fallow = m.nonHost.at(z), m.fallow.at(z)
	y.soy = max(0, m.soy.at(z)-y.stay) * m.perUsual
	for i := range sources {
		stay := m.hatch * y.stay
		a := max(0, m.resistant[i].at(z)-stay) * m.perUsual
		if rate := m.trend[i].at(g.trend[i]); rate > 0 {
			a *= math.Exp(rate * min(grown[i], trendYears))
		}
		y.source[i] = source{a: min(a, y.soy), stay: stay}
	}
	y.bean = m.greatNorthern.at(g.bean) / 100
	y.thin = m.volunteer.at(g.volunteer)
	return y
}

// plant is the density at planting after a winter.
func (y *year) plant(fall float64, weeds bool) float64 {
	if weeds {
		return fall * y.weeds
	}
	return fall * y.winter
}

// harvest is the density in the fall of a density at planting. What reproduction
// adds levels off with roots, whatever the host: a ceiling of a times room.
func (m *model) harvest(y *year, pi float64, c Crop, volunteers bool) float64 {
	a, stay := 0.0, y.stay
	switch c {
	case Susceptible:
		a = y.soy
	case GreatNorthern:
		a = y.bean * y.soy
	case NonHost, Fallow:
		if c == Fallow {
			stay = y.fallow
		}
		if volunteers {
			a = y.thin * y.soy
		}
	default:
		if i := sourceOf(c); i >= 0 {
			a, stay = y.source[i].a, y.source[i].stay
		} else {
			a = m.ranked[c] * y.soy
		}
	}
	return Multiply(pi, a, a*m.room, stay)
}

// yield is the relative yield of a soybean at a density at planting.
func (m *model) yield(g *ground, pi float64, c Crop) float64 {
	kind := 0
	if c.Resistant() {
		kind = 1
	}
	return RelativeYield(pi, m.tolerance[kind].at(-g.tolerance), m.least[kind].at(-g.least))
}

// begin is the density a field starts from.
func (m *model) begin(g *ground, s Start) float64 {
	if s.High > s.Low {
		return s.Low * math.Pow(s.High/s.Low, normalBelow(g.start))
	}
	return s.Low * m.bag.at(g.start)
}
