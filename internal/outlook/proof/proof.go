// Package proof holds plans against the invented state's hidden truth: bags are
// handed out by a plan and in proportion to acres, soil is taken from its fields
// as they really are, and first finds are counted. It is for measurements and
// tests alone.
package proof

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	gonum "gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"sixmile/internal/assay"
	"sixmile/internal/edge"
	edgeproof "sixmile/internal/edge/proof"
	"sixmile/internal/outlook"
	"sixmile/internal/place"
	"sixmile/internal/plan"
	"sixmile/internal/stat"
	"sixmile/internal/world"
)

// Trial is one fall of one world with one set of weights.
type Trial struct {
	Seed uint64
	Fall int // the closed falls that the plan was made from
	// First finds, the mean of Draws draws: townships that no released figure had
	// finds of, and that a bag finds it in now.
	ByAcres, Plan float64 // growers come of themselves
	AcresAsked    float64 // by acres, with townships asked for as the plan would within each county
	Asked         float64 // the plan for AsSuggested, with townships asked for as suggested
	Calls         []plan.Call
}

// Terms are how a trial is done.
type Terms struct {
	Bags, Least int
	Return      float64
	Draws       int
}

// DefaultTerms hand out about as many bags as the world's own program does. Of
// ten six come back.
func DefaultTerms() Terms { return Terms{Bags: 1000, Least: 10, Return: 0.6, Draws: 20} }

// Run makes the plans that would be made after so many falls of a world, one for
// each set of weights, and tries them in the fall after.
func Run(seed uint64, falls int, t Terms, weights ...[plan.NumAims]float64) ([]Trial, error) {
	p, err := edgeproof.Run(seed, falls)
	if err != nil {
		return nil, fmt.Errorf("proof.Run: %w", err)
	}
	given, err := Given(p)
	if err != nil {
		return nil, fmt.Errorf("proof.Run: %w", err)
	}
	f := newFields(p, given, falls)
	var out []Trial
	for _, w := range weights {
		trial, err := f.try(given, plan.Ask{Bags: t.Bags, Least: t.Least, Return: t.Return, Weights: w}, t, seed)
		if err != nil {
			return nil, fmt.Errorf("proof.Run: %w", err)
		}
		trial.Seed, trial.Fall = seed, falls
		out = append(out, trial)
	}
	return out, nil
}

func (f fields) try(given []plan.Place, ask plan.Ask, t Terms, seed uint64) (Trial, error) {
	come, err := plan.New(given, ask)
	if err != nil {
		return Trial{}, err
	}
	ask.Reach = plan.AsSuggested
	asked, err := plan.New(given, ask)
	if err != nil {
		return Trial{}, err
	}
	acres := plan.ByAcres(given, t.Bags, t.Least)
	return Trial{
		ByAcres: f.come(acres, t, seed, 1), Plan: f.come(lotsOf(come), t, seed, 1),
		AcresAsked: f.asked(suggested(asked.Within(given, acres)), t, seed, 2),
		Asked:      f.asked(suggested(asked.Places), t, seed, 2),
		Calls:      f.calls(given, lotsOf(come), t, seed),
	}, nil
}

// More is how many more first finds a fall one way of handing out has than
// another: the mean over worlds of each world's mean over falls, with Student's
// interval at stat.Confidence over worlds.
func More(trials []Trial, more func(Trial) float64) (mean float64, in stat.Interval) {
	sum, falls := map[uint64]float64{}, map[uint64]float64{}
	for _, t := range trials {
		sum[t.Seed] += more(t)
		falls[t.Seed]++
	}
	var each []float64
	for _, seed := range slices.Sorted(maps.Keys(sum)) {
		each = append(each, sum[seed]/falls[seed])
	}
	mean, sd := gonum.MeanStdDev(each, nil)
	if len(each) < 2 {
		return mean, stat.Interval{Low: math.Inf(-1), High: math.Inf(1)} // one world tells of no other
	}
	n := float64(len(each))
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile((1+stat.Confidence)/2) * sd / math.Sqrt(n)
	return mean, stat.Interval{Low: mean - half, High: mean + half}
}

// Given is what a plan is given of a program's released figures.
func Given(p *edgeproof.Program) ([]plan.Place, error) {
	o := edge.DefaultOptions()
	s, err := p.Survey(o)
	if err != nil {
		return nil, err
	}
	surface, err := edge.Fit(s, o)
	if err != nil && !errors.Is(err, edge.ErrTooLittle) {
		return nil, err
	}
	highest := make([]int, len(p.Places))
	first := slices.Index(p.Ranks, "found")
	at := map[place.ID]int{}
	for i, pl := range p.Places {
		at[pl.ID] = i
	}
	for _, t := range p.Tranches {
		if len(t.Places) != 1 || t.Coarse {
			continue
		}
		for rank, n := range t.Counts {
			if i, ok := at[t.Places[0]]; ok && n > 0 {
				highest[i] = max(highest[i], rank)
			}
		}
	}
	ground := make([]outlook.Ground, len(p.Places))
	for i := range ground {
		ground[i] = outlook.Ground{County: p.County[i], Acres: int(p.Places[i].Acres * o.HostShare),
			Level: outlook.LevelShare(highest[i], first, len(p.Ranks))}
	}
	return outlook.Given(s, surface, ground, o)
}

