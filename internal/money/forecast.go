package money

import (
	"math"

	"sixmile/internal/stat"
)

// Season is how far a season's bags have come.
type Season struct {
	Issued  int // bags
	Bundles int // they were sealed in
	Arrived int // their soil has come
	Counted int // or never to be: set aside, or in no condition to be counted
	Mailed  int // their form has come, their soil has not
	// Share is which part of a season's soil had come by the same day of the
	// earlier seasons; 1 when the season is over, 0 when no earlier one tells.
	Share float64
}

// Rate is which share of a season's bags will have come back in the end.
type Rate struct {
	stat.Interval
	Likely float64
	// Known is false where too little has come to tell: then the rate is anything
	// from what has come to all.
	Known bool
}

// leastShare is the part of a season's soil that must have come, by the earlier
// seasons' pace, before the rest is worked out from it. leastArrived is the same
// in bags. Our own choice.
const (
	leastShare   = 0.1
	leastArrived = 20
)

// ReturnRate projects the season's rate from what has come so far. Bags of a
// bundle come back together or not at all, so the interval is that of as many
// independent trials as there are bundles (Wilson's score interval), and never
// under what has come already.
func ReturnRate(s Season) Rate {
	if s.Issued == 0 {
		return Rate{Interval: stat.Interval{Low: 0, High: 1}}
	}
	sofar := float64(s.Arrived) / float64(s.Issued)
	if s.Share < leastShare || s.Arrived < leastArrived || s.Bundles == 0 {
		return Rate{Interval: stat.Interval{Low: sofar, High: 1}, Likely: sofar}
	}
	back := int(math.Round(sofar * float64(s.Bundles)))
	i, err := stat.Wilson(back, s.Bundles, stat.Confidence)
	if err != nil {
		return Rate{Interval: stat.Interval{Low: sofar, High: 1}, Likely: sofar}
	}
	scale := func(v float64) float64 { return math.Min(1, math.Max(sofar, v/s.Share)) }
	return Rate{Interval: stat.Interval{Low: scale(i.Low), High: scale(i.High)}, Likely: scale(sofar), Known: true}
}

// Range is an amount with how far it may be off.
type Range struct{ Low, Likely, High Cents }

func (r Range) plus(c Cents) Range { return Range{r.Low + c, r.Likely + c, r.High + c} }

// Outlook is what a fiscal year comes to.
type Outlook struct {
	Budget    Cents
	Spent     Cents // done
	Committed Cents // on its way: soil that waits for its count, forms whose soil is in the mail
	Still     Range // bags that may still come, beyond what is committed
	Total     Range // all three
	Left      Range // Budget less Total: Low is what is left when most comes
}

// Forecast puts together what is spent with what the season will still bring, at
// the prices of today. Only bags that are out now are in it.
func Forecast(budget, spent Cents, s Season, r Rate, p Prices) Outlook {
	uncounted := max(s.Arrived-s.Counted, 0)
	o := Outlook{Budget: budget, Spent: spent}
	o.Committed = p.Fee.Times(uncounted) + (p.Postage + p.Fee).Times(s.Mailed)
	each := p.Postage + p.Fee
	more := func(rate float64) Cents {
		back := int(math.Round(rate * float64(s.Issued)))
		return each.Times(max(back-s.Arrived-s.Mailed, 0))
	}
	o.Still = Range{more(r.Low), more(r.Likely), more(r.High)}
	o.Total = o.Still.plus(o.Spent + o.Committed)
	o.Left = Range{budget - o.Total.High, budget - o.Total.Likely, budget - o.Total.Low}
	return o
}

// More is what n more bags cost: each is paid for when it is issued, and those
// that come back once more.
func More(n int, r Rate, p Prices) Range {
	at := func(rate float64) Cents {
		return p.Bag.Times(n) + (p.Postage + p.Fee).Times(int(math.Round(rate*float64(n))))
	}
	return Range{at(r.Low), at(r.Likely), at(r.High)}
}

// Affords is the largest number of bags that costs no more than left even at
// the high end of the rate; 0 when nothing is left, and when bags cost nothing
// at all, since then money is not what bounds them.
func Affords(left Cents, r Rate, p Prices) int {
	if left <= 0 || p.Round() == 0 || More(1_000_000, r, p).High == 0 {
		return 0
	}
	low, high := 0, 1
	for More(high, r, p).High <= left && high < 1<<30 {
		low, high = high, 2*high
	}
	for high-low > 1 {
		if middle := (low + high) / 2; More(middle, r, p).High <= left {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}
