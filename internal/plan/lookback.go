package plan

import (
	"errors"
	"math"

	"sixmile/internal/stat"
)

// Call is a chance that was stated, and whether it came about.
type Call struct {
	Chance float64
	Came   bool
}

// ErrNoCalls: nothing was stated that could be looked back on.
var ErrNoCalls = errors.New("no stated chances to look back on")

// Score is how good stated chances were. Brier is the mean squared distance of
// chance and outcome (Brier 1950, Monthly Weather Review 78:1-3, in the form for
// a single event: half of his); 0 is perfect, and stating one half throughout
// gives a quarter.
//
// Reliability, Resolution and Uncertainty are Murphy's parts (1973, Journal of
// Applied Meteorology 12:595-600) over the bins: Brier = Reliability -
// Resolution + Uncertainty + Within, where Within is what chances that differ
// within a bin add (Stephenson, Coelho and Jolliffe 2008, Weather and Forecasting
// 23:752-757).
type Score struct {
	N                                    int
	Brier                                float64
	Reliability, Resolution, Uncertainty float64
	Within                               float64
	Base                                 float64 // the share that came about
	Skill                                float64 // 1 - Brier/Uncertainty; 0 where nothing varies
	Bins                                 []Bin
}

// Bin is the calls whose chances are alike.
type Bin struct {
	Low, High float64 // chances from Low up to, not including, High; the last includes 1
	N, Came   int
	Mean      float64 // of the chances
	Share     float64 // that came about
	Range     stat.Interval
}

// Look scores calls in so many equally wide bins; empty bins are left out.
func Look(calls []Call, bins int) (Score, error) {
	if len(calls) == 0 || bins < 1 {
		return Score{}, ErrNoCalls
	}
	all := make([]Bin, bins)
	s := Score{N: len(calls)}
	came := 0
	for _, c := range calls {
		at := min(int(c.Chance*float64(bins)), bins-1)
		all[at].N++
		all[at].Mean += c.Chance
		o := 0.0
		if c.Came {
			o = 1
			came++
			all[at].Came++
		}
		s.Brier += (c.Chance - o) * (c.Chance - o)
	}
	n := float64(s.N)
	s.Brier /= n
	s.Base = float64(came) / n
	s.Uncertainty = s.Base * (1 - s.Base)
	for i, b := range all {
		if b.N == 0 {
			continue
		}
		size := float64(b.N)
		b.Low, b.High = float64(i)/float64(bins), float64(i+1)/float64(bins)
		b.Mean, b.Share = b.Mean/size, float64(b.Came)/size
		b.Range, _ = stat.Wilson(b.Came, b.N, stat.Confidence) // of at least one: never refused
		s.Reliability += size / n * (b.Mean - b.Share) * (b.Mean - b.Share)
		s.Resolution += size / n * (b.Share - s.Base) * (b.Share - s.Base)
		s.Bins = append(s.Bins, b)
	}
	s.Within = s.Brier - (s.Reliability - s.Resolution + s.Uncertainty)
	if s.Uncertainty > 0 {
		s.Skill = 1 - s.Brier/s.Uncertainty
	}
	return s, nil
}

// Count is how many of the stated chances should have come about, with the range
// that holds the number 95 times in 100 where every chance is right and each
// stands alone, and how many did.
type Count struct {
	Expected  float64
	Low, High int
	Came      int
}

// Tally adds calls up. The range is that of the sum of independent trials of
// unequal chance (Poisson's binomial), worked out exactly.
func Tally(calls []Call) Count {
	c := Count{}
	chance := make([]float64, 1, len(calls)+1)
	chance[0] = 1
	for _, call := range calls {
		c.Expected += call.Chance
		if call.Came {
			c.Came++
		}
		chance = append(chance, 0)
		for k := len(chance) - 1; k > 0; k-- {
			chance[k] = chance[k]*(1-call.Chance) + chance[k-1]*call.Chance
		}
		chance[0] *= 1 - call.Chance
	}
	tail := (1 - stat.Confidence) / 2
	sum := 0.0
	c.Low, c.High = -1, len(calls)
	for k, p := range chance {
		sum += p
		if c.Low < 0 && sum > tail {
			c.Low = k
		}
		if sum >= 1-tail {
			c.High = k
			break
		}
	}
	c.Low = max(c.Low, 0)
	return c
}

// Agrees tells whether what came is within the range.
func (c Count) Agrees() bool { return c.Low <= c.Came && c.Came <= c.High }

// Spread is the largest chance less the smallest: with little of it a
// reliability diagram tells nothing.
func Spread(calls []Call) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range calls {
		low, high = math.Min(low, c.Chance), math.Max(high, c.Chance)
	}
	return math.Max(high-low, 0)
}
