package edge_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"sixmile/internal/edge"
	"sixmile/internal/place"
)

// square is a square of townships, each looked at in six falls, with a front
// that moves east.
func square(side int) edge.Survey {
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
	return s
}

func BenchmarkFit(b *testing.B) {
	for _, side := range []int{10, 20, 45} {
		s := square(side)
		b.Run(fmt.Sprint(side*side), func(b *testing.B) {
			for b.Loop() {
				f, err := edge.Fit(s, edge.DefaultOptions())
				if err != nil {
					b.Fatal(err)
				}
				f.Chances()
			}
		})
	}
}
