package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"sixmile/internal/edge"
	"sixmile/internal/edge/proof"
	"sixmile/internal/place"
)

// worlds is how many worlds the surface and its front are held against.
const worlds = 100

// measureEdge runs the program of a hundred worlds, works the surface of the
// chance of finds and its front out of what was released, and holds them against
// the truth of every field. The same every time but for the seconds.
func measureEdge(ctx context.Context, put func(row), log io.Writer) error {
	trials := make([]proof.Trial, worlds)
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(2)
	for i := range trials {
		g.Go(func() error {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			p, err := proof.Run(uint64(i+1), 12)
			if err != nil {
				return err
			}
			trials[i], err = proof.Try(p, uint64(i+1), edge.DefaultOptions())
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return err
	}
	for i, t := range trials {
		fmt.Fprintf(log, "world %d: pace %.2f [%.2f %.2f], true %.2f; toward %.0f ± %.0f, true %.0f; slope %.2f\n", i+1,
			t.Front.Pace, t.Front.PaceIn.Low, t.Front.PaceIn.High, t.True.Pace, t.Front.Bearing, t.Front.Within, t.True.Bearing, proof.Slope(t.Points))
	}
	judgeTrials(trials, put)
	for _, side := range []int{20, 45} {
		took, err := timeFit(side)
		if err != nil {
			return err
		}
		put(against(fmt.Sprintf("surface of %d places", side*side), "s", took, 60, 1))
	}
	return nil
}

func judgeTrials(trials []proof.Trial, put func(row)) {
	var silent, pace, bearing int
	var all []proof.Point
	var slopes []float64
	in, near := 0, 0
	for _, t := range trials {
		switch {
		case !t.Said:
			silent++
		default:
			pace += miss(t.PaceIn)
			bearing += miss(t.BearingIn)
		}
		all = append(all, t.Points...)
		slopes = append(slopes, proof.Slope(t.Points))
		for _, p := range t.Points {
			in += 1 - miss(p.In)
			near += 1 - miss(p.Near)
		}
	}
	slices.Sort(slopes)
	put(against("worlds with too little to say", "of 100", float64(silent), 15, 1))
	put(against("pace outside its 90 % interval", "of 100", float64(pace+silent), 15, 1))
	put(against("direction outside its 90 % interval", "of 100", float64(bearing+silent), 15, 1))
	put(against("calibration slope, off one, all worlds", "", math.Abs(proof.Slope(all)-1), 0.2, 1))
	put(against("calibration slope, off one, middle world", "", math.Abs(slopes[len(slopes)/2]-1), 0.2, 1))
	put(against("calibration slope, off one, 10th world", "", math.Abs(slopes[len(slopes)/10]-1), 0.2, 1))
	put(against("calibration slope, off one, 90th world", "", math.Abs(slopes[len(slopes)*9/10]-1), 0.2, 1))
	put(against("townships outside their 90 % band", "%", 100-100*float64(in)/float64(len(all)), 10, 1))
	put(against("the same, their fields' scatter allowed for", "%", 100-100*float64(near)/float64(len(all)), 10, 1))
}

func miss(in bool) int {
	if in {
		return 0
	}
	return 1
}

// timeFit fits a surface to a square of townships, each looked at six times.
func timeFit(side int) (seconds float64, err error) {
	rng := rand.New(rand.NewPCG(1, 5))
	s := edge.Survey{Season: 2026}
	for i := range side * side {
		x, y := i%side, i/side
		p := edge.Place{ID: place.ID(i + 1), X: float64(x) * 9656, Y: float64(y) * 9656, Acres: 23040}
		if x > 0 {
			p.Neighbors = append(p.Neighbors, place.ID(i))
		}
		if y > 0 {
			p.Neighbors = append(p.Neighbors, place.ID(i+1-side))
		}
		s.Places = append(s.Places, p)
		for fall := range 6 {
			chance := 1 / (1 + math.Exp(0.3*(float64(x-side/2)-float64(fall))))
			l := edge.Look{Places: []int{i}, From: 2021 + fall, Through: 2021 + fall, Senders: 3}
			for range 6 {
				if rng.Float64() < chance {
					l.Finds++
				} else {
					l.None++
				}
			}
			s.Looks = append(s.Looks, l)
		}
	}
	start := time.Now()
	f, err := edge.Fit(s, edge.DefaultOptions())
	if err != nil {
		return 0, err
	}
	f.Chances()
	if _, err := f.Front(); err != nil {
		return 0, err
	}
	return time.Since(start).Seconds(), nil
}
