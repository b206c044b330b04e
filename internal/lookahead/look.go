package lookahead

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sixmile/internal/assay"
)

// ErrImpossible is in the error of a look that cannot be taken: crops nobody
// knows, too many rotations or years, or a density that is none.
var ErrImpossible = errors.New("cannot be looked ahead")

// Options say how a look is drawn.
type Options struct {
	Draws int    // 2,000 where it is zero
	Seed  uint64 // the same seed draws the same
}

// usualDraws is how many draws a look takes: the median's own error is then
// about 3 in 100 of the density.
const usualDraws = 2000

// Band is a quantity over all draws: its middle, the middle half, and the
// middle eight in ten.
type Band struct{ Median, Low50, High50, Low80, High80 float64 }

// Year is one fall of an outlook.
type Year struct {
	Crop Crop // empty for the fall the look starts from
	// Eggs per 100 cm³ of soil in the fall, after the crop.
	Eggs Band
	// Under has, for each cut point asked for, the share of draws at or under it.
	Under []float64
	// Yield is what a soybean yields against the same variety without the
	// nematode, as a share; nil for other crops.
	Yield *Band
}

// Outlook is what one rotation comes to: its first year is the start.
type Outlook struct {
	Plan  Plan
	Years []Year
}

// Last is the fall after the rotation's last crop.
func (o Outlook) Last() Year { return o.Years[len(o.Years)-1] }

// Ahead looks ahead along each plan from one field, all with the same draws.
func Ahead(s Set, f Field, plans []Plan, cuts []assay.Density, o Options) ([]Outlook, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if o.Draws == 0 {
		o.Draws = usualDraws
	}
	if err := check(f, plans, o); err != nil {
		return nil, err
	}
	longest := 0
	for _, p := range plans {
		longest = max(longest, len(p.Crops))
	}
	d := draw(s.prepare(), f, longest, o)
	out := make([]Outlook, len(plans))
	for i, p := range plans {
		out[i] = d.along(p, cuts)
	}
	return out, nil
}

func check(f Field, plans []Plan, o Options) error {
	switch {
	case o.Draws < 1 || o.Draws > MaxDraws:
		return fmt.Errorf("Ahead: %w: %d draws", ErrImpossible, o.Draws)
	case len(plans) < 1 || len(plans) > MaxPlans:
		return fmt.Errorf("Ahead: %w: %d rotations", ErrImpossible, len(plans))
	case !(f.Start.Low > 0) || f.Start.Low > MaxEggs || math.IsNaN(f.Start.High) || f.Start.High > MaxEggs:
		return fmt.Errorf("Ahead: %w: no density to start from", ErrImpossible)
	}
	for c, years := range f.Grown {
		if !c.Resistant() || years < 0 || years > MaxGrown {
			return fmt.Errorf("Ahead: %w: %d years of %q", ErrImpossible, years, c)
		}
	}
	for _, p := range plans {
		if len(p.Crops) < 1 || len(p.Crops) > MaxYears {
			return fmt.Errorf("Ahead: %w: %d years", ErrImpossible, len(p.Crops))
		}
		for _, c := range p.Crops {
			if !c.Known() {
				return fmt.Errorf("Ahead: %w: crop %q", ErrImpossible, c)
			}
		}
	}
	return nil
}

// draws are all the luck of one look.
type draws struct {
	m       *model
	grounds []ground
	years   [][]year // by year, then by draw
	start   []float64
}

func draw(m *model, f Field, longest int, o Options) *draws {
	rng := rand.New(rand.NewPCG(o.Seed, 0x736f7962))
	d := &draws{m: m, grounds: make([]ground, o.Draws), years: make([][]year, longest), start: make([]float64, o.Draws)}
	for t := range d.years {
		d.years[t] = make([]year, o.Draws)
	}
	n := rng.NormFloat64
	for i := range d.grounds {
		g := &d.grounds[i]
		*g = ground{start: n(), season: n(), winter: n(), weeds: n(), volunteer: n(), bean: n(), tolerance: n(), least: n(), trend: [3]float64{n(), n(), n()}}
		d.start[i] = m.begin(g, f.Start)
		// All the years there may be are drawn, so that a longer rotation beside
		// it changes nothing of a shorter one's.
		for t := range MaxYears {
			w := weather{winter: n(), season: n()}
			if t >= longest {
				continue
			}
			var grown [3]float64
			for k, c := range sources {
				grown[k] = float64(f.Grown[c] + t)
			}
			d.years[t][i] = m.year(g, w, grown)
		}
	}
	return d
}

func (d *draws) along(p Plan, cuts []assay.Density) Outlook {
	eggs := slices.Clone(d.start)
	sorted := make([]float64, len(eggs))
	yields := make([]float64, len(eggs))
	out := Outlook{Plan: p, Years: make([]Year, 0, len(p.Crops)+1)}
	out.Years = append(out.Years, fall("", eggs, sorted, cuts))
	for t, c := range p.Crops {
		years := d.years[t]
		soybean := c.Soybean()
		for i := range eggs {
			y := &years[i]
			pi := y.plant(eggs[i], p.Weeds)
			if soybean {
				yields[i] = d.m.yield(&d.grounds[i], pi, c)
			}
			eggs[i] = d.m.harvest(y, pi, c, p.Volunteers)
		}
		year := fall(c, eggs, sorted, cuts)
		if soybean {
			slices.Sort(yields)
			b := band(yields)
			year.Yield = &b
		}
		out.Years = append(out.Years, year)
	}
	return out
}

// fall sums up one fall; sorted is room to work in.
func fall(c Crop, eggs, sorted []float64, cuts []assay.Density) Year {
	copy(sorted, eggs)
	slices.Sort(sorted)
	y := Year{Crop: c, Eggs: band(sorted), Under: make([]float64, len(cuts))}
	for i, cut := range cuts {
		under, _ := slices.BinarySearchFunc(sorted, float64(cut), func(x, cut float64) int {
			if x <= cut {
				return -1
			}
			return 1
		})
		y.Under[i] = float64(under) / float64(len(sorted))
	}
	return y
}

// band reads quantiles off sorted values.
func band(sorted []float64) Band {
	return Band{
		Median: quantile(sorted, 0.5), Low50: quantile(sorted, 0.25), High50: quantile(sorted, 0.75),
		Low80: quantile(sorted, 0.1), High80: quantile(sorted, 0.9),
	}
}

// quantile interpolates between order statistics, the ends at 0 and 1 (type 7
// of Hyndman and Fan 1996).
func quantile(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := int(h)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}
