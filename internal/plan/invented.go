package plan

import (
	"math/rand/v2"

	"sixmile/internal/place"
)

// Invented makes n places of a state that is none, twenty a county, for
// measuring: always the same for the same n.
func Invented(n int) []Place {
	rng := rand.New(rand.NewPCG(6, uint64(n)))
	out := make([]Place, n)
	for i := range out {
		out[i] = Place{
			ID: place.ID(i + 1), County: place.ID(1_000_000 + i/20), Acres: 2000 + rng.IntN(12000), Found: rng.IntN(3) == 0,
			Find: 0.02 + 0.3*rng.Float64(), Weight: 1 + 12*rng.Float64(), Miss: rng.Float64(), Clean: 0.92, Level: rng.Float64(),
		}
	}
	return out
}
