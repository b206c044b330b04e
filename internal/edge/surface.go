package edge

import (
	"fmt"
	"math"
	"slices"

	"sixmile/internal/place"
	"sixmile/internal/stat"
)

// Confidence of the bands and intervals of this package.
const Confidence = 0.9

// deviate is the standard normal deviate of that.
const deviate = 1.6448536269514722

// Chance is the chance of finds of the next bag from a place that is sure either
// way.
type Chance struct {
	Place  place.ID
	Season int
	// Logit and SD are the middle and the spread of the chance's logit, which is
	// taken as normal.
	Logit, SD float64
	Mean      float64
	Band      stat.Interval // at Confidence
	Looked    bool          // bags from the place itself are among the looks
}

func newChance(id place.ID, season int, logit, sd float64) Chance {
	c := Chance{Place: id, Season: season, Logit: logit, SD: sd}
	c.Mean = c.expect(func(p float64) float64 { return p })
	c.Band = stat.Interval{Low: logistic(logit - deviate*sd), High: logistic(logit + deviate*sd)}
	return c
}

// expect is the mean of a function of the chance, over the middles of a hundred
// equally likely parts.
func (c Chance) expect(f func(p float64) float64) float64 {
	sum := 0.0
	for _, z := range parts {
		sum += f(logistic(c.Logit + c.SD*z))
	}
	return sum / float64(len(parts))
}

var parts = func() (z [100]float64) {
	for i := range z {
		p := (float64(i) + 0.5) / float64(len(z))
		z[i] = math.Sqrt2 * math.Erfinv(2*p-1)
	}
	return z
}()

// FirstFind is the chance that at least one of so many more bags from the place
// has finds: its first, where it has none yet. It rises with the bags, each time
// by less. The bags are taken as of different farms.
func (c Chance) FirstFind(bags int) float64 {
	return c.expect(func(p float64) float64 { return 1 - math.Pow(1-p, float64(bags)) })
}

// Somewhere is the chance that at least one of so many fields would show finds:
// that it is somewhere in the place, as far as bags can tell.
func (c Chance) Somewhere(fields int) float64 { return c.FirstFind(fields) }

// Above is how likely the chance is over a level.
func (c Chance) Above(level float64) float64 {
	if c.SD == 0 {
		return 0
	}
	z := (math.Log(level/(1-level)) - c.Logit) / c.SD
	return math.Erfc(z/math.Sqrt2) / 2
}

// Surface is the chance of finds over places and falls.
type Surface struct {
	m       *model
	options Options
	looked  []bool
}

// Fit fits a surface. It is the same for the same survey and options, and takes
// about a second for two thousand places. ErrTooLittle is wrapped where fewer than
// 30 bags or 5 places were looked at, or where all came out alike.
func Fit(s Survey, o Options) (*Surface, error) {
	if err := o.Check(); err != nil {
		return nil, fmt.Errorf("edge.Fit: %w", err)
	}
	for i, l := range s.Looks {
		if l.None < 0 || l.Finds < 0 || l.Unconfirmed < 0 || l.From > l.Through || len(l.Places) == 0 ||
			slices.Min(l.Places) < 0 || slices.Max(l.Places) >= len(s.Places) {
			return nil, fmt.Errorf("edge.Fit: %w: look %d", ErrLook, i)
		}
	}
	m, err := newModel(s, o)
	if err != nil {
		return nil, fmt.Errorf("edge.Fit: %w", err)
	}
	if err := m.tune(); err != nil {
		return nil, fmt.Errorf("edge.Fit: %w", err)
	}
	f := &Surface{m: m, options: o, looked: make([]bool, len(s.Places))}
	for _, l := range s.Looks {
		if len(l.Places) == 1 {
			f.looked[l.Places[0]] = true
		}
	}
	return f, nil
}

// Chance is that of the i-th place in a fall.
//
// Its spread is that of the surface, and what sets a place apart from its
// surroundings besides.
func (f *Surface) Chance(i, season int) Chance {
	logit, variance := f.at(i, season)
	c := newChance(f.m.survey.Places[i].ID, season, logit, math.Sqrt(variance+f.m.local))
	c.Looked = f.looked[i]
	return c
}

// at is the surface's logit at a place in a fall, and its variance.
func (f *Surface) at(i, season int) (logit, variance float64) {
	k, t := f.m.number[i], float64(season)-f.m.t0
	here := sight{nodes: []int{k}, t: t}
	return f.m.z[2*k] + f.m.z[2*k+1]*t, here.variance(f.m.inv, []float64{1})
}

// Chances are those of all places in the survey's own fall, in its order.
func (f *Surface) Chances() []Chance {
	out := make([]Chance, len(f.m.survey.Places))
	for i := range out {
		out[i] = f.Chance(i, f.m.survey.Season)
	}
	return out
}

// Spread is the variance of a look over a binomial's, Options.Alike at least.
func (f *Surface) Spread() float64 { return f.m.spread }
