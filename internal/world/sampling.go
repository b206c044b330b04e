package world

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"time"
)

// senders is how many growers send in each season; about two and a half bags
// each. The last is the open fall's, once it is over.
var senders = [Seasons + 1]int{110, 130, 150, 172, 192, 208, 220, 234, 248, 260, 270, 280, 290}

// countyPull is how willing each county is, by letter of the plan: K has the
// keenest educator, D hardly takes part.
var countyPull = map[byte]float64{
	'A': 1.1, 'B': 0.9, 'C': 0.6, 'D': 0.1, 'E': 1.2, 'F': 1, 'G': 1.3, 'H': 0.8,
	'I': 0.9, 'J': 1.2, 'K': 2.3, 'L': 0.7,
}

// Shares of the sampling; our own choice.
const (
	countyOnly    = 0.03 // of bags name only the county
	springShare   = 0.01 // of senders sample the spring after
	lostBags      = 0.03 // of bags never arrive
	lateCounts    = 0.015
	emptyHanded   = 0.12 // growers who take bags and send none, for each who does
	notKnownYet   = 0.3  // of senders do not know next year's crop
	answersNone   = 0.45 // of senders leave all optional questions
	secondVisit   = 0.4  // of households send twice in a fall
	openDay       = 22   // of October: the day the model stops
	lastFallDay   = 25   // of November
	largestBundle = 6
)

// sample runs the seasons of the program.
func (w *World) sample(seed uint64, first int) {
	for s := range Seasons + 1 {
		b := seasonBuilder{
			w: w, rng: stream(seed, uint64(100+s)), index: s, year: first + s,
		}
		w.Seasons = append(w.Seasons, b.build())
	}
}

type seasonBuilder struct {
	w     *World
	rng   *rand.Rand
	index int
	year  int
	out   Season
}

func (b *seasonBuilder) build() Season {
	b.out = Season{Year: b.year, Closes: date(b.year, time.November, lastFallDay)}
	groups := b.byCounty()
	total := 0.0
	for _, c := range b.w.Counties {
		total += countyPull[b.w.letter(c.Code)]
	}
	for _, c := range b.w.Counties {
		want := float64(senders[b.index]) * countyPull[b.w.letter(c.Code)] / total
		quota := poisson(b.rng, want)
		b.countyVisits(c.Code, b.choose(groups[c.Code], quota))
		for range poisson(b.rng, want*emptyHanded) {
			b.bundle(c.Code, date(b.year, time.September, between(b.rng, 1, 60)), between(b.rng, 1, largestBundle))
		}
	}
	b.sortBundles()
	slices.SortStableFunc(b.out.Visits, func(x, y Visit) int { return x.Day.Compare(y.Day) })
	b.issue()
	if b.index == Seasons {
		b.stopAt(b.w.Today)
	}
	return b.out
}

// letter is the plan's letter of a county code.
func (w *World) letter(code string) byte {
	for i, t := range w.Townships {
		if t.County == code {
			return w.land.tracts[i].county
		}
	}
	return outside
}

// byCounty lists the farms of each county's townships, in order of number.
func (b *seasonBuilder) byCounty() map[string][]FarmID {
	out := map[string][]FarmID{}
	for i := range b.w.farms {
		code := b.w.Townships[b.w.farms[i].home].County
		out[code] = append(out[code], FarmID(i))
	}
	return out
}

// choose picks the farms of a county that send this season: those that come
// back, then new ones until the county's number is met.
func (b *seasonBuilder) choose(farms []FarmID, quota int) []FarmID {
	farms = slices.Clone(farms)
	b.rng.Shuffle(len(farms), func(i, j int) { farms[i], farms[j] = farms[j], farms[i] })
	var back, fresh []FarmID
	for _, id := range farms {
		f := &b.w.farms[id]
		if f.last < 0 {
			fresh = append(fresh, id)
			continue
		}
		p := f.keen
		for range b.index - f.last - 1 { // the longer away, the less likely
			p *= 0.8
		}
		if chance(b.rng, p) {
			back = append(back, id)
		}
	}
	// Some of every fall's senders are new, however many would come back.
	chosen := back[:min(len(back), quota-quota/4)]
	chosen = append(chosen, fresh[:min(len(fresh), quota-len(chosen))]...)
	slices.Sort(chosen)
	return chosen
}

