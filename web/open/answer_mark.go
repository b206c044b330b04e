package open

import (
	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/press"
)

// The size of a mark's swatch, in its own units, and how its furrows lie: the
// proportions of a place on the map.
const (
	markWidth  = 60
	markHeight = 40
	markPitch  = 6.4
)

// levelMark is the map's mark of a level, for standing beside its name.
type levelMark struct {
	Kind      assay.Kind // zero: nothing to draw
	Fill, Ink string
	Furrows   []float64 // heights of the lines
}

// markOf is the mark of a class in its scheme.
func markOf(s assay.Scheme, c assay.Class) levelMark {
	of, step := len(s.Found()), 0
	switch c.Kind {
	case assay.None:
	case assay.Unconfirmed:
		step = 1
	case assay.Found:
		for i, f := range s.Found() {
			if f.Rank == c.Rank {
				step = 2 + i
			}
		}
	default:
		return levelMark{}
	}
	fill, ok := press.Fill(step, of)
	if !ok {
		return levelMark{}
	}
	return levelMark{
		Kind: c.Kind, Fill: fill,
		Ink:     press.Color.Color(atlas.Paint{Role: atlas.OnLevel, Step: uint8(step), Of: uint8(of)}),
		Furrows: furrows(max(step-1, min(step, 1))),
	}
}

// furrows are the heights of n lines about the middle.
func furrows(n int) []float64 {
	var out []float64
	for i := range n {
		out = append(out, markHeight/2+(float64(i)-float64(n-1)/2)*markPitch)
	}
	return out
}
