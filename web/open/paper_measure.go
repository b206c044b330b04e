package open

import (
	"slices"
	"strconv"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edge"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
)

// recentFalls is how many falls "the last falls" are.
const recentFalls = 5

// picked is a county with the figures that a measure is of. All of them for most
// measures; those gathered up to one of the last falls; or those of one edition.
type picked struct {
	measure atlas.Measure
	all     *gazette.CountyView
	of      *gazette.CountyView // the same places
	first   map[int]bool        // townships with a first find in the edition
	edge    *gazette.EdgeView   // of standings
}

// pick chooses the tranches that a measure is of, and sums them up.
func (t teller) pick(v *gazette.CountyView, m atlas.Measure) (picked, error) {
	p := picked{measure: m, all: v, of: v}
	if m == atlas.Standings {
		var err error
		p.edge, err = t.x.Edge()
		return p, err
	}
	issue, ok := t.measured(m, *t.x.Issue)
	if !ok {
		return p, nil
	}
	issue.Tranches = edition.OfCounty(issue.Tranches, v.ID)
	if m == atlas.NewFigures {
		var err error
		if p.first, err = t.firstFinds(v); err != nil {
			return p, err
		}
	}
	x, err := gazette.NewIndex(&issue)
	if err != nil {
		return p, err
	}
	p.of, _ = x.County(v.Slug)
	return p, nil
}

// firstRecent is the first of the last falls.
func (t teller) firstRecent() int { return t.edition().Season - recentFalls + 1 }

// figure is what a place shows.
type figure struct {
	mark  atlas.Mark
	level gazette.Level // of measures of a level
	value string        // of the others
	sum   gazette.Summary
	stand *edge.Stand // of standings
}

// figure measures a sum of tranches.
func (t teller) figure(m atlas.Measure, s gazette.Summary) figure {
	f := figure{level: s.Level, sum: s}
	switch {
	case !s.HasFigures():
		return f
	case m == atlas.Standings:
		return standingOfSum(s)
	case m == atlas.ShareFound && s.Judged() == 0:
		// Every bag is unconfirmed: there is a figure, and no share.
		f.mark = atlas.Mark{Standing: atlas.Unconfirmed, Of: len(t.x.Issue.Scheme.Found())}
		return f
	case m == atlas.ShareFound:
		f.mark = atlas.ShareMark(s.Finds, s.Judged())
		f.value = t.say("paper.percent", "n", atlas.Percent(s.Finds, s.Judged()))
		return f
	case m == atlas.SampleCount:
		f.mark, f.value = atlas.SamplesMark(s.Samples), t.lang.Number(s.Samples)
		return f
	case m == atlas.TypicalLevel:
		f.level = t.typicalLevel(s.Figures)
	}
	f.mark = f.level.Mark(t.x.Issue.Scheme)
	return f
}

// typicalLevel is the level of the middle bag. Where finds without a level could
// decide it, it is the least it can be: as if all of those were at the lowest.
func (t teller) typicalLevel(f edition.Figures) gazette.Level {
	if l, known := gazette.Typical(f); known || f.Samples == 0 {
		return l
	}
	seen := f.None + f.Unconfirmed + f.CoarseFinds
	for i, c := range t.x.Issue.Scheme.Classes {
		if c.Kind != assay.Found {
			continue
		}
		if seen += f.Counts[i]; (f.Samples+1)/2 <= seen {
			return gazette.Level{Rank: i}
		}
	}
	return gazette.Level{Rank: -1, Exact: true}
}

// area is what a township shows: its figure, or that it has none that count.
func (t teller) area(p picked, i int) figure {
	all, of := &p.all.Areas[i], &p.of.Areas[i]
	switch {
	case p.edge != nil && !all.Recalled():
		return standing(p.edge.Stands[all.ID], all.Summary)
	case of.HasFigures():
		return t.figure(p.measure, of.Summary)
	case all.HasFigures():
		return figure{mark: atlas.Mark{Standing: atlas.Earlier}}
	}
	return figure{mark: all.Mark} // none, or taken back
}

// joint is what joined townships show.
func (t teller) joint(p picked, i int) figure {
	all := &p.all.Joined[i]
	if p.edge != nil {
		return standing(p.edge.Joined(p.all, i), all.Summary)
	}
	for k := range p.of.Joined {
		if j := &p.of.Joined[k]; slices.Equal(idsOf(j), idsOf(all)) {
			return t.figure(p.measure, j.Summary)
		}
	}
	return figure{mark: atlas.Mark{Standing: atlas.Earlier}}
}