func lotsOf(p plan.Plan) map[place.ID]int {
	out := map[place.ID]int{}
	for _, l := range p.Lots {
		out[l.County] = l.Bags
	}
	return out
}

func suggested(list []plan.Suggestion) map[place.ID]int {
	out := map[place.ID]int{}
	for _, s := range list {
		out[s.Place] = s.Bags
	}
	return out
}

// fields are a world's fields in one fall, farm by farm.
type fields struct {
	places   []place.ID
	found    map[place.ID]bool // released figures have finds
	byCounty map[place.ID][][]field
	byPlace  map[place.ID][][]field
	order    []place.ID // counties
}

type field struct {
	place place.ID
	eggs  int
}

func newFields(p *edgeproof.Program, given []plan.Place, fall int) fields {
	f := fields{found: map[place.ID]bool{}, byCounty: map[place.ID][][]field{}, byPlace: map[place.ID][][]field{}, order: p.Counties}
	for _, g := range given {
		f.places = append(f.places, g.ID)
		f.found[g.ID] = g.Found
	}
	farm := map[place.ID]world.FarmID{} // whose fields were added last
	add := func(to map[place.ID][][]field, key place.ID, of world.FarmID, x field) {
		if last, there := farm[key]; !there || last != of {
			to[key] = append(to[key], nil)
		}
		farm[key] = of
		at := len(to[key]) - 1
		to[key][at] = append(to[key][at], x)
	}
	for _, h := range p.World.Hidden() { // in order of farm
		x := field{p.Places[h.Township].ID, h.Eggs[fall]}
		add(f.byCounty, p.County[h.Township], h.Farm, x)
		add(f.byPlace, x.place, h.Farm, x)
	}
	return f
}

// come hands bags to counties, whose growers come as they will: farms drawn at
// random, each once, with a bag for each of their fields there.
func (f fields) come(bags map[place.ID]int, t Terms, seed, stream uint64) float64 {
	return f.mean(t, seed, stream, func(rng *rand.Rand, look func(field)) {
		for _, c := range f.order {
			draw(rng, f.byCounty[c], bags[c], t.Return, look)
		}
	})
}

// asked hands bags to townships.
func (f fields) asked(bags map[place.ID]int, t Terms, seed, stream uint64) float64 {
	return f.mean(t, seed, stream, func(rng *rand.Rand, look func(field)) {
		for _, p := range f.places {
			draw(rng, f.byPlace[p], bags[p], t.Return, look)
		}
	})
}

// draw hands bags out in bundles, one a farm. A bundle comes back whole or not at
// all.
func draw(rng *rand.Rand, farms [][]field, bags int, back float64, look func(field)) {
	for _, i := range rng.Perm(len(farms)) {
		bundle := farms[i][:min(len(farms[i]), bags)]
		bags -= len(bundle)
		if rng.Float64() >= back {
			continue
		}
		for _, x := range bundle {
			look(x)
		}
	}
}

func (f fields) mean(t Terms, seed, stream uint64, hand func(*rand.Rand, func(field))) float64 {
	rng := rand.New(rand.NewPCG(seed, stream))
	sum := 0
	for range t.Draws {
		first := map[place.ID]bool{}
		hand(rng, func(x field) {
			if !f.found[x.place] && x.eggs > 0 && isFind(rng, x.eggs) {
				first[x.place] = true
			}
		})
		sum += len(first)
	}
	return float64(sum) / float64(t.Draws)
}

// calls are what the plan's chances say of one draw, township by township, for
// those that bags came from.
func (f fields) calls(given []plan.Place, bags map[place.ID]int, t Terms, seed uint64) []plan.Call {
	rng := rand.New(rand.NewPCG(seed, 3))
	n, finds := map[place.ID]int{}, map[place.ID]bool{}
	for _, c := range f.order {
		draw(rng, f.byCounty[c], bags[c], t.Return, func(x field) {
			n[x.place]++
			finds[x.place] = finds[x.place] || x.eggs > 0 && isFind(rng, x.eggs)
		})
	}
	var out []plan.Call
	for _, g := range given {
		if !g.Found && n[g.ID] > 0 {
			out = append(out, plan.Call{Chance: g.FirstFind(n[g.ID]), Came: finds[g.ID]})
		}
	}
	return out
}

var scheme = assay.DefaultScheme()

// isFind washes and counts a bag by the default method.
func isFind(rng *rand.Rand, density int) bool {
	c := world.Wash(rng, density)
	r, err := assay.Count{
		SoilCM3: float64(c.SoilCM3), SuspensionML: float64(c.SuspensionML), CystSeen: c.Cyst,
		Aliquots: []assay.Aliquot{{ML: float64(c.AliquotML), Eggs: c.Eggs}},
	}.Density(assay.DefaultMethod())
	return err == nil && scheme.Class(r).Kind == assay.Found
}
