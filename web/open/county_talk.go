package open

import (
	"strconv"
	"strings"

	"sixmile/internal/gazette"
	"sixmile/internal/talk"
)

// point is a talking point in words.
type point struct{ ID, Text string }

// points says what the figures support.
func (t teller) points(v countyView) []point { return t.inWords(talk.Points(t.facts(v))) }

func (t teller) inWords(points []talk.Point) []point {
	out := make([]point, len(points))
	for i, p := range points {
		out[i] = point{p.ID, t.lang.Count("talk."+p.Key, p.N, p.Args...)}
	}
	return out
}

// facts are the county's figures as talking points need them.
func (t teller) facts(v countyView) talk.Facts {
	s := t.x.State()
	f := talk.Facts{
		County: t.county(v.CountyView), State: t.about.State, Townships: len(v.Areas), Shown: v.Shown, WithFinds: v.WithFinds,
		Bags: v.Samples, Unconfirmed: v.Unconfirmed, Share: shareFact(v.Share),
		StateCounties: s.WithFigures, StateWithFinds: s.FoundIn,
	}
	if v.hasSince {
		f.Edition = t.lang.MonthYear(v.since.Last.Released)
		f.FirstFinds, f.FirstFindsAt = len(v.since.FirstFinds), t.names(v, v.since.FirstFinds)
	}
	if v.Finds > 0 {
		f.Highest, f.HighestAt, f.AtLeast = t.level(v.Level), t.highestAt(v.CountyView), !v.Level.Exact
	}
	for _, n := range v.Neighbors {
		if n.HasFigures() {
			f.Neighbors++
		}
		if n.Finds > 0 {
			f.NeighborsWithFinds++
		}
	}
	if d, known := t.x.Missed(); known {
		f.Missed = gazette.Rounded(d)
	}
	if v.office != nil && !v.over {
		f.Bagged = strings.Join(t.bags(v), " ")
	}
	t.levelFacts(v, &f)
	t.comparedFacts(v, &f)
	return f
}

// levelFacts fills in what follows from the levels of bags and of townships.
func (t teller) levelFacts(v countyView, f *talk.Facts) {
	if l, known := gazette.Typical(v.Figures); known {
		f.Typical, f.TypicalNone = t.level(l), l.Rank == 0
	}
	if bars := t.x.Bars(v.Figures); len(bars) > 0 && v.CoarseFinds == 0 {
		top := bars[len(bars)-1]
		f.Top, f.AtTop = t.className(top.Class), talk.Share{N: top.Bags, Of: top.Of, Interval: top.Interval}
	}
	if v.HasFall {
		f.Fall = &talk.Fall{Year: strconv.Itoa(v.Fall.Season), Bags: v.Fall.Samples, Finds: v.Fall.Finds, Few: v.Fall.SevenOrFewer()}
	}
	if p, clear := v.Part(); clear {
		f.Part = &talk.Part{Side: t.side(p.Side), Across: t.side(p.Across), Found: p.Found, Shown: p.Shown,
			FoundAcross: p.FoundAcross, ShownAcross: p.ShownAcross}
	}
}

func (t teller) comparedFacts(v countyView, f *talk.Facts) {
	if c, ok := v.AgainstRest(v.rest); ok {
		d := differenceFact(c)
		f.Rest = &d
	}
	// A sentence for a room has no space to say that two methods were used.
	if v.hasTrend && t.x.Counting(v.ID, v.trend.Before.Number, v.trend.Now.Number).One() {
		f.Trend = &talk.Trend{Difference: differenceFact(v.trend.Contrast), Townships: v.trend.Townships,
			Earlier: t.lang.MonthYear(v.trend.Before.Released)}
	}
}

func shareFact(s gazette.Share) talk.Share {
	return talk.Share{N: s.Finds, Of: s.Judged, Interval: s.Interval}
}

func differenceFact(c gazette.Contrast) talk.Difference {
	low, high := c.PerHundred()
	return talk.Difference{Here: shareFact(c.Here), There: shareFact(c.There), Low: low, High: high}
}
