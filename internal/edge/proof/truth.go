package proof

import (
	"math/rand/v2"

	"sixmile/internal/assay"
	"sixmile/internal/edge"
	"sixmile/internal/world"
)

// Truth is what every field of a township would show.
type Truth struct {
	Fields int
	// Chance is the chance of finds of a bag that is sure either way, from any of
	// its fields, in each fall of the program.
	Chance []float64
	// Infested is the share of its fields that have it.
	Infested []float64
}

// washes is how often every field is sampled for the truth.
const washes = 3

// Truths samples every field of the world in every fall, in the order of
// World.Townships. A township without fields has no chances.
func (p *Program) Truths(seed uint64) ([]Truth, error) {
	rng := rand.New(rand.NewPCG(seed, 0x7A07))
	falls := len(p.World.Seasons)
	out := make([]Truth, len(p.Places))
	finds, judged := make([][]int, len(out)), make([][]int, len(out))
	for i := range out {
		finds[i], judged[i] = make([]int, falls), make([]int, falls)
		out[i].Chance, out[i].Infested = make([]float64, falls), make([]float64, falls)
	}
	scheme := assay.DefaultScheme()
	for _, f := range p.World.Hidden() {
		t := &out[f.Township]
		t.Fields++
		for s, eggs := range f.Eggs {
			if eggs > 0 {
				t.Infested[s]++
			}
			for range washes {
				rank, err := rankOf(world.Wash(rng, eggs))
				if err != nil {
					return nil, err
				}
				switch scheme.Classes[rank].Kind {
				case assay.Found:
					finds[f.Township][s]++
					judged[f.Township][s]++
				case assay.None:
					judged[f.Township][s]++
				}
			}
		}
	}
	for i := range out {
		for s := range falls {
			if judged[i][s] > 0 {
				out[i].Chance[s] = float64(finds[i][s]) / float64(judged[i][s])
				out[i].Infested[s] /= float64(out[i].Fields)
			}
		}
	}
	return out, nil
}

// TrueFront is the front of the truth: the straight one that fits the chances of
// all townships with fields best, over the falls of the survey.
func (p *Program) TrueFront(truth []Truth, first, last int) edge.Front {
	var places []edge.Place
	var chances [][]float64
	from := first - p.World.Seasons[0].Year
	for i, t := range truth {
		if t.Fields > 0 {
			places = append(places, p.Places[i])
			chances = append(chances, t.Chance[from:from+last-first+1])
		}
	}
	return edge.FrontOf(places, chances)
}