// countyVisits turns the chosen farms into visits: clients of one agronomist
// share a visit, households may send twice.
func (b *seasonBuilder) countyVisits(county string, chosen []FarmID) {
	shared := [3][]FarmID{}
	for _, id := range chosen {
		if a := b.w.farms[id].agronomist; a > 0 && len(shared[a]) < 6 {
			shared[a] = append(shared[a], id)
			continue
		}
		day := b.visit(county, []FarmID{id}, time.Time{})
		if b.w.farms[id].household && day.Before(date(b.year, time.November, 15)) && chance(b.rng, secondVisit) {
			b.visit(county, []FarmID{id}, day)
		}
	}
	for _, ids := range shared {
		if len(ids) > 0 {
			b.visit(county, ids, time.Time{})
		}
	}
}

// visit is one trip through the form for one or more farms. after is the day of
// the farm's visit earlier in this fall, if there was one.
func (b *seasonBuilder) visit(county string, ids []FarmID, after time.Time) time.Time {
	pace, again := b.pace(after), !after.IsZero()
	var v Visit
	var last time.Time
	for _, id := range ids {
		f := &b.w.farms[id]
		s := Sender{Farm: id, Standing: b.standing(f, again)}
		s.Bags = b.bags(f, county, pace)
		for _, bag := range s.Bags {
			last = later(last, bag.Sampled)
		}
		v.Senders = append(v.Senders, s)
		f.last = b.index
	}
	v.Day = last.AddDate(0, 0, pick(b.rng, []weighted[int]{{0, 30}, {1, 30}, {2, 15}, {4, 15}, {7, 10}}))
	if !pace.spring { // nobody sends the form after the season's last day
		v.Day = later(last, earlier(v.Day, b.out.Closes))
	}
	for i := range v.Senders {
		for j := range v.Senders[i].Bags {
			b.post(&v.Senders[i].Bags[j], v.Day)
		}
	}
	b.out.Visits = append(b.out.Visits, v)
	return v.Day
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// standing is the answer to the one tap.
func (b *seasonBuilder) standing(f *farm, again bool) Standing {
	switch {
	case chance(b.rng, BlankShare):
		return Blank
	case again:
		return Already
	case f.last >= 0:
		return Earlier
	default:
		return First
	}
}

// issue gives every county the bags it handed out and some for the shelf.
func (b *seasonBuilder) issue() {
	for _, c := range b.w.Counties {
		n := 0
		for _, bundle := range b.out.Bundles {
			if bundle.County == c.Code {
				n += bundle.Size
			}
		}
		n += n / 10
		b.out.Issues = append(b.out.Issues, Issue{c.Code, (n/25 + 1) * 25})
	}
}

// sortBundles puts the bundles in order of day and keeps the bags' indexes.
func (b *seasonBuilder) sortBundles() {
	order := make([]int, len(b.out.Bundles))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int {
		return cmp.Or(b.out.Bundles[x].Day.Compare(b.out.Bundles[y].Day),
			cmp.Compare(b.out.Bundles[x].County, b.out.Bundles[y].County))
	})
	moved, sorted := make([]int, len(order)), make([]Bundle, len(order))
	for to, from := range order {
		moved[from], sorted[to] = to, b.out.Bundles[from]
	}
	b.out.Bundles = sorted
	for i := range b.out.Visits {
		for j := range b.out.Visits[i].Senders {
			for k := range b.out.Visits[i].Senders[j].Bags {
				bag := &b.out.Visits[i].Senders[j].Bags[k]
				bag.Bundle = moved[bag.Bundle]
			}
		}
	}
}

// stopAt cuts the open fall off at a day: later bundles, visits and arrivals
// have not happened yet. Of the bags that were sent, the lab has counted the
// first third, in order of arrival.
func (b *seasonBuilder) stopAt(today time.Time) {
	b.out.Open = true
	b.out.Bundles = slices.DeleteFunc(b.out.Bundles, func(u Bundle) bool { return u.Day.After(today) })
	b.out.Visits = slices.DeleteFunc(b.out.Visits, func(v Visit) bool { return v.Day.After(today) })
	var tray []*Bag
	sent := 0
	for i := range b.out.Visits {
		for j := range b.out.Visits[i].Senders {
			for k := range b.out.Visits[i].Senders[j].Bags {
				bag := &b.out.Visits[i].Senders[j].Bags[k]
				sent++
				if bag.Received.After(today) {
					bag.Received = time.Time{}
				}
				if bag.Arrived() {
					tray = append(tray, bag)
				} else {
					bag.Counted, bag.Count = time.Time{}, Count{}
				}
			}
		}
	}
	slices.SortStableFunc(tray, func(x, y *Bag) int { return x.Received.Compare(y.Received) })
	for i, bag := range tray {
		if i >= sent/3 {
			bag.Counted, bag.Count = time.Time{}, Count{}
		} else if bag.Counted.After(today) {
			bag.Counted = later(bag.Received, today.AddDate(0, 0, -between(b.rng, 0, 2)))
		}
	}
}
