package gazette

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/edge"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// EdgeView is what the edition's figures are worth where nothing was found, and
// where finds meet none found. All of it follows from the tranches.
type EdgeView struct {
	Options edge.Options
	Survey  edge.Survey
	Stands  map[place.ID]edge.Stand // of every township, by its own figures
	// Counties are the standings of counties, by all of their figures.
	Counties map[place.ID]edge.Stand

	// Surface is nil where there is too little to say; then so is all below.
	Surface *edge.Surface
	Chances map[place.ID]edge.Chance // of every township, in the edition's season
	Lines   atlas.EdgeLines
	Level   float64 // the chance that the edge is drawn along; 0: none is drawn

	joined map[place.ID][]edge.Stand // of a county's joined townships, as CountyView has them
}

// Edge works the view out, once an Index.
func (x *Index) Edge() (*EdgeView, error) { return x.edge() }

// mostFitted is the most townships that get a surface of chances: work grows with
// the square of their number, and twice as many as the largest states have would
// take minutes before the first page. Beyond it maps have no line.
const mostFitted = 6000

func (x *Index) workOutEdge() (*EdgeView, error) {
	e := &EdgeView{Options: edge.DefaultOptions(), Stands: map[place.ID]edge.Stand{},
		Counties: map[place.ID]edge.Stand{}, joined: map[place.ID][]edge.Stand{}}
	e.Options.Sensitivity = edge.SensitivityOf(x.Issue.Methods...)
	var err error
	if e.Survey, err = edge.NewSurvey(x.Issue.Edition.Season, x.places(), x.ranks, x.Issue.Tranches, e.Options.Reach); err != nil {
		return nil, fmt.Errorf("gazette.Index.Edge: %w", err)
	}
	stands, err := edge.Stands(e.Survey, e.Options)
	if err != nil {
		return nil, fmt.Errorf("gazette.Index.Edge: %w", err)
	}
	for i, s := range stands {
		e.Stands[e.Survey.Places[i].ID] = s
	}
	if err := errors.Join(x.standJoined(e), x.standCounties(e)); err != nil {
		return nil, fmt.Errorf("gazette.Index.Edge: %w", err)
	}
	if len(e.Survey.Places) > mostFitted {
		return e, nil
	}
	e.Surface, err = edge.Fit(e.Survey, e.Options)
	if errors.Is(err, edge.ErrTooLittle) {
		return e, nil
	}
	if err != nil {
		return nil, fmt.Errorf("gazette.Index.Edge: %w", err)
	}
	e.Chances = map[place.ID]edge.Chance{}
	for _, c := range e.Surface.Chances() {
		e.Chances[c.Place] = c
	}
	lines := e.Surface.Lines(func(p edge.XY) bool { return holds(x.Issue.Outline, p) })
	e.Level = lines.Level
	e.Lines = atlas.EdgeLines{Middle: paths(lines.Middle), Limits: append(paths(lines.Inner), paths(lines.Outer)...)}
	return e, nil
}

// places are all townships as the surface sees them.
func (x *Index) places() []edge.Place {
	var out []edge.Place
	for i := range x.Issue.Counties {
		for _, t := range x.Issue.Counties[i].Townships {
			p := edge.Place{ID: t.ID, Neighbors: t.Neighbors, Acres: acres(t.Outline)}
			p.X, p.Y = center(t.Outline)
			out = append(out, p)
		}
	}
	return out
}

// standJoined gives joined townships a standing of their own.
func (x *Index) standJoined(e *EdgeView) error {
	at := map[place.ID]int{}
	for i, p := range e.Survey.Places {
		at[p.ID] = i
	}
	for _, v := range x.state.Counties {
		for _, j := range v.Joined {
			var members []int
			area := 0.0
			for _, m := range j.Members {
				members = append(members, at[m.ID])
				area += e.Survey.Places[at[m.ID]].Acres
			}
			slices.Sort(members)
			var looks []edge.Look
			for _, l := range e.Survey.Looks {
				if len(l.Places) > 1 && slices.Equal(l.Places, members) {
					looks = append(looks, l)
				}
			}
			s, err := edge.StandOf(e.Survey.Season, area, looks, e.Options)
			if err != nil {
				return err
			}
			e.joined[v.ID] = append(e.joined[v.ID], s)
		}
	}
	return nil
}