func idsOf(j *gazette.JoinedView) []int {
	out := make([]int, len(j.Members))
	for i, m := range j.Members {
		out[i] = int(m.ID)
	}
	return out
}

// paperCounty is the county's map by a measure, whole but for what its sheet
// leaves off.
func (t teller) paperCounty(v *gazette.CountyView, m atlas.Measure) (atlas.County, picked, error) {
	p, err := t.pick(v, m)
	if err != nil {
		return atlas.County{}, p, err
	}
	c := t.x.CountyMap(v, t.paperImprint(p), gazette.Captions{
		Township: func(*gazette.TownshipView) (string, string) { return "", "" },
		Joined:   func(int, *gazette.JoinedView) (string, string) { return "", "" },
	})
	if !meets(c.Ridge, c.Outline) {
		c.Ridge = nil // a legend lists what is drawn
	}
	if !hasEdge(m) {
		c.Edge = atlas.EdgeLines{}
	}
	for i := range c.Areas { // CountyMap has them in the order of the view
		f, a := t.area(p, i), &c.Areas[i]
		a.Mark, a.Value, a.First = f.mark, f.value, p.first[a.ID]
		a.Title = t.figureTitle(p, v.Areas[i].Label(), v.Areas[i].Joined, f)
	}
	for i := range c.Joined {
		f := t.joint(p, i)
		c.Joined[i].Mark, c.Joined[i].Value = f.mark, f.value
		c.Joined[i].Title = t.figureTitle(p, t.say("county.row.joined", "number", i+1), nil, f)
	}
	return c, p, nil
}

// figureTitle says of a place what its mark says.
func (t teller) figureTitle(p picked, place string, joined []int, f figure) string {
	switch f.mark.Standing {
	case atlas.NoFigures:
		if len(joined) > 0 {
			return t.say("county.area.joined", "place", place, "number", joined[0]+1)
		}
		return t.say("map.area.blank", "place", place)
	case atlas.Recalled:
		return t.say("county.area.recalled", "place", place)
	case atlas.Earlier:
		return t.lang.SayOf("paper.area.earlier", p.measure.String(), "place", place)
	}
	if f.stand != nil {
		return t.standingTitle(place, f)
	}
	key := p.measure.String()
	if p.measure == atlas.ShareFound && f.value == "" {
		key = "unsure"
	}
	return t.lang.Count("paper.area."+key, f.sum.Samples, "place", place, "level", t.level(f.level), "value", f.value,
		"finds", f.sum.Finds, "judged", f.sum.Judged())
}

// bare takes what a sheet leaves off a map.
func bare(c atlas.County, without layer) atlas.County {
	if without&neighborLayer != 0 {
		c.Neighbors = nil
	}
	if without&riverLayer != 0 {
		c.Water = nil
	}
	if without&roadLayer != 0 {
		c.Roads = nil
	}
	if without&ridgeLayer != 0 {
		c.Ridge = nil
	}
	if without&townLayer != 0 {
		c.Towns = nil
	}
	return c
}

// meets tells whether a corner of one shape lies in the other: reference layers
// have many corners.
func meets(a, b atlas.Shape) bool { return cornerIn(a, b) || cornerIn(b, a) }

func cornerIn(a, b atlas.Shape) bool {
	for _, polygon := range a {
		for _, ring := range polygon {
			for _, p := range ring {
				if holdsPoint(b, p) {
					return true
				}
			}
		}
	}
	return false
}

// holdsPoint counts the edges to the right of a point (even-odd rule); one on an
// edge may be in or out.
func holdsPoint(s atlas.Shape, p atlas.Point) bool {
	in := false
	for _, polygon := range s {
		for _, ring := range polygon {
			for i, a := range ring {
				b := ring[(i+1)%len(ring)]
				if (a.Y > p.Y) == (b.Y > p.Y) {
					continue
				}
				// Whole meters of a state: products stay far below 2^63.
				side := int64(b.X-a.X)*int64(p.Y-a.Y) - int64(p.X-a.X)*int64(b.Y-a.Y)
				if side > 0 == (b.Y > a.Y) {
					in = !in
				}
			}
		}
	}
	return in
}

func year(n int) string { return strconv.Itoa(n) }
