package edge

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// OneInTwenty is the chance of having missed it under which a place counts as
// well looked at.
const OneInTwenty = 0.05

// Clean is bags in which no egg was seen, that came in together.
type Clean struct {
	Bags    int
	Senders int     // at least so many different ones
	Age     float64 // falls since, 0 for this fall
}

// Worth is what bags without eggs are worth: the chance that they would all have
// missed it, if it were in as many fields as Options.Prevalence says. It is not
// the chance that it is there.
type Worth struct {
	Bags     int // clean bags looked at
	Fields   int // fields in host crops, about
	Infested int // of them, if the prevalence were so

	// Equal is how many bags from as many different farms, of this fall and that
	// miss nothing, the clean bags are worth.
	Equal float64

	// Exact is by the hypergeometric law: fields drawn without putting back, each
	// bag with its own chance to miss.
	Exact float64
	// CannonRoe is by the formula of Cannon and Roe (1982, Livestock Disease
	// Surveys), with Equal for the number of bags.
	CannonRoe float64

	// More is how many more bags of this fall bring Exact under OneInTwenty; 0
	// where it is already. Enough is false where not even a bag from every field
	// would.
	More   int
	Enough bool
}

// WellLooked tells that the chance to have missed it is under OneInTwenty.
func (w Worth) WellLooked() bool { return w.Bags > 0 && w.Exact < OneInTwenty }

// ErrLook is wrapped by every refusal of figures that cannot be.
var ErrLook = errors.New("figures cannot be")

// WorthOf works out the worth of clean bags from a place with so many fields.
//
// A bag finds an infested field with the chance s = Sensitivity x Keep^age; a
// further bag of a sender who is counted already with SameFarm less. Fields are
// drawn at random, each once. With M fields not looked at yet, d of them
// infested, the next bag is from an infested one with the chance d/M, and then
// misses it with 1-s: the sum over all courses is exact, and with s = 1 it is
// the hypergeometric chance of drawing none. Bags beyond the number of fields
// add nothing; the best are kept.
func WorthOf(bags []Clean, fields int, o Options) (Worth, error) {
	if err := o.Check(); err != nil {
		return Worth{}, fmt.Errorf("edge.WorthOf: %w", err)
	}
	if fields < 1 {
		return Worth{}, fmt.Errorf("edge.WorthOf: %w: %d fields", ErrLook, fields)
	}
	w := Worth{Fields: fields, Infested: infested(fields, o.Prevalence)}
	var finds []float64
	for _, c := range bags {
		if c.Bags < 0 || c.Senders < 0 || c.Age < 0 {
			return Worth{}, fmt.Errorf("edge.WorthOf: %w: %+v", ErrLook, c)
		}
		w.Bags += c.Bags
		finds = append(finds, o.chances(c)...)
	}
	slices.SortFunc(finds, func(a, b float64) int { return -cmpFloat(a, b) })
	finds = finds[:min(len(finds), fields)]
	d := newDraw(fields, w.Infested)
	for _, s := range finds {
		w.Equal += s
		d.bag(s)
	}
	w.Exact = d.missed()
	w.CannonRoe = CannonRoeMissed(w.Equal, fields, w.Infested)
	w.More, w.Enough = d.more(o)
	return w, nil
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// chances are those of each bag to find an infested field it is from.
func (o Options) chances(c Clean) []float64 {
	farms := min(c.Bags, max(c.Senders, int(float64(c.Bags)/o.BagsPerSender)))
	out := make([]float64, c.Bags)
	for i := range out {
		out[i] = o.Sensitivity * math.Pow(o.Keep, c.Age)
		if i >= farms {
			out[i] *= 1 - o.SameFarm
		}
	}
	return out
}

func infested(fields int, prevalence float64) int {
	// A hair less, so that 0.1 of 30 is 3 and not 4.
	return min(fields, max(1, int(math.Ceil(float64(fields)*prevalence-1e-9))))
}

// draw is fields drawn one after another. left[d] is the chance that d of the
// fields not drawn yet are infested and all that were drawn missed it.
type draw struct {
	fields int // not drawn yet
	left   []float64
}

func newDraw(fields, infested int) *draw {
	d := &draw{fields: fields, left: make([]float64, infested+1)}
	d.left[infested] = 1
	return d
}

// bag draws a field and looks at it with a chance of s to see it if it is there.
func (d *draw) bag(s float64) {
	if d.fields == 0 {
		return
	}
	m := float64(d.fields)
	for k := range d.left { // upward: left[k] takes from left[k+1] as it was
		d.left[k] *= max(0, 1-float64(k)/m)
		if k+1 < len(d.left) {
			d.left[k] += d.left[k+1] * float64(k+1) / m * (1 - s)
		}
	}
	d.fields--
}

func (d *draw) missed() float64 {
	sum := 0.0
	for _, p := range d.left {
		sum += p
	}
	return sum
}

// more draws fresh bags, in bundles as senders bring them, until the chance is
// low enough.
func (d *draw) more(o Options) (bags int, enough bool) {
	for d.missed() >= OneInTwenty {
		if d.fields == 0 {
			return 0, false
		}
		s := o.Sensitivity
		// The first bag of every BagsPerSender is a farm's first.
		if int(float64(bags)/o.BagsPerSender) == int(float64(bags-1)/o.BagsPerSender) && bags > 0 {
			s *= 1 - o.SameFarm
		}
		d.bag(s)
		bags++
	}
	return bags, true
}

// CannonRoeMissed is the chance that so many bags from different fields miss it
// in all of d infested fields of n, by Cannon and Roe's formula turned around:
// (1 - bags / (n - (d-1)/2))^d.
func CannonRoeMissed(bags float64, n, d int) float64 {
	return math.Pow(max(0, 1-bags/(float64(n)-float64(d-1)/2)), float64(d))
}

// CannonRoeBags is how many bags find at least one of d infested fields of n with
// the given confidence, by Cannon and Roe (1982): (1-(1-c)^(1/d)) (n - (d-1)/2),
// rounded up.
func CannonRoeBags(n, d int, confidence float64) int {
	bags := (1 - math.Pow(1-confidence, 1/float64(d))) * (float64(n) - float64(d-1)/2)
	return int(math.Ceil(bags - 1e-9))
}

// ExactBags is the same by the hypergeometric law.
func ExactBags(n, d int, confidence float64) int {
	dr := newDraw(n, d)
	for bags := 0; ; bags++ {
		if dr.missed() <= 1-confidence+1e-12 || dr.fields == 0 {
			return bags
		}
		dr.bag(1)
	}
}
