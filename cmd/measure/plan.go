package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"golang.org/x/sync/errgroup"

	"sixmile/internal/outlook/proof"
	"sixmile/internal/plan"
)

// The worlds that plans are held against, and after how many of their falls.
const planWorlds = 100

func planFalls() []int { return []int{3, 6, 9} }

// measurePlan times plans, and holds them against the hidden truth of a hundred
// worlds: first finds by the plan and by acres. The same every time but for the
// seconds.
func measurePlan(ctx context.Context, put func(row), log io.Writer) error {
	for _, size := range []struct {
		bags, townships int
		seconds         float64
	}{{2_000, 2_000, 1}, {plan.MaxBags, 2_000, 30}, {plan.MaxBags, 90_000, 30}} {
		for _, reach := range []plan.Reach{plan.AsTheyCome, plan.AsSuggested} {
			start := time.Now()
			_, err := plan.New(plan.Invented(size.townships), plan.Ask{Bags: size.bags, Least: 5, Return: 0.6, Reach: reach, Weights: plan.UsualWeights()})
			if err != nil {
				return err
			}
			put(against(fmt.Sprintf("plan of %d bags, %d townships, way %d", size.bags, size.townships, reach), "s", time.Since(start).Seconds(), size.seconds, 1))
		}
	}
	falls := planFalls()
	weights := [][plan.NumAims]float64{{plan.Finds: 1}, plan.UsualWeights()}
	all := make([][]proof.Trial, planWorlds*len(falls)) // by world and fall, then by weights
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(2)
	for i := range all {
		g.Go(func() (err error) {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			all[i], err = proof.Run(uint64(i/len(falls)+1), falls[i%len(falls)], proof.DefaultTerms(), weights...)
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return err
	}
	for k, name := range []string{"new finds alone", "usual weights"} {
		var trials []proof.Trial
		for _, t := range all {
			trials = append(trials, t[k])
		}
		judgePlan(name, trials, put, log)
	}
	return nil
}

// judgePlan puts a row for each way of handing out: the most that acres find, at
// the far end of the interval of the difference, against what the plan finds.
func judgePlan(name string, trials []proof.Trial, put func(row), log io.Writer) {
	for _, way := range []struct {
		what       string
		plan, base func(proof.Trial) float64
	}{
		{"lots", func(t proof.Trial) float64 { return t.Plan }, func(t proof.Trial) float64 { return t.ByAcres }},
		{"lots, townships asked in both", func(t proof.Trial) float64 { return t.Asked }, func(t proof.Trial) float64 { return t.AcresAsked }},
		{"lots and townships asked", func(t proof.Trial) float64 { return t.Asked }, func(t proof.Trial) float64 { return t.ByAcres }},
	} {
		found, _ := proof.More(trials, way.plan)
		more, in := proof.More(trials, func(t proof.Trial) float64 { return way.plan(t) - way.base(t) })
		fmt.Fprintf(log, "%s, %s: the plan finds %.2f first finds a fall, %.2f more than by acres (%.2f to %.2f)\n",
			name, way.what, found, more, in.Low, in.High)
		put(against(fmt.Sprintf("%s, %s: by acres at most, against the plan", name, way.what), "first finds", found-in.Low, found, 1))
	}
	var calls []plan.Call
	for _, t := range trials {
		calls = append(calls, t.Calls...)
	}
	count := plan.Tally(calls)
	score, err := plan.Look(calls, 10)
	if err != nil {
		return
	}
	fmt.Fprintf(log, "%s: %d townships looked at, %.0f first finds expected, %d came; Brier %.4f, reliability %.4f, skill %.2f\n",
		name, score.N, count.Expected, count.Came, score.Brier, score.Reliability, score.Skill)
	put(against(name+": first finds off by, of those expected", "share", math.Abs(float64(count.Came)/count.Expected-1), 0.2, 1))
}
