package gazette

import (
	"cmp"
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// CountyView is one county as its page and its map show it. Its figures add up:
// townships, joined townships and the rest sum to the total.
type CountyView struct {
	*County
	Summary // of every tranche of the county

	Areas  []TownshipView // in the order of County.Townships
	Joined []JoinedView   // by number of their first township
	// Rest is the remainder tranches: the rest of the county, township not
	// shown. Figures of townships that the boundaries no longer have are in it.
	Rest Summary

	Shown, WithFinds int // townships with figures of their own; those of them with eggs
	Recalled         int // townships whose figures were taken back, and that have no others

	Oldest    Window // of the oldest tranches; Window is of all
	Share     Share
	HasShare  bool
	Fall      Fall // of the edition's own season
	HasFall   bool
	Neighbors []*CountyView // by name
}

// TownshipView is a township with the sum of its own tranches.
type TownshipView struct {
	*Township
	Summary
	Mark   atlas.Mark
	Joined []int // indexes into CountyView.Joined
}

// Recalled tells that the township's own figures were taken back with their
// edition and that it has no others, of its own or joined.
func (t *TownshipView) Recalled() bool { return t.Mark.Standing == atlas.Recalled }

// JoinedView is the tranches that several townships have together.
type JoinedView struct {
	Summary
	Members []*Township // never empty, in the order of County.Townships
	Shape   atlas.Shape // outline of the members together
	Mark    atlas.Mark
}

// Where lists the places of the county's highest level.
type Where struct {
	Townships []*TownshipView
	Joined    []*JoinedView
	Rest      bool
}

// Highest tells where in the county the highest level was found. It is empty
// unless eggs were found.
func (v *CountyView) Highest() Where {
	var w Where
	if v.Finds == 0 {
		return w
	}
	for i := range v.Areas {
		if a := &v.Areas[i]; a.Finds > 0 && a.Level.Rank == v.Level.Rank {
			w.Townships = append(w.Townships, a)
		}
	}
	for i := range v.Joined {
		if j := &v.Joined[i]; j.Finds > 0 && j.Level.Rank == v.Level.Rank {
			w.Joined = append(w.Joined, j)
		}
	}
	w.Rest = v.Rest.Finds > 0 && v.Rest.Level.Rank == v.Level.Rank
	return w
}

// countyView sums the county's tranches up. They are all of one county.
func (x *Index) countyView(c *County, tranches []edition.Tranche, falls []edition.FallFigure) (*CountyView, error) {
	v := &CountyView{County: c}
	var err error
	if v.Summary, err = summarize(x.ranks, tranches); err != nil {
		return nil, err
	}
	known := make(map[place.ID]*Township, len(c.Townships))
	for i := range c.Townships {
		known[c.Townships[i].ID] = &c.Townships[i]
	}
	joined, rest := split(tranches, known)
	if v.Rest, err = summarize(x.ranks, rest); err != nil {
		return nil, err
	}
	for _, group := range joined {
		j, err := x.joinedView(c, group, known)
		if err != nil {
			return nil, err
		}
		v.Joined = append(v.Joined, j)
	}
	v.Areas = make([]TownshipView, len(c.Townships))
	for i := range c.Townships {
		if v.Areas[i], err = x.townshipView(&c.Townships[i], tranches, v.Joined); err != nil {
			return nil, err
		}
		if v.Areas[i].Recalled() {
			v.Recalled++
		}
		if v.Areas[i].HasFigures() {
			v.Shown++
		}
		if v.Areas[i].Finds > 0 {
			v.WithFinds++
		}
	}
	v.Oldest = oldestOf(tranches)
	v.Share, v.HasShare = shareOf(v.Figures)
	v.Fall, v.HasFall = fallOf(falls, x.Issue.Edition.Season)
	return v, nil
}

func (x *Index) townshipView(t *Township, tranches []edition.Tranche, joined []JoinedView) (TownshipView, error) {
	sum, err := summarize(x.ranks, edition.OfTownship(tranches, t.ID))
	v := TownshipView{Township: t, Summary: sum, Mark: sum.Level.Mark(x.Issue.Scheme)}
	for i, j := range joined {
		if slices.Contains(j.Members, t) {
			v.Joined = append(v.Joined, i)
		}
	}
	if !v.HasFigures() && len(v.Joined) == 0 && slices.Contains(x.Issue.Recalled, t.ID) {
		v.Mark = atlas.Mark{Standing: atlas.Recalled}
	}
	return v, err
}

func (x *Index) joinedView(c *County, group []edition.Tranche, known map[place.ID]*Township) (JoinedView, error) {
	sum, err := summarize(x.ranks, group)
	v := JoinedView{Summary: sum, Mark: sum.Level.Mark(x.Issue.Scheme)}
	for i := range c.Townships {
		if t := &c.Townships[i]; slices.Contains(group[0].Places, t.ID) {
			v.Members = append(v.Members, t)
		}
	}
	v.Shape = outlineOf(c, v.Members)
	return v, err
}

// outlineOf is the outline of the district that the townships make up. Where
// the boundaries have changed since and no district is these townships, their
// own outlines stand side by side.
func outlineOf(c *County, members []*Township) atlas.Shape {
	district := members[0].District
	of := 0
	for i := range c.Townships {
		if c.Townships[i].District == district {
			of++
		}
	}
	same := !slices.ContainsFunc(members, func(t *Township) bool { return t.District != district })
	for _, d := range c.Districts {
		if same && of == len(members) && d.ID == district && len(d.Outline) > 0 {
			return d.Outline
		}
	}
	var shape atlas.Shape
	for _, t := range members {
		shape = append(shape, t.Outline...)
	}
	return shape
}

// split sorts out the tranches that are of no single township: the joined ones,
// those of the same townships together, and the rest.
func split(tranches []edition.Tranche, known map[place.ID]*Township) (joined [][]edition.Tranche, rest []edition.Tranche) {
	isKnown := func(id place.ID) bool { return known[id] != nil }
	for _, t := range tranches {
		switch {
		case !slices.ContainsFunc(t.Places, isKnown) || t.Kind == edition.KindRemainder:
			rest = append(rest, t)
		case t.Kind == edition.KindDistrict:
			at := slices.IndexFunc(joined, func(g []edition.Tranche) bool { return samePlaces(g[0].Places, t.Places) })
			if at < 0 {
				at = len(joined)
				joined = append(joined, nil)
			}
			joined[at] = append(joined[at], t)
		}
	}
	slices.SortFunc(joined, func(a, b []edition.Tranche) int {
		pa, pb := slices.Sorted(slices.Values(a[0].Places)), slices.Sorted(slices.Values(b[0].Places))
		return cmp.Or(cmp.Compare(pa[0], pb[0]), slices.Compare(pa, pb))
	})
	return joined, rest
}

func samePlaces(a, b []place.ID) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}
