package gazette

import (
	"regexp"
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/place"
)

// Captions give each part of a map its accessible name and the address it
// leads to, "" for none.
type Captions struct {
	County   func(*CountyView) (title, href string)
	Township func(*TownshipView) (title, href string)
	Joined   func(i int, j *JoinedView) (title, href string)
}

// CountyMap is the map of one county of the Issue.
func (x *Index) CountyMap(v *CountyView, imprint atlas.Imprint, cap Captions) atlas.County {
	m := atlas.County{
		Imprint: imprint, Outline: v.Outline, Water: x.Issue.Rivers, Roads: x.Issue.Roads, Ridge: x.Issue.Ridge,
		Towns: x.towns(), Neighbors: x.around(v),
	}
	if e, err := x.Edge(); err == nil { // a map without the line is better than none
		m.Edge = e.Within(v.Outline)
	}
	for i := range v.Areas {
		a := &v.Areas[i]
		code, short := corner(a.Place)
		title, href := cap.Township(a)
		m.Areas = append(m.Areas, atlas.Area{
			ID: int(a.ID), Code: code, Short: short, Shape: a.Outline, Mark: a.Mark, Title: title, Href: href,
		})
	}
	for i := range v.Joined {
		j := &v.Joined[i]
		title, href := cap.Joined(i, j)
		members := make([]int, len(j.Members))
		for k, t := range j.Members {
			members[k] = int(t.ID)
		}
		m.Joined = append(m.Joined, atlas.Joined{Shape: j.Shape, Members: members, Mark: j.Mark, Title: title, Href: href})
	}
	return m
}

// StateMap is the map of all counties by their highest level.
func (x *Index) StateMap(imprint atlas.Imprint, cap Captions) atlas.State {
	m := atlas.State{Imprint: imprint, Outline: x.Issue.Outline, Water: x.Issue.Rivers, Roads: x.Issue.Roads, Ridge: x.Issue.Ridge}
	if e, err := x.Edge(); err == nil {
		m.Edge = e.Lines
	}
	for _, town := range x.towns() {
		if town.Rank <= 1 { // there is no room for the others beside the counties' names
			m.Towns = append(m.Towns, town)
		}
	}
	for _, v := range x.state.Counties {
		title, href := cap.County(v)
		m.Counties = append(m.Counties, atlas.Area{
			ID: int(v.ID), Code: v.Name, Short: v.Code, Shape: v.Outline,
			Mark: v.Level.Mark(x.Issue.Scheme), Title: title, Href: href,
		})
	}
	return m
}

func (x *Index) towns() []atlas.Town {
	out := make([]atlas.Town, len(x.Issue.Towns))
	for i, t := range x.Issue.Towns {
		out[i] = atlas.Town{Name: t.Name, At: t.At, Rank: t.Rank}
	}
	return out
}

// around lists the counties that may show at the edge of a county's map: those
// that touch it only at a corner too.
func (x *Index) around(v *CountyView) []atlas.Area {
	lo, hi, ok := bounds(v.Outline)
	if !ok {
		return nil
	}
	reach := max(hi.X-lo.X, hi.Y-lo.Y) / 4
	var out []atlas.Area
	for i := range x.Issue.Counties {
		c := &x.Issue.Counties[i]
		clo, chi, ok := bounds(c.Outline)
		if !ok || c.ID == v.ID || clo.X > hi.X+reach || chi.X < lo.X-reach || clo.Y > hi.Y+reach || chi.Y < lo.Y-reach {
			continue
		}
		out = append(out, atlas.Area{ID: int(c.ID), Code: c.Name, Shape: c.Outline})
	}
	return out
}

func bounds(s atlas.Shape) (lo, hi atlas.Point, ok bool) {
	for _, polygon := range s {
		for _, p := range slices.Concat(polygon...) {
			if !ok {
				lo, hi, ok = p, p, true
			}
			lo = atlas.Point{X: min(lo.X, p.X), Y: min(lo.Y, p.Y)}
			hi = atlas.Point{X: max(hi.X, p.X), Y: max(hi.Y, p.Y)}
		}
	}
	return lo, hi, ok
}

// surveyed is the code of a township of the public land survey.
var surveyed = regexp.MustCompile(`^T(\d+½?[NS]?) ?R(\d+½?[EW]?)$`)

var number = regexp.MustCompile(`\d+½?`)

// corner is what a township is called in its corner of the map, and what is
// left of it where there is little room: "T21N R8E" and "21-8" for surveyed
// townships, name and code for others.
func corner(p place.Place) (code, short string) {
	if m := surveyed.FindStringSubmatch(p.Code); m != nil {
		return p.Code, number.FindString(m[1]) + "-" + number.FindString(m[2])
	}
	if p.Name == "" {
		return p.Code, ""
	}
	return p.Name, p.Code
}
