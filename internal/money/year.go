package money

import (
	"cmp"
	"slices"
	"time"
)

// Year is a fiscal year, named by the calendar year it ends in.
type Year int

// Calendar tells in which month the program's fiscal year begins.
type Calendar struct{ First time.Month }

// DefaultCalendar begins in July, as most states' do. Common practice, no source:
// the office sets its own.
var DefaultCalendar = Calendar{First: time.July}

// Year is the fiscal year that a day is in.
func (c Calendar) Year(day time.Time) Year {
	y := day.Year()
	if c.First > time.January && day.Month() >= c.First {
		y++
	}
	return Year(y)
}

// Days are the first and the last day of a fiscal year.
func (c Calendar) Days(y Year) (first, last time.Time) {
	start := int(y)
	if c.First > time.January {
		start--
	}
	first = time.Date(start, c.First, 1, 0, 0, 0, 0, time.UTC)
	return first, first.AddDate(1, 0, -1)
}

// Prices is what a bag costs at each of its steps, from a day on.
type Prices struct {
	From    time.Time
	Bag     Cents // the bag itself with its label and slip, when it is issued
	Postage Cents // when its soil arrives
	Fee     Cents // the lab's, when it is counted
}

// Round is what a bag costs that goes the whole way.
func (p Prices) Round() Cents { return p.Bag + p.Postage + p.Fee }

// At is the prices of a day: the latest that had begun. False before the first.
func At(list []Prices, day time.Time) (Prices, bool) {
	var best Prices
	found := false
	for _, p := range list {
		if !p.From.After(day) && (!found || p.From.After(best.From)) {
			best, found = p, true
		}
	}
	return best, found
}

// Budget is what one sponsor gives for one fiscal year.
type Budget struct {
	Year    Year
	Sponsor string
	Amount  Cents
}

// Of lists a year's budgets, the largest first.
func Of(list []Budget, y Year) (out []Budget, sum Cents) {
	for _, b := range list {
		if b.Year == y {
			out = append(out, b)
			sum += b.Amount
		}
	}
	slices.SortFunc(out, func(a, b Budget) int {
		return cmp.Or(cmp.Compare(b.Amount, a.Amount), cmp.Compare(a.Sponsor, b.Sponsor))
	})
	return out, sum
}

// Tally is how many bags took each step on one day.
type Tally struct {
	Day                        time.Time
	Issued, Arrived, Countings int
}

// Spending is what bags cost, by step.
type Spending struct {
	Issued, Arrived, Countings int
	Bags, Postage, Fees        Cents
	Unpriced                   int // steps before the first prices: they cost nothing here
}

// Sum is all of it together.
func (s Spending) Sum() Cents { return s.Bags + s.Postage + s.Fees }

// Spent adds up what the steps of bags between two days cost, each at the
// prices of its own day.
func Spent(tallies []Tally, list []Prices, first, last time.Time) (s Spending) {
	for _, t := range tallies {
		if t.Day.Before(first) || t.Day.After(last) {
			continue
		}
		s.Issued += t.Issued
		s.Arrived += t.Arrived
		s.Countings += t.Countings
		p, ok := At(list, t.Day)
		if !ok {
			s.Unpriced += t.Issued + t.Arrived + t.Countings
			continue
		}
		s.Bags += p.Bag.Times(t.Issued)
		s.Postage += p.Postage.Times(t.Arrived)
		s.Fees += p.Fee.Times(t.Countings)
	}
	return s
}
