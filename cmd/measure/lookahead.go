package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/lookahead"
)

// What a page asks for at the most.
const (
	lookPlans = lookahead.MaxPlans
	lookYears = lookahead.MaxYears
	lookDraws = 2000
	lookRuns  = 15
)

// measureLookAhead times the largest look that a page takes against a tight loop
// of the same arithmetic, and against what is allowed.
func measureLookAhead(_ context.Context, put func(row), log io.Writer) error {
	set := lookahead.Standard()
	field := lookahead.Field{Start: lookahead.Counted(2100), Grown: map[lookahead.Crop]int{lookahead.PI88788: 20}}
	n, r, s := lookahead.NonHost, lookahead.PI88788, lookahead.Susceptible
	plans := []lookahead.Plan{
		{Crops: []lookahead.Crop{n, r, n, r, n, r}}, {Crops: []lookahead.Crop{n, r, n, lookahead.Peking, n, s}},
		{Crops: []lookahead.Crop{n, s, n, s, n, s}}, {Crops: []lookahead.Crop{s, s, s, s, s, s}, Weeds: true},
	}
	cuts := []assay.Density{200, 2000, 12000}
	ours, bare := math.Inf(1), math.Inf(1)
	sum := 0.0
	for range lookRuns {
		start := time.Now()
		out, err := lookahead.Ahead(set, field, plans, cuts, lookahead.Options{Seed: 6, Draws: lookDraws})
		if err != nil {
			return err
		}
		ours = min(ours, time.Since(start).Seconds())
		sum += out[0].Last().Eggs.Median
		start = time.Now()
		sum += tightLoop()
		bare = min(bare, time.Since(start).Seconds())
	}
	fmt.Fprintf(log, "look-ahead: the quickest of %d runs of each; checksum %.0f\n", lookRuns, sum)
	put(against("look-ahead 4 x 6 x 2,000, over a tight loop", "ms", 1000*ours, 1000*bare, 1.5))
	put(against("look-ahead 4 x 6 x 2,000, over what is allowed", "ms", 1000*ours, 50, 1))
	return nil
}

// tightLoop does the arithmetic of one look with nothing around it: as many
// normal numbers, exponentials and powers, one step a rotation, year and draw, and
// as many sorts.
func tightLoop() float64 {
	rng := rand.New(rand.NewPCG(6, 7))
	var winter, stay, soy, source, hatch [lookYears][lookDraws]float64
	eggs, yield := make([]float64, lookDraws), make([]float64, lookDraws)
	var tolerance, least [lookDraws]float64
	sum := 0.0
	for i := range lookDraws {
		for range 11 {
			sum += rng.NormFloat64()
		}
		tolerance[i], least[i] = math.Exp(3.6+0.4*rng.NormFloat64()), math.Exp(-0.5+0.2*rng.NormFloat64())
		for t := range lookYears {
			z, w := rng.NormFloat64(), rng.NormFloat64()
			winter[t][i] = min(1, math.Exp(-0.07+0.1*w))
			stay[t][i] = math.Exp(-0.43 + 0.4*z)
			soy[t][i] = max(0, math.Exp(1+0.66*z)-stay[t][i]) * 2.7
			// Fallow, and three sources each with its rise.
			sum += math.Exp(-0.4+0.4*z) + math.Exp(-0.8+0.3*z) + math.Exp(-1+0.3*z)
			sum += math.Exp(0.01*z) + math.Exp(0.02*z)
			source[t][i] = math.Exp(-0.63+0.3*z) * math.Exp(0.05*20)
			hatch[t][i] = 0.6 * stay[t][i]
		}
	}
	const room = 2000
	for p := range lookPlans {
		for i := range eggs {
			eggs[i] = 2100
		}
		for t := range lookYears {
			for i := range eggs {
				pi := eggs[i] * winter[t][i]
				if p > 1 || t%2 == 1 {
					yield[i] = least[i] + (1-least[i])*math.Pow(0.95, pi/tolerance[i]-1)
					eggs[i] = source[t][i]*room*-math.Expm1(-pi/room) + hatch[t][i]*pi
				} else {
					eggs[i] = stay[t][i]*pi + 0*soy[t][i]
				}
			}
			sum += sortedMiddle(eggs)
			if p > 1 || t%2 == 1 {
				sum += sortedMiddle(yield)
			}
		}
	}
	return sum
}

func sortedMiddle(xs []float64) float64 {
	sorted := slices.Clone(xs)
	slices.Sort(sorted)
	return sorted[len(sorted)/2]
}