// standCounties gives counties a standing by all of their tranches.
func (x *Index) standCounties(e *EdgeView) error {
	for _, v := range x.state.Counties {
		area := 0.0
		for i := range v.Areas {
			area += acres(v.Areas[i].Outline)
		}
		var looks []edge.Look
		for _, t := range x.ofCounty(v.ID) {
			f, err := edition.Sum(x.ranks, t)
			if err != nil {
				return err
			}
			looks = append(looks, edge.Look{From: t.Window.Through, Through: t.Window.Through,
				None: f.None, Unconfirmed: f.Unconfirmed, Finds: f.Finds, Senders: t.Senders})
		}
		var err error
		if e.Counties[v.ID], err = edge.StandOf(e.Survey.Season, area, looks, e.Options); err != nil {
			return err
		}
	}
	for _, v := range x.state.Counties {
		s := e.Counties[v.ID]
		for _, n := range v.Neighbors {
			s.NextToFind = s.NextToFind || s.Standing != edge.Found && n.Finds > 0
		}
		e.Counties[v.ID] = s
	}
	return nil
}

// Joined is the standing of the i-th of a county's joined townships.
func (e *EdgeView) Joined(v *CountyView, i int) edge.Stand { return e.joined[v.ID][i] }

// StandMark is the mark of a standing.
func StandMark(s edge.Stand) atlas.Mark {
	m := atlas.Mark{Near: s.NextToFind}
	switch s.Standing {
	case edge.Found:
		m.Standing = atlas.Staked
	case edge.Unconfirmed:
		m.Standing = atlas.HalfStaked
	case edge.WellLooked:
		m.Standing = atlas.WellLooked
	case edge.ThinlyLooked:
		m.Standing = atlas.ThinlyLooked
	}
	return m
}

// Known tells whether any line is drawn.
func (e *EdgeView) Known() bool { return len(e.Lines.Middle)+len(e.Lines.Limits) > 0 }

// Within is the edge as far as it lies in a shape.
func (e *EdgeView) Within(s atlas.Shape) atlas.EdgeLines {
	return atlas.EdgeLines{Middle: inShape(e.Lines.Middle, s), Limits: inShape(e.Lines.Limits, s)}
}

// inShape cuts lines to the runs of their points that lie in a shape.
func inShape(lines []atlas.Line, s atlas.Shape) []atlas.Line {
	var out []atlas.Line
	for _, l := range lines {
		var run []atlas.Point
		flush := func() {
			if len(run) > 1 {
				out = append(out, atlas.Line{Path: run})
			}
			run = nil
		}
		for _, p := range l.Path {
			if holds(s, edge.XY{X: float64(p.X), Y: float64(p.Y)}) {
				run = append(run, p)
				continue
			}
			flush()
		}
		flush()
	}
	return out
}

func paths(lines [][]edge.XY) []atlas.Line {
	var out []atlas.Line
	for _, l := range lines {
		path := make([]atlas.Point, len(l))
		for i, p := range l {
			path[i] = atlas.Point{X: int32(math.Round(p.X)), Y: int32(math.Round(p.Y))}
		}
		out = append(out, atlas.Line{Path: path})
	}
	return out
}

// center is the middle of a shape's box.
func center(s atlas.Shape) (x, y float64) {
	lo, hi, _ := bounds(s)
	return (float64(lo.X) + float64(hi.X)) / 2, (float64(lo.Y) + float64(hi.Y)) / 2
}

// squareMeters is an acre of the international foot.
const squareMeters = 4046.8564224

// acres is a shape's area; holes run the other way round, or count as if they did.
func acres(s atlas.Shape) float64 {
	sum := 0.0
	for _, polygon := range s {
		for i, ring := range polygon {
			a := 0.0
			for k, p := range ring {
				q := ring[(k+1)%len(ring)]
				a += float64(p.X)*float64(q.Y) - float64(q.X)*float64(p.Y)
			}
			if a = math.Abs(a) / 2; i > 0 {
				a = -a
			}
			sum += a
		}
	}
	return sum / squareMeters
}

// holds counts the edges to the right of a point (even-odd rule).
func holds(s atlas.Shape, p edge.XY) bool {
	in := false
	for _, polygon := range s {
		for _, ring := range polygon {
			for i, a := range ring {
				b := ring[(i+1)%len(ring)]
				ay, by := float64(a.Y), float64(b.Y)
				if (ay > p.Y) != (by > p.Y) && p.X < float64(a.X)+(p.Y-ay)/(by-ay)*(float64(b.X)-float64(a.X)) {
					in = !in
				}
			}
		}
	}
	return in
}
