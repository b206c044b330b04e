package talk

// Least numbers a sentence is made from. They are ours; no source. The intervals
// do the work, these only keep tiny numbers from being talked about.
const (
	ShareBags    = 5  // bags sure either way for a word such as "more than half"
	TypicalBags  = 10 // bags for "at least half of the bags"
	CompareBags  = 10 // bags sure either way, on each side of a comparison
	MissedLeast  = 1  // eggs per 100 cm³
	FarthestSide = 1  // hundredths a difference must be beyond to lean
)

// rule is a line of the table: what is said (id), how much it matters when there
// is too much to say, when it is said and in which form.
type rule struct {
	id     string
	weight int // 1 is dropped first
	say    func(f Facts) sentence
}

// sentence is a key under "talk." with its arguments; an empty key says nothing.
type sentence struct {
	key  string
	n    int
	args []any
}

func say(key string, n int, args ...any) sentence { return sentence{key, n, args} }

// when is s where ok holds.
func when(ok bool, s sentence) sentence {
	if !ok {
		return sentence{}
	}
	return s
}

// rules is the whole table.
//
//	id          said when                                       forms
//	nofigures   no bag is on the map
//	townships   a township has figures of its own               none, all or some with eggs
//	share       a bag is sure either way                        by what the interval holds (sizes), open under 5 bags; none of n
//	highest     eggs were found                                 at least, where some levels are not shown
//	first       a township has its first find since the map before
//	part        one half of the county has the finds            (gazette.CountyView.Part)
//	fall        a fall figure is told                           none, seven or fewer, about so many
//	typical     10 bags or more, and the middle one's level is known
//	top         a bag is at the table's highest level, and all levels are shown
//	trend       townships on both maps, 10 bags sure on each    more, fewer, or cannot tell
//	rest        10 bags sure here and in the rest of the state  more, fewer, or cannot tell
//	statewide   no bag here is on the map, but some elsewhere
//	neighbors   a county next door has figures
//	unconfirmed a bag is unconfirmed
//	missed      the lab's method is known, and no eggs were found in some bag
//	blank       a township has no figures
//	hidden      always
//	volunteers  a bag is on the map
//	rotate      always
//	clean       always
//	bags        the office says where bags are
var rules = []rule{
	{"nofigures", 99, func(f Facts) sentence { return when(f.Bags == 0, say("nofigures", 0, "county", f.County)) }},
	{"townships", 98, townships},
	{"share", 97, share},
	{"highest", 90, highest},
	{"first", 96, func(f Facts) sentence {
		return when(f.FirstFinds > 0 && f.Edition != "", say("first", f.FirstFinds, "places", f.FirstFindsAt, "map", f.Edition))
	}},
	{"part", 85, part},
	{"fall", 80, fall},
	{"typical", 60, typical},
	{"top", 50, top},
	{"trend", 70, trend},
	{"rest", 65, rest},
	{"statewide", 64, func(f Facts) sentence {
		return when(f.Bags == 0 && f.StateCounties > 0,
			say(orNone("statewide", f.StateWithFinds), f.StateCounties, "found", f.StateWithFinds, "state", f.State))
	}},
	{"neighbors", 40, func(f Facts) sentence {
		return when(f.Neighbors > 0, say(orNone("neighbors", f.NeighborsWithFinds), f.Neighbors, "found", f.NeighborsWithFinds))
	}},
	{"unconfirmed", 30, func(f Facts) sentence { return when(f.Unconfirmed > 0, say("unconfirmed", f.Unconfirmed)) }},
	{"missed", 75, func(f Facts) sentence {
		none := f.Share.Of - f.Share.N
		return when(none > 0 && f.Missed >= MissedLeast, say("missed", 0, "eggs", f.Missed))
	}},
	{"blank", 45, func(f Facts) sentence {
		return when(f.Shown < f.Townships, say(orNone("blank", f.Shown), f.Townships-f.Shown, "all", f.Townships))
	}},
	{"hidden", 20, func(Facts) sentence { return say("hidden", 0) }},
	{"volunteers", 78, func(f Facts) sentence { return when(f.Bags > 0, say("volunteers", 0)) }},
	{"rotate", 94, func(Facts) sentence { return say("rotate", 0) }},
	{"clean", 55, func(Facts) sentence { return say("clean", 0) }},
	{"bags", 95, func(f Facts) sentence { return when(f.Bagged != "", say("bags", 0, "where", f.Bagged)) }},
}

