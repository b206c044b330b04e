package world

import (
	"math/rand/v2"
	"slices"
)

// HiddenField is a field as it really is. It is for measuring what is said of
// the samples against the truth behind them: see the package comment.
type HiddenField struct {
	Township int // index into World.Townships
	Farm     FarmID
	Arrived  int // year the nematode got there; 0: it did not
	// Eggs is its mean density in the fall of each of World.Seasons, per 100 cm³.
	Eggs [Seasons + 1]int
}

// Hidden lists every field of the state, in order of farm.
func (w *World) Hidden() []HiddenField {
	var out []HiddenField
	for id := range w.farms {
		for j := range w.farms[id].fields {
			f := &w.farms[id].fields[j]
			h := HiddenField{Township: f.tract, Farm: FarmID(id), Arrived: f.arrived}
			for s := range h.Eggs {
				h.Eggs[s] = f.years[s].eggs
			}
			out = append(out, h)
		}
	}
	return out
}

// Wash is one trip through the lab of a bag from a field of the given density.
func Wash(rng *rand.Rand, density int) Count { return washAndCount(rng, density) }

// Adjacent lists, for each of World.Townships, those it shares an edge with.
func (w *World) Adjacent() [][]int {
	out := make([][]int, len(w.land.tracts))
	for i := range out {
		out[i] = slices.Sorted(slices.Values(w.land.tracts[i].neighbors))
	}
	return out
}

// Middle is a township's middle in the state's plane, in meters east and north
// of its southwest corner.
func (w *World) Middle(township int) (x, y float64) {
	p := w.land.tracts[township].center
	return float64(p.x) / 1000, float64(p.y) / 1000
}

// Acres is a township's area.
func (w *World) Acres(township int) float64 {
	const acre = 4046.8564224 // square meters, of the international foot
	return float64(area2(w.land.tracts[township].ring)) / 2 / 1e6 / acre
}
