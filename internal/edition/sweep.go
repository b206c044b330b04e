package edition

import (
	"maps"
	"slices"

	"sixmile/internal/place"
)

// sweep gathers one county. Its history is a copy that takes in the tranches
// of this edition as they are made.
type sweep struct {
	judgments
	rules   Rules
	cut     Cut
	history History
	county  county

	left   map[place.ID]*left
	drafts []Draft
	lacks  []Lack
}

// left is what a place still holds during the sweep.
type left struct {
	results   []Pending // counted, received, not yet in a draft
	uncounted int
	reasons   []Reason
}

func (l *left) blocked() bool { return l.uncounted > 0 }

func (h History) copy() History {
	h.Own, h.Pooled = maps.Clone(h.Own), maps.Clone(h.Pooled)
	if h.Own == nil {
		h.Own = make(map[place.ID]int)
	}
	if h.Pooled == nil {
		h.Pooled = make(map[place.ID]int)
	}
	return h
}

func (s *sweep) run(at map[place.ID][]Pending) {
	s.left = make(map[place.ID]*left, len(s.county.townships)+1)
	for _, id := range append([]place.ID{s.county.id}, s.county.townships...) {
		l := &left{}
		for _, p := range at[id] {
			if p.blocks() {
				l.uncounted++
			}
			if p.held() {
				l.results = append(l.results, p)
			}
		}
		s.left[id] = l
	}
	for _, t := range s.county.townships {
		s.township(t)
	}
	for _, d := range s.county.districts {
		s.district(d)
	}
	s.remainder()
	sortDrafts(s.drafts)
	s.report()
}

// township is the first chance: a tranche of the place's own, of everything
// that waits there.
func (s *sweep) township(t place.ID) {
	l := s.left[t]
	if l.blocked() {
		l.reasons = append(l.reasons, Uncounted)
		return
	}
	members, why := s.choose(known(l.results), TooFewSenders, Dominance)
	if members != nil {
		s.draft(KindTownship, []place.ID{t}, s.cut.Season, members)
		note(s.history.Own, []place.ID{t}, s.cut.Season)
	}
	if len(known(l.results)) > 0 {
		l.reasons = append(l.reasons, why)
	}
}

// district is the second chance, for what has waited.
func (s *sweep) district(d district) {
	through := s.cut.Season - s.rules.Patience
	members, why := s.choose(known(s.waited(d.townships, through)), DistrictTooFew, DistrictDominance)
	switch {
	case members == nil:
	case !s.districtOpen(s.history, d):
		why = DistrictShown
	default:
		s.draft(KindDistrict, d.townships, through, members)
		note(s.history.Pooled, d.townships, through)
	}
	for _, t := range d.townships {
		s.explain(known(s.left[t].results), s.left[t], through, DistrictPatience, why)
	}
}

// remainder is the last chance, and the only one for county-only results and
// past results without grouping.
func (s *sweep) remainder() {
	through := s.cut.Season - 2*s.rules.Patience
	everywhere := append([]place.ID{s.county.id}, s.county.townships...)
	members, why := s.choose(s.waited(everywhere, through), CountyTooFew, CountyDominance)
	switch {
	case s.left[s.county.id].blocked():
		why = CountyUncounted
	case members == nil:
	case !s.remainderOpen(s.history, s.county, through):
		why = CountyShown
	default:
		s.draft(KindRemainder, []place.ID{s.county.id}, through, members)
	}
	for _, p := range everywhere {
		s.explain(s.left[p].results, s.left[p], through, CountyPatience, why)
	}
}

// choose takes what may go out together: all of the pool if it has k senders
// and is balanced, else all but the newest fall's, and so on. It gives nothing
// where nothing may; the reason is why something stays behind.
//
// Without the second try bags that wait would decide what becomes of others:
// because of newer ones, older ones would go out under a wider place's name.
func (s *sweep) choose(pool []Pending, few, dominance Reason) ([]Pending, Reason) {
	why := few
	for len(pool) > 0 && s.senders(pool) >= s.rules.K {
		why = dominance
		if s.balanced(s.rules.DominancePercent, pool) {
			return pool, why
		}
		pool = withoutLastFall(pool)
	}
	return nil, why
}

// withoutLastFall leaves out the newest fall's results.
func withoutLastFall(results []Pending) []Pending {
	last := results[0].Season
	for _, r := range results {
		last = max(last, r.Season)
	}
	return slices.DeleteFunc(slices.Clone(results), func(r Pending) bool { return r.Season == last })
}

// waited lists the results up to the fall through of places that are not
// blocked.
func (s *sweep) waited(places []place.ID, through int) []Pending {
	var out []Pending
	for _, p := range places {
		if l := s.left[p]; !l.blocked() {
			for _, r := range l.results {
				if r.Season <= through {
					out = append(out, r)
				}
			}
		}
	}
	return out
}

// known leaves out past results without grouping.
func known(results []Pending) []Pending {
	out := make([]Pending, 0, len(results))
	for _, r := range results {
		if r.Sender != NoSender {
			out = append(out, r)
		}
	}
	return out
}

// draft makes a tranche and takes its members out of what is left.
func (s *sweep) draft(kind Kind, places []place.ID, through int, members []Pending) {
	d := Draft{
		County: s.county.id, Kind: kind, Places: slices.Clone(places),
		Senders: s.senders(members), Floor: s.rules.K,
		Window:  Window{ThisFall: true, Through: through},
		Members: make([]SampleID, 0, len(members)),
	}
	gone := make(map[SampleID]bool, len(members))
	touched := make(map[place.ID]bool)
	for _, m := range members {
		d.Members = append(d.Members, m.Sample)
		d.Window.ThisFall = d.Window.ThisFall && m.Season == s.cut.Season
		gone[m.Sample] = true
		touched[m.Place] = true
	}
	sortSamples(d.Members)
	for p := range touched {
		l := s.left[p]
		l.results = slices.DeleteFunc(l.results, func(r Pending) bool { return gone[r.Sample] })
	}
	s.drafts = append(s.drafts, d)
}

// explain notes why results of a place did not go out with a wider group.
func (s *sweep) explain(results []Pending, l *left, through int, patience, why Reason) {
	if l.blocked() {
		return
	}
	old, young := false, false
	for _, r := range results {
		old = old || r.Season <= through
		young = young || r.Season > through
	}
	if young {
		l.reasons = append(l.reasons, patience)
	}
	if old {
		l.reasons = append(l.reasons, why)
	}
}

// report lists what waits.
func (s *sweep) report() {
	for _, p := range append([]place.ID{s.county.id}, s.county.townships...) {
		l := s.left[p]
		if len(l.results) == 0 && l.uncounted == 0 {
			continue
		}
		var reasons []Reason
		if p == s.county.id {
			reasons = append(reasons, CountyOnly)
			if l.blocked() {
				reasons = append(reasons, Uncounted)
			}
		} else if len(known(l.results)) < len(l.results) {
			reasons = append(reasons, NoGrouping)
		}
		s.lacks = append(s.lacks, Lack{
			Place: p, County: s.county.id, Waiting: len(l.results), Uncounted: l.uncounted,
			Senders: s.senders(l.results), Reasons: append(reasons, l.reasons...),
		})
	}
}