// orNone is the form of a sentence for a number that may be zero.
func orNone(key string, n int) string {
	if n == 0 {
		return key + ".none"
	}
	return key
}

func townships(f Facts) sentence {
	key := "townships"
	switch {
	case f.Shown == 0:
		return sentence{}
	case f.WithFinds == 0:
		key = "townships.none"
	case f.WithFinds == f.Shown:
		key = "townships.all"
	}
	return say(key, f.Shown, "found", f.WithFinds)
}

func share(f Facts) sentence {
	s := f.Share
	if s.Of == 0 {
		return sentence{}
	}
	low, high := s.perHundred()
	if s.N == 0 {
		return say("share.none", s.Of, "high", high)
	}
	word := "open"
	if s.Of >= ShareBags {
		word = sizeOf(s.Interval)
	}
	return say("share."+word, s.Of, "finds", s.N, "low", low, "high", high)
}

func highest(f Facts) sentence {
	key := "highest"
	if f.AtLeast {
		key = "highest.atleast"
	}
	return when(f.Highest != "" && f.HighestAt != "", say(key, 0, "level", f.Highest, "places", f.HighestAt))
}

func part(f Facts) sentence {
	p := f.Part
	if p == nil {
		return sentence{}
	}
	return say("part", p.Shown, "side", p.Side, "across", p.Across, "found", p.Found,
		"foundacross", p.FoundAcross, "shownacross", p.ShownAcross)
}

func fall(f Facts) sentence {
	l := f.Fall
	switch {
	case l == nil:
		return sentence{}
	case l.Finds == 0:
		return say("fall.none", l.Bags, "year", l.Year)
	case l.Few:
		return say("fall.few", l.Bags, "year", l.Year)
	}
	return say("fall", l.Bags, "year", l.Year, "finds", l.Finds)
}

func typical(f Facts) sentence {
	key := "typical"
	if f.TypicalNone {
		key = "typical.none"
	}
	return when(f.Typical != "" && f.Bags >= TypicalBags, say(key, 0, "level", f.Typical))
}

func top(f Facts) sentence {
	low, high := f.AtTop.perHundred()
	return when(f.AtTop.N > 0, say("top", f.AtTop.Of, "bags", f.AtTop.N, "level", f.Top, "low", low, "high", high))
}

// lean names the form of a comparison: more or fewer only where the whole
// interval says so.
func (d Difference) lean() string {
	switch {
	case d.Low >= FarthestSide:
		return "more"
	case d.High <= -FarthestSide:
		return "fewer"
	}
	return "open"
}

// apart is how far the shares lie apart, the smaller number first and without a
// sign.
func (d Difference) apart() (from, to int) {
	if d.High < 0 {
		return -d.High, -d.Low
	}
	return d.Low, d.High
}

func (d Difference) enough() bool { return d.Here.Of >= CompareBags && d.There.Of >= CompareBags }

func trend(f Facts) sentence {
	t := f.Trend
	if t == nil || !t.enough() {
		return sentence{}
	}
	from, to := t.apart()
	return say("trend."+t.lean(), t.Townships, "map", t.Earlier, "before", t.There.N, "beforeof", t.There.Of,
		"now", t.Here.N, "nowof", t.Here.Of, "from", from, "to", to)
}

func rest(f Facts) sentence {
	r := f.Rest
	if r == nil || !r.enough() {
		return sentence{}
	}
	from, to := r.apart()
	return say("rest."+r.lean(), 0, "state", f.State, "from", from, "to", to)
}
