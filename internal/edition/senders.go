package edition

import (
	"maps"
	"slices"
)

// A season's senders as one set of samples knows them. Bags are counted per
// sender number and season.
type fall struct {
	season int
	old    []int // bags of senders whose farm may have sent in earlier falls
	fresh  []int // bags of senders whose farm surely had never sent before
	loose  int   // bags of visits by farms that had sent this fall already
}

// falls sorts samples into seasons and senders. Samples without a sender are
// left out.
//
// Three decisions, each toward fewer senders. Only what the samples of this
// set say counts: a sender whose first visit of the fall went to another
// township is "already" here. A sender with both answers in one fall (a bundle
// shared by two farms) takes the more doubtful one, Earlier. "First ever" from
// a sender with bags of an earlier fall in the same set contradicts itself and
// becomes Earlier.
func falls(samples []Pending) []fall {
	type key struct {
		season int
		sender SenderID
	}
	type visits struct {
		bags  int
		fresh bool
	}
	firm := make(map[key]visits)
	begin := make(map[SenderID]int)
	bySeason := make(map[int]*fall)
	for _, p := range samples {
		if p.Sender == NoSender {
			continue
		}
		if bySeason[p.Season] == nil {
			bySeason[p.Season] = &fall{season: p.Season}
		}
		if s, known := begin[p.Sender]; !known || p.Season < s {
			begin[p.Sender] = p.Season
		}
		if p.Standing == Already {
			bySeason[p.Season].loose++
			continue
		}
		k := key{p.Season, p.Sender}
		v, known := firm[k]
		firm[k] = visits{v.bags + 1, p.Standing == FirstEver && (v.fresh || !known)}
	}
	for k, v := range firm {
		f := bySeason[k.season]
		if v.fresh && begin[k.sender] == k.season {
			f.fresh = append(f.fresh, v.bags)
		} else {
			f.old = append(f.old, v.bags)
		}
	}
	out := make([]fall, 0, len(bySeason))
	for _, season := range slices.Sorted(maps.Keys(bySeason)) {
		out = append(out, *bySeason[season])
	}
	return sortFalls(out)
}

// sortFalls puts the senders of each fall in order of their bags, most first.
func sortFalls(fs []fall) []fall {
	for _, f := range fs {
		slices.SortFunc(f.old, func(a, b int) int { return b - a })
		slices.SortFunc(f.fresh, func(a, b int) int { return b - a })
	}
	return fs
}

// Senders is rule 1: how many surely different farms stand behind the samples.
// It is the largest, over falls s, of the senders of s that are not "already"
// plus the senders of later falls that are "first ever".
//
// Why they differ: a farm has one visit a fall that is not "already"; and a
// farm's first bags ever cannot be from a farm that sent in an earlier fall.
// A sender counts once however many townships and visits its number holds
// together. Results without grouping count as nobody. The estimate holds as
// far as the taps are true; a blank tap is "already" and never adds.
func Senders(samples []Pending) int { return countSenders(falls(samples)) }

func countSenders(fs []fall) int {
	best, later := 0, 0
	for _, f := range slices.Backward(fs) {
		best = max(best, len(f.old)+len(f.fresh)+later)
		later += len(f.fresh)
	}
	return best
}

// Balanced is rule 4, the p-percent rule: all but the two largest farms' bags
// must be at least percent of the largest's. Otherwise the second largest,
// who knows its own, could tell the largest's results too closely.
//
// Farms are not known, only senders, and one farm may have several sender
// numbers: one visit a fall that is not "already", and any that are. So the
// largest is taken as large as it could be: the bags of one line of visits, one
// a fall, that starts anywhere and goes on with senders that are not "first
// ever", and every "already" bag besides. Where everybody came once and in one
// fall this is the rule as published. Results without grouping neither help
// nor hinder.
func Balanced(percent int, samples []Pending) bool {
	return balanced(percent, falls(samples))
}

func balanced(percent int, fs []fall) bool {
	total := 0
	for _, f := range fs {
		total += f.loose + sum(f.old) + sum(f.fresh)
	}
	one, two := largestFarms(fs)
	return 100*(total-two) >= percent*one
}

// largestFarms gives the most bags that one farm, and that two farms together,
// can have in the falls.
func largestFarms(fs []fall) (one, two int) {
	loose := 0
	for _, f := range fs {
		loose += f.loose
	}
	for a := -1; a < len(fs); a++ {
		one = max(one, loose+line(fs, a, 0))
		for b := a; b < len(fs); b++ {
			two = max(two, loose+twoLines(fs, a, b))
		}
	}
	return one, two
}

// line is the bags of a farm whose first visit ever is the nth largest fresh
// one of the fall start (-1: before all of them) and that has the nth largest
// of the others in every later fall.
func line(fs []fall, start, n int) int {
	bags := 0
	if start >= 0 {
		bags = nth(fs[start].fresh, n)
	}
	for _, f := range fs[start+1:] {
		bags += nth(f.old, n)
	}
	return bags
}

// twoLines is the bags of two different farms that start in the falls a <= b.
func twoLines(fs []fall, a, b int) int {
	if a == b {
		return line(fs, a, 0) + line(fs, a, 1)
	}
	bags := line(fs, a, 0) + nth(fs[b].fresh, 0)
	for _, f := range fs[b+1:] {
		bags += nth(f.old, 1)
	}
	return bags
}

func nth(sorted []int, n int) int {
	if n < len(sorted) {
		return sorted[n]
	}
	return 0
}

func sum(ns []int) int {
	total := 0
	for _, n := range ns {
		total += n
	}
	return total
}
