// Package plan says where the next season's bags do the most good. Lots go to
// counties; which townships of a county to ask first is a suggestion to its
// educator.
//
// What the package is given of a place are six plain numbers, all of them worked
// out from released figures. There is no sample here and no way to hand one in.
//
// # What a bag is worth
//
// Each aim values the bags a place gets by a function that rises ever less:
//
//   - new finds: the chance that one of them is the place's first find. The share
//     of the place's fields that would show eggs is not known: it has a beta
//     distribution with mean Find, as good as Weight bags' worth of knowledge, so
//     that many clean bags from one place teach that there is little to find.
//   - being surer: by how much the chance falls that clean bags have missed it.
//     Each further clean bag multiplies Miss by Clean.
//   - following high levels: Level times the share of what is unknown of the
//     place's level that n bags take away, n/(1+n): the variance of the mean of n
//     bags, where what is known beforehand is worth one bag. Our own choice.
//   - fairness: the share of all bags that lie where host acres would put them.
//
// A bag that is issued is worth Return of one that comes back. Bags thinned out
// at random keep every value concave. The sum over places of concave values is
// concave in what a county gets, so giving bag after bag to the county where it
// adds most is the best there is (Gross 1956; Fox 1966, Management Science
// 13:210-216, "marginal allocation").
package plan

import (
	"time"

	"sixmile/internal/fault"
	"sixmile/internal/place"
)

// Place is what is known of one township from released figures.
type Place struct {
	ID, County place.ID
	Acres      int     // in host crops
	Found      bool    // it has finds: then Find, Weight, Miss and Clean are not used
	Find       float64 // chance that the next bag from here has eggs, 0 to 1
	Weight     float64 // how many bags' worth of knowledge Find rests on, over 0
	Miss       float64 // chance that the clean bags looked at have missed it; 1: none was
	Clean      float64 // what one more clean bag multiplies Miss by, 0 to 1
	Level      float64 // how high the highest level is, 0 to 1; 0 without finds
}

// Aim is what bags are wanted for.
type Aim int

// The aims.
const (
	Finds Aim = iota
	Sure
	Levels
	Fair
	NumAims = 4
)

// Aims lists them in their order.
func Aims() []Aim { return []Aim{Finds, Sure, Levels, Fair} }

// String is the aim's name in the catalog and in files.
func (a Aim) String() string { return [...]string{"finds", "sure", "levels", "fair"}[a] }

// Gains is what bags are worth, aim by aim: expected first finds; places'
// chances of a miss taken away; levels followed; share of bags where acres would
// put them.
type Gains [NumAims]float64

// Reach is how a county's bags get to its townships.
type Reach int

// The two ways. In AsTheyCome growers of every township take bags in
// proportion to its acres; in AsSuggested the educator asks for them where they
// do the most good.
const (
	AsTheyCome Reach = iota
	AsSuggested
)

// Ask is what a plan is to do.
type Ask struct {
	Bags    int
	Least   int // at least so many for each county's office
	Return  float64
	Weights [NumAims]float64 // how much each aim counts; any scale
	Reach   Reach
}

// MaxBags is the most bags a plan is made for.
const MaxBags = 90_000

// Fields that a refused Ask may name.
const (
	FieldBags    = "bags"
	FieldLeast   = "least"
	FieldReturn  = "return"
	FieldWeights = "weights"
)

// Check returns a *fault.Invalid for what cannot be done with so many counties.
func (a Ask) Check(counties int) error {
	bad := &fault.Invalid{}
	if a.Bags < 1 || a.Bags > MaxBags {
		bad.Add(FieldBags, "plan.problem.bags", "most", MaxBags)
	}
	if a.Least < 0 || a.Least > MaxBags || a.Least*counties > a.Bags {
		bad.Add(FieldLeast, "plan.problem.least", "counties", counties)
	}
	if !(a.Return > 0 && a.Return <= 1) {
		bad.Add(FieldReturn, "plan.problem.return")
	}
	sum := 0.0
	for _, w := range a.Weights {
		if !(w >= 0 && w <= 1000) {
			bad.Add(FieldWeights, "plan.problem.weights")
		}
		sum += w
	}
	if sum == 0 {
		bad.Add(FieldWeights, "plan.problem.weights")
	}
	return bad.OrNil()
}

// Lot is what one county gets.
type Lot struct {
	County place.ID
	Acres  int
	Bags   int
	Gains  Gains // of all its bags; Fair is of no county alone and stays 0
	Last   Gains // what the last of them buys; zero without bags
	Next   Gains // what one more would buy
}

// Suggestion is how many of its county's bags a township should be asked for.
type Suggestion struct {
	Place place.ID
	Bags  int
	Gains Gains
}

// Saved is a plan as it was kept, to be looked back on.
type Saved struct {
	No      int // of plans, oldest first
	Season  int // the fall it was for
	Edition int // whose figures it was made from
	Day     time.Time
	Plan
	Given []Place // what it was given, in the order of Plan.Places
}

// Plan is an allotment with what it is worth.
type Plan struct {
	Ask    Ask
	Lots   []Lot        // in the order of the counties' numbers
	Places []Suggestion // in the order given
	Total  Gains
	// Best is what a plan for each aim alone would reach: aims weigh against each
	// other as shares of it.
	Best Gains
	// Value is the weighted sum of Total's shares of Best, 1 at most.
	Value float64
}

// UsualWeights are what the office's form starts with. Our own choice.
func UsualWeights() [NumAims]float64 { return [NumAims]float64{4, 2, 1, 1} }
