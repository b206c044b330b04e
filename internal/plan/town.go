package plan

import "math"

// town is a place while bags are being given to it.
type town struct {
	at int // index of the place
	n  int // bags so far
	// first finds: a is the weight of a find, all of everything; missed is the
	// chance that none of the bags so far has found it
	a, all, missed float64
	// being surer: left is the chance of a miss that remains
	clean, left float64
	// following levels
	level, rate float64
	found       bool
}

// tiny keeps chances inside 0 to 1.
const tiny = 1e-9

// newTown starts a place's curve for bags of which each, when given, leads to a
// sample from the place with the chance rate.
func newTown(at int, p Place, rate float64) town {
	t := town{at: at, missed: 1, rate: math.Min(math.Max(rate, 0), 1), found: p.Found}
	if p.Found {
		t.level = math.Min(math.Max(p.Level, 0), 1)
		return t
	}
	t.left = math.Min(math.Max(p.Miss, 0), 1)
	t.clean = 1 - t.rate*(1-math.Min(math.Max(p.Clean, 0), 1))
	t.a, t.all = thin(p.Find, p.Weight, t.rate)
	return t
}

// thin is the beta distribution of a chance times rate, by its mean and
// variance: its two weights' first, and their sum.
func thin(find, weight, rate float64) (a, all float64) {
	find, weight = math.Min(math.Max(find, tiny), 1-tiny), math.Max(weight, tiny)
	rate = math.Max(rate, tiny)
	mean := rate * find
	all = (weight+1)*(1-mean)/(rate*(1-find)) - 1
	return mean * all, all
}

// next is what one more bag is worth.
func (t *town) next() (g Gains) {
	if t.found {
		have := t.rate * float64(t.n)
		g[Levels] = t.level * t.rate / ((1 + have) * (1 + have + t.rate))
		return g
	}
	g[Finds] = t.missed * t.a / (t.all + float64(t.n))
	g[Sure] = t.left * (1 - t.clean)
	return g
}

// take gives it the bag.
func (t *town) take() {
	if !t.found {
		t.missed -= t.missed * t.a / (t.all + float64(t.n))
		t.left *= t.clean
	}
	t.n++
}

// FirstFind is the chance that of n bags that came back from a place without
// finds at least one has eggs.
func (p Place) FirstFind(n int) float64 {
	if p.Found {
		return 0
	}
	t := newTown(0, p, 1)
	for range n {
		t.take()
	}
	return 1 - t.missed
}

func (g *Gains) add(h Gains) {
	for i := range g {
		g[i] += h[i]
	}
}

// weigh is the sum of gains, each times its weight.
func (g Gains) weigh(w Gains) (sum float64) {
	for i := range g {
		sum += float64(g[i] * w[i])
	}
	return sum
}
