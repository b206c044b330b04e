package gazette

import (
	"slices"

	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// Round is what one edition added to a county.
type Round struct {
	Edition Edition
	Summary
	Share    Share
	HasShare bool

	tranches []edition.Tranche
}

// Rounds lists the editions that added anything to a county, oldest first. Every
// tranche is in one, so they sum to the county. They come from other places each
// time: a row of rounds is no trend.
func (x *Index) Rounds(v *CountyView) ([]Round, error) {
	tranches := x.ofCounty(v.ID)
	var out []Round
	for _, e := range x.Editions() {
		ours := slices.DeleteFunc(slices.Clone(tranches), func(t edition.Tranche) bool { return t.Edition != e.Number })
		if len(ours) == 0 {
			continue
		}
		r := Round{Edition: e, tranches: ours}
		var err error
		if r.Summary, err = summarize(x.ranks, ours); err != nil {
			return nil, err
		}
		r.Share, r.HasShare = shareOf(r.Figures)
		out = append(out, r)
	}
	return out, nil
}

// Editions are those that stand, up to this one, oldest first.
func (x *Index) Editions() []Edition {
	out := slices.Clone(x.Issue.Editions)
	if e := x.Issue.Edition; e.Number > 0 && !slices.ContainsFunc(out, func(o Edition) bool { return o.Number == e.Number }) {
		out = append(out, e)
	}
	slices.SortFunc(out, func(a, b Edition) int { return a.Number - b.Number })
	return out
}

// Last is the edition before this one that stands; false when this is the first.
func (x *Index) Last() (Edition, bool) {
	all := x.Editions()
	if len(all) < 2 {
		return Edition{}, false
	}
	return all[len(all)-2], true
}

// AsOf is the county as an edition showed it, by the tranches that stand now.
// The fall figure is this edition's alone and is left out.
func (x *Index) AsOf(v *CountyView, e Edition) (*CountyView, error) {
	then := *x.Issue
	then.Edition, then.Recalled = e, nil
	old := &Index{Issue: &then, ranks: x.ranks}
	upTo := slices.DeleteFunc(slices.Clone(x.ofCounty(v.ID)), func(t edition.Tranche) bool { return t.Edition > e.Number })
	return old.countyView(v.County, upTo, nil)
}

// Since is what this map says of a county that the map before did not.
type Since struct {
	Last Edition
	// FirstFinds are townships with eggs that had none on the map before, figures
	// or not; First are those without any figures before. Both are in the order of
	// County.Townships.
	FirstFinds, First []*TownshipView
}

// Since compares with the map before; false when this is the first. A township
// whose earlier figures were taken back has no first find: it may have had one.
func (x *Index) Since(v *CountyView) (Since, bool, error) {
	last, ok := x.Last()
	if !ok {
		return Since{}, false, nil
	}
	old, err := x.AsOf(v, last)
	if err != nil {
		return Since{}, false, err
	}
	s := Since{Last: last}
	for i := range v.Areas {
		now, then := &v.Areas[i], &old.Areas[i]
		if now.Finds > 0 && then.Finds == 0 && !slices.Contains(x.Issue.Recalled, now.ID) {
			s.FirstFinds = append(s.FirstFinds, now)
		}
		if now.HasFigures() && !then.HasFigures() {
			s.First = append(s.First, now)
		}
	}
	return s, true, nil
}

// Trend compares the newest edition's new figures with those of an earlier
// edition, in the townships that are in both and nowhere else.
type Trend struct {
	Before, Now Edition
	Townships   int
	Contrast    // Here is now
}

// TrendTownships and TrendBags are the least a trend is told from: townships in
// both editions, and bags on either side that are sure either way. Both are
// ours; no source.
const (
	TrendTownships = 2
	TrendBags      = 10
)

// Trend takes the latest earlier edition with which there is enough in common.
// Whether one is taken depends on how many bags there are and never on what was
// found in them.
func (x *Index) Trend(rounds []Round) (Trend, bool, error) {
	now, ranks := x.Issue.Edition, x.ranks
	at := slices.IndexFunc(rounds, func(r Round) bool { return r.Edition.Number == now.Number })
	for i := at - 1; i >= 0; i-- {
		both := inBoth(rounds[i].tranches, rounds[at].tranches)
		if len(both) < TrendTownships {
			continue
		}
		before, err := edition.Sum(ranks, ownOf(rounds[i].tranches, both)...)
		if err != nil {
			return Trend{}, false, err
		}
		after, err := edition.Sum(ranks, ownOf(rounds[at].tranches, both)...)
		if err != nil {
			return Trend{}, false, err
		}
		if c, ok := contrast(after, before); ok && before.Judged() >= TrendBags && after.Judged() >= TrendBags {
			return Trend{Before: rounds[i].Edition, Now: now, Townships: len(both), Contrast: c}, true, nil
		}
	}
	return Trend{}, false, nil
}

// inBoth lists the townships with tranches of their own in both.
func inBoth(a, b []edition.Tranche) []place.ID {
	there := edition.TownshipsShown(b)
	return slices.DeleteFunc(edition.TownshipsShown(a), func(id place.ID) bool { return !slices.Contains(there, id) })
}

// ownOf are the own tranches of these townships.
func ownOf(tranches []edition.Tranche, townships []place.ID) []edition.Tranche {
	var out []edition.Tranche
	for _, id := range townships {
		out = append(out, edition.OfTownship(tranches, id)...)
	}
	return out
}
