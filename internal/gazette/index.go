package gazette

import (
	"cmp"
	"fmt"
	"slices"
	"sync"

	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// Index is an Issue made ready for reading: everything is summed once, and a
// page looks up what it shows. It does not change and may be shared.
type Index struct {
	Issue *Issue

	ranks    edition.Ranks
	counties map[string]*CountyView // by slug
	byCounty map[place.ID][]edition.Tranche
	state    StateView
	edge     func() (*EdgeView, error) // once
}

// StateView is the whole state as its page and its map show it.
type StateView struct {
	Summary                   // of every tranche
	Counties    []*CountyView // in the order of Issue.Counties
	Shown       int           // townships with figures of their own
	WithFinds   int           // those of them with eggs
	FoundIn     int           // counties with eggs
	WithFigures int           // counties with figures of any kind
	Recalled    int           // townships that show that a figure was taken back
}

// NewIndex sums an Issue up. It errs where a tranche is of a county that the
// Issue does not have, or was counted by another level table than the Issue's
// (edition.ErrMixed).
func NewIndex(issue *Issue) (*Index, error) {
	x := &Index{Issue: issue, ranks: issue.Ranks(), counties: make(map[string]*CountyView, len(issue.Counties))}
	byID := make(map[place.ID]*CountyView, len(issue.Counties))
	for i := range issue.Counties {
		byID[issue.Counties[i].ID] = nil
	}
	x.byCounty = make(map[place.ID][]edition.Tranche, len(issue.Counties))
	for _, t := range issue.Tranches {
		if _, known := byID[t.County]; !known {
			return nil, fmt.Errorf("gazette.NewIndex: tranche %d of edition %d is of an unknown county", t.ID, t.Edition)
		}
		x.byCounty[t.County] = append(x.byCounty[t.County], t)
	}
	falls := make(map[place.ID][]edition.FallFigure, len(issue.Counties))
	for _, f := range issue.Falls {
		falls[f.County] = append(falls[f.County], f)
	}
	for i := range issue.Counties {
		c := &issue.Counties[i]
		v, err := x.countyView(c, x.byCounty[c.ID], falls[c.ID])
		if err != nil {
			return nil, fmt.Errorf("gazette.NewIndex: %w", err)
		}
		byID[c.ID] = v
		x.counties[c.Slug] = v
	}
	if err := x.sumState(byID); err != nil {
		return nil, fmt.Errorf("gazette.NewIndex: %w", err)
	}
	x.meetNeighbors(byID)
	x.edge = sync.OnceValues(x.workOutEdge)
	return x, nil
}

// County is the view of the county with this part of an address.
func (x *Index) County(slug string) (*CountyView, bool) {
	v, ok := x.counties[slug]
	return v, ok
}

// State is the view of all counties.
func (x *Index) State() *StateView { return &x.state }

func (x *Index) sumState(byID map[place.ID]*CountyView) (err error) {
	s := &x.state
	if s.Summary, err = summarize(x.ranks, x.Issue.Tranches); err != nil {
		return err
	}
	for i := range x.Issue.Counties {
		v := byID[x.Issue.Counties[i].ID]
		s.Counties = append(s.Counties, v)
		s.Shown += v.Shown
		s.WithFinds += v.WithFinds
		s.Recalled += v.Recalled
		if v.Finds > 0 {
			s.FoundIn++
		}
		if v.HasFigures() {
			s.WithFigures++
		}
	}
	return nil
}

func (x *Index) meetNeighbors(byID map[place.ID]*CountyView) {
	for _, v := range byID {
		for _, id := range v.County.Neighbors {
			if n := byID[id]; n != nil {
				v.Neighbors = append(v.Neighbors, n)
			}
		}
		slices.SortFunc(v.Neighbors, func(a, b *CountyView) int {
			return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.ID, b.ID))
		})
	}
}

// ofCounty are all tranches of a county. Who gets them must not change them.
func (x *Index) ofCounty(id place.ID) []edition.Tranche {
	if x.byCounty == nil {
		return edition.OfCounty(x.Issue.Tranches, id)
	}
	return x.byCounty[id]
}
