package proof

import (
	"errors"
	"fmt"
	"math"

	"sixmile/internal/edge"
)

// Point is what was said of a township against what is so.
type Point struct {
	Said, True float64
	Fields     float64 // its weight
	In         bool    // the truth is within the band
	// Near: it is within the band of what so many fields, each of that chance, may
	// come to. The band is of the chance, and a township of ten fields scatters.
	Near bool
}

// Trial is one world's surface and front against the truth.
type Trial struct {
	Said              bool // something was said of the front
	Front, True       edge.Front
	PaceIn, BearingIn bool
	Points            []Point // townships with fields, in the last fall
}

// Try fits a surface to a program's public figures and holds it against the
// truth.
func Try(p *Program, seed uint64, o edge.Options) (Trial, error) {
	s, err := p.Survey(o)
	if err != nil {
		return Trial{}, fmt.Errorf("proof.Try: %w", err)
	}
	f, err := edge.Fit(s, o)
	if err != nil {
		return Trial{}, fmt.Errorf("proof.Try: %w", err)
	}
	truth, err := p.Truths(seed)
	if err != nil {
		return Trial{}, fmt.Errorf("proof.Try: %w", err)
	}
	var t Trial
	t.Front, err = f.Front()
	if err != nil && !errors.Is(err, edge.ErrTooLittle) {
		return Trial{}, fmt.Errorf("proof.Try: %w", err)
	}
	t.Said = err == nil
	t.True = p.TrueFront(truth, t.Front.From, t.Front.Through)
	t.PaceIn = t.Said && t.Front.PaceIn.Contains(t.True.Pace)
	t.BearingIn = t.Said && math.Abs(math.Remainder(t.True.Bearing-t.Front.Bearing, 360)) <= t.Front.Within
	now := s.Season - p.World.Seasons[0].Year
	for i, c := range f.Chances() {
		if truth[i].Fields == 0 {
			continue
		}
		t.Points = append(t.Points, pointOf(c, truth[i].Chance[now], float64(truth[i].Fields)))
	}
	return t, nil
}

func pointOf(c edge.Chance, truth, fields float64) Point {
	const deviate = 1.6448536269514722 // of edge.Confidence, 90 %
	sd := (c.Band.High - c.Band.Low) / (2 * deviate)
	wide := deviate * math.Sqrt(sd*sd+c.Mean*(1-c.Mean)/fields)
	return Point{Said: c.Mean, True: truth, Fields: fields, In: c.Band.Contains(truth), Near: math.Abs(truth-c.Mean) <= wide}
}

// Slope is the calibration slope (Cox 1958): that of the logit of the truth on
// the logit of what was said, by likelihood, a field a bag. One is right; under
// one, what was said is too extreme.
func Slope(points []Point) float64 {
	a, b := 0.0, 1.0
	for range 50 {
		var ga, gb, haa, hab, hbb float64
		for _, p := range points {
			x := math.Log(p.Said / (1 - p.Said))
			q := 1 / (1 + math.Exp(-a-b*x))
			r, v := p.Fields*(p.True-q), p.Fields*q*(1-q)
			ga, gb = ga+r, gb+r*x
			haa, hab, hbb = haa+v, hab+v*x, hbb+v*x*x
		}
		det := haa*hbb - hab*hab
		a += (ga*hbb - gb*hab) / det
		b += (gb*haa - ga*hab) / det
	}
	return b
}
