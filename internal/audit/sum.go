package audit

import (
	"fmt"
	"slices"
	"strconv"

	"sixmile/internal/edition/attack"
)

// sum is everything a format may say of a scope.
type sum struct {
	ranks               []string
	samples, none       int
	unconfirmed, finds  int
	unsorted            int
	byRank              []int
	only                bool
	through             int
	shown, foundIn      int
	foundInAll, figures int
	groups, groupsFound int
	fallHighest         int  // of a fall figure; -2: this is none
	recalled            bool // a township whose figures were taken back
}

var blank = &sum{fallHighest: notFall}

const notFall = -2

// sumUp adds the tranches that stand on the map of an edition into every scope
// they belong to.
func sumUp(p attack.Public, number int) map[Scope]*sum {
	out := make(map[Scope]*sum)
	drawn, recalled := p.Drawn(number)
	var ranks []string
	for _, e := range p.Editions {
		if e.Number == number {
			ranks = e.Ranks
		}
	}
	at := func(s Scope) *sum {
		if out[s] == nil {
			out[s] = &sum{ranks: ranks, byRank: make([]int, len(ranks)), fallHighest: notFall}
		}
		return out[s]
	}
	groups := joined(drawn)
	for _, t := range drawn {
		of := Scope{County: t.County}
		switch t.Kind {
		case "township":
			of.Township = t.Places[0]
		case "district":
			of.Joined = 1 + slices.IndexFunc(groups[t.County], func(g []int) bool { return slices.Equal(g, t.Places) })
		default:
			of.Rest = true
		}
		for _, s := range []Scope{{}, {County: t.County}, of} {
			at(s).add(t)
		}
	}
	for _, f := range p.FallsDrawn(number) {
		s := at(Scope{County: f.County, Fall: f.Season})
		s.samples, s.finds, s.fallHighest = f.Samples, f.Finds, f.Highest
	}
	countPlaces(out, groups)
	for _, t := range recalled {
		if t.Kind == "remainder" {
			continue
		}
		for _, place := range t.Places {
			s := Scope{County: t.County, Township: place}
			if out[s] == nil && !slices.ContainsFunc(groups[s.County], func(g []int) bool { return slices.Contains(g, place) }) {
				out[s] = &sum{fallHighest: notFall, recalled: true}
			}
		}
	}
	return out
}

// joined lists each county's groups of joined townships in the order of their
// places.
func joined(drawn []attack.Tranche) map[int][][]int {
	out := make(map[int][][]int)
	for _, t := range drawn {
		if t.Kind == "district" {
			out[t.County] = append(out[t.County], t.Places)
		}
	}
	for county, groups := range out {
		slices.SortFunc(groups, slices.Compare[[]int])
		out[county] = slices.CompactFunc(groups, slices.Equal[[]int])
	}
	return out
}

func (s *sum) add(t attack.Tranche) {
	same := s.through == 0 || t.Through == s.through
	s.only = t.ThisFall && same && (s.samples == 0 || s.only)
	s.through = max(s.through, t.Through)
	s.samples += t.Samples
	for i, n := range t.Counts {
		kind := ""
		if !t.Coarse && i >= len(s.ranks) {
			continue // of another level table; "sums" tells a wrong number of counts
		}
		switch {
		case t.Coarse:
			kind = []string{"none", "unconfirmed", "found"}[i]
			if kind == "found" {
				s.unsorted += n
			}
		default:
			kind = s.ranks[i]
			s.byRank[i] += n
		}
		switch kind {
		case "none":
			s.none += n
		case "unconfirmed":
			s.unconfirmed += n
		default:
			s.finds += n
		}
	}
}

// countPlaces fills in the numbers of places of counties and of the state.
func countPlaces(sums map[Scope]*sum, groups map[int][][]int) {
	state := sums[Scope{}]
	for scope, s := range sums {
		switch {
		case scope.Township > 0:
			county := sums[Scope{County: scope.County}]
			for _, up := range []*sum{county, state} {
				up.shown++
				if s.finds > 0 {
					up.foundIn++
				}
			}
		case scope.Joined > 0 && s.finds > 0:
			sums[Scope{County: scope.County}].groupsFound++
		case scope.County > 0 && scope == (Scope{County: scope.County}):
			s.groups = len(groups[scope.County])
			state.figures++
			if s.finds > 0 {
				state.foundInAll++
			}
		}
	}
}

// highest is the highest rank, the least it can be where some are unsorted.
func (s *sum) highest() int {
	switch {
	case s.fallHighest != notFall:
		return s.fallHighest
	case s.samples == 0:
		return -1
	}
	for rank := len(s.byRank) - 1; rank >= 0; rank-- {
		if s.byRank[rank] > 0 && s.ranks[rank] == "found" {
			return rank
		}
	}
	switch {
	case s.unsorted > 0:
		return slices.Index(s.ranks, "found")
	case s.unconfirmed > 0:
		return slices.Index(s.ranks, "unconfirmed")
	}
	return slices.Index(s.ranks, "none")
}

// share is the finds in a hundred of those that are sure either way: 0 for none
// alone and 100 for all alone.
func (s *sum) share() int {
	switch {
	case s.finds == 0:
		return 0
	case s.none == 0:
		return 100
	}
	return min(max((200*s.finds+s.none+s.finds)/(2*(s.none+s.finds)), 1), 99)
}

// mark is the highest rank as maps draw it: the number of lines is the place
// among the found levels.
func (s *sum) mark() string {
	rank := s.highest()
	switch {
	case s.recalled:
		return "recalled"
	case rank < 0:
		return "no-figures"
	case s.ranks[rank] == "none":
		return "none-found"
	case s.ranks[rank] == "unconfirmed":
		return "unconfirmed"
	}
	return "found-" + strconv.Itoa(rank-slices.Index(s.ranks, "found")+1)
}

// value is the figure as a format should state it.
func (s *sum) value(m Measure) string {
	numbers := map[Measure]int{
		Samples: s.samples, Finds: s.finds, NoneFound: s.none, Unconfirmed: s.unconfirmed, Unsorted: s.unsorted,
		Highest: s.highest(), Shown: s.shown, FoundIn: s.foundIn, FoundInAll: s.foundInAll,
		WithFigures: s.figures, Groups: s.groups, GroupsFound: s.groupsFound,
		Judged: s.none + s.finds, Share: s.share(),
	}
	if n, known := numbers[m]; known {
		return strconv.Itoa(n)
	}
	switch m {
	case Mark:
		return s.mark()
	case HasFigures:
		return strconv.FormatBool(s.samples > 0)
	case Window:
		if s.only {
			return fmt.Sprintf("%d only", s.through)
		}
		return fmt.Sprintf("up to %d", s.through)
	}
	for rank, kind := range s.ranks {
		if m != Level(rank) {
			continue
		}
		switch kind { // coarse tranches tell these two as well
		case "none":
			return strconv.Itoa(s.none)
		case "unconfirmed":
			return strconv.Itoa(s.unconfirmed)
		}
		return strconv.Itoa(s.byRank[rank])
	}
	return "0"
}
