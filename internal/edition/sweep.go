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

// township is the first chance: a tranche of the place's own.
func (s *sweep) township(t place.ID) {
	l := s.left[t]
	if l.blocked() {
		l.reasons = append(l.reasons, Uncounted)
		return
	}
	mine := known(l.results)
	switch {
	case len(mine) == 0:
	case s.senders(mine) < s.rules.K:
		l.reasons = append(l.reasons, TooFewSenders)
	case !s.balanced(s.rules.DominancePercent, mine):
		l.reasons = append(l.reasons, Dominance)
	default:
		s.draft(KindTownship, []place.ID{t}, s.cut.Season, mine)
		note(s.history.Own, []place.ID{t}, s.cut.Season)
	}
}

// district is the second chance, for what has waited.
func (s *sweep) district(d district) {
	through := s.cut.Season - s.rules.Patience
	pool := known(s.waited(d.townships, through))
	var why Reason
	switch {
	case len(pool) == 0:
		why = DistrictTooFew
	case s.senders(pool) < s.rules.K:
		why = DistrictTooFew
	case !s.balanced(s.rules.DominancePercent, pool):
		why = DistrictDominance
	case !s.districtOpen(s.history, d):
		why = DistrictShown
	default:
		s.draft(KindDistrict, d.townships, through, pool)
		note(s.history.Pooled, d.townships, through)
	}
	for _, t := range d.townships {
		s.explain(s.left[t], through, DistrictPatience, why)
	}
}

// remainder is the last chance, and the only one for county-only results and
// past results without grouping.
func (s *sweep) remainder() {
	through := s.cut.Season - 2*s.rules.Patience
	everywhere := append([]place.ID{s.county.id}, s.county.townships...)
	pool := s.waited(everywhere, through)
	var why Reason
	switch {
	case s.left[s.county.id].blocked():
		why = CountyUncounted
	case s.senders(pool) < s.rules.K:
		why = CountyTooFew
	case !s.balanced(s.rules.DominancePercent, pool):
		why = CountyDominance
	case !s.remainderOpen(s.history, s.county, through):
		why = CountyShown
	default:
		s.draft(KindRemainder, []place.ID{s.county.id}, through, pool)
	}
	for _, p := range everywhere {
		s.explain(s.left[p], through, CountyPatience, why)
	}
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

// explain notes why a place's results did not go out with a wider group.
func (s *sweep) explain(l *left, through int, patience, why Reason) {
	if l.blocked() || len(l.results) == 0 {
		return
	}
	old, young := false, false
	for _, r := range l.results {
		if patience == DistrictPatience && r.Sender == NoSender {
			continue
		}
		if r.Season <= through {
			old = true
		} else {
			young = true
		}
	}
	if young {
		l.reasons = append(l.reasons, patience)
	}
	if old && why != "" {
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
		} else if len(known(l.results)) < len(l.results) {
			reasons = append(reasons, NoGrouping)
		}
		s.lacks = append(s.lacks, Lack{
			Place: p, County: s.county.id, Waiting: len(l.results), Uncounted: l.uncounted,
			Senders: s.senders(l.results), Reasons: append(reasons, l.reasons...),
		})
	}
}
