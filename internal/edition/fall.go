package edition

import (
	"cmp"
	"maps"
	"slices"

	"sixmile/internal/place"
)

// FallSample is a counted sample as the fall figures see it, waiting or not.
type FallSample struct {
	County   place.ID
	Season   int
	Sender   SenderID
	Standing Standing
	Rank     int
	Found    bool // the rank is of the kind found
	Waiting  bool // in no tranche, those of this edition included
}

// NotTold is the highest rank of a fall figure that does not tell one.
const NotTold = -1

// FallFigure is about how much came in from a county in one fall, results
// that still wait included.
type FallFigure struct {
	County  place.ID
	Season  int
	Samples int // about this many; a multiple of five
	Finds   int // about this many with finds; a multiple of five, and 5 means "seven or fewer"
	Highest int // the highest rank among all, or NotTold
}

// FallFigures is rule 8. It gives a figure for every county and fall with at
// least FallFloor surely different senders, in order. Released is every tranche
// that stands, of this edition too, and samples have of a released one the
// result that was published: a correction shows in no figure before its tranche
// comes out again.
//
// A county gets no figure of a fall while a tranche is recalled that bags of the
// fall may be in: the figure less the map would be that tranche, put right.
//
// Together with the tranches "of this fall" the figure must not pin how many
// results wait. So a number is rounded to the nearest five, and one step
// further up where the tranches already show nearly as many: whatever is
// printed, the waiting samples, and the finds among them, could be at least
// five different numbers. The one exception: no finds at all is told as none
// when FallFloor senders wait, since it is then the same news for all of them.
//
// The highest rank is told only when FallFloor senders wait: otherwise "higher
// than on the map" would be news about one or two of them.
func FallFigures(r Rules, ranks Ranks, samples []FallSample, released []Tranche, recalled ...Tranche) []FallFigure {
	type key struct {
		county place.ID
		season int
	}
	groups := make(map[key][]FallSample)
	for _, s := range samples {
		k := key{s.County, s.Season}
		groups[k] = append(groups[k], s)
	}
	var out []FallFigure
	for _, k := range slices.SortedFunc(maps.Keys(groups), func(a, b key) int {
		return cmp.Or(cmp.Compare(a.county, b.county), cmp.Compare(a.season, b.season))
	}) {
		hidden := slices.ContainsFunc(recalled, func(t Tranche) bool { return t.County == k.county && t.Window.Through >= k.season })
		if hidden || fallSenders(groups[k], false) < r.FallFloor {
			continue
		}
		shown, shownFinds := shownThisFall(ranks, released, k.county, k.season)
		out = append(out, r.fallFigure(groups[k], shown, shownFinds))
	}
	return out
}

func (r Rules) fallFigure(group []FallSample, shown, shownFinds int) FallFigure {
	f := FallFigure{County: group[0].County, Season: group[0].Season, Highest: NotTold}
	highest, finds := 0, 0
	for _, s := range group {
		highest = max(highest, s.Rank)
		if s.Found {
			finds++
		}
	}
	manyWait := fallSenders(group, true) >= r.FallFloor
	f.Samples = about(len(group), max(shown, r.FallFloor))
	switch {
	case !manyWait:
		f.Finds = about(finds, shownFinds)
	case finds > 0:
		f.Finds = about(finds, max(shownFinds, 1))
	}
	if manyWait {
		f.Highest = highest
	}
	return f
}

// fallSenders counts the surely different senders of one fall.
func fallSenders(group []FallSample, waiting bool) int {
	first := make(map[SenderID]bool)
	for _, s := range group {
		if s.Sender != NoSender && s.Standing != Already && (s.Waiting || !waiting) {
			first[s.Sender] = true
		}
	}
	return len(first)
}

// shownThisFall is what a reader knows for sure of the fall: the tranches that
// say they are of it alone.
func shownThisFall(ranks Ranks, released []Tranche, county place.ID, season int) (samples, finds int) {
	for _, t := range released {
		if t.County == county && t.Window == (Window{ThisFall: true, Through: season}) {
			samples += t.Samples
			finds += t.finds(ranks)
		}
	}
	return samples, finds
}

// Behind is the least and the most that a number rounded so can have been: 0 to 7
// for 5, and from six under to two over for more, since a number may have been
// taken one step up. 0 is told of none alone.
func Behind(figure int) (least, most int) {
	switch {
	case figure <= 0:
		return 0, 0
	case figure == 5:
		return 0, 7
	}
	return figure - 6, figure + 2
}

// About is the rule by which fall figures are rounded, for other numbers that
// stand beside them: to the nearest five, or to the next five up where a reader
// who knows that it is at least atLeast could narrow it down further.
func About(n, atLeast int) int { return about(n, atLeast) }

// about rounds n to the nearest five, or to the next five up where a reader
// who knows that n is at least atLeast could otherwise narrow it down to fewer
// than five numbers.
func about(n, atLeast int) int {
	nearest := func(n int) int { return (n + 2) / 5 * 5 }
	if first := nearest(atLeast); first-2 < atLeast && n <= first+2 {
		return first + 5
	}
	return nearest(n)
}
