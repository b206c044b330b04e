package main

import (
	"math"
	"slices"
	"time"
)

// row is one measurement. Ours and Limit are in Unit; Limit is what the
// yardstick does, or what is allowed. Smaller is better, unless AtLeast.
type row struct {
	Name    string  `json:"name"`
	Unit    string  `json:"unit"`
	Ours    float64 `json:"ours"`
	Limit   float64 `json:"limit"`
	Ratio   float64 `json:"ratio"`
	Aim     float64 `json:"aim"` // of the ratio
	AtLeast bool    `json:"at_least"`
	Met     bool    `json:"met"`
}

// against makes a row of something that should be small.
func against(name, unit string, ours, limit, aim float64) row {
	return row{name, unit, ours, limit, ours / limit, aim, false, ours <= aim*limit}
}

// atLeast makes a row of something that should be large.
func atLeast(name, unit string, ours, limit, aim float64) row {
	return row{name, unit, ours, limit, ours / limit, aim, true, ours >= aim*limit}
}

// within makes a row of what has a stated limit.
func within(name, unit string, ours, limit float64) row { return against(name, unit, ours, limit, 1) }

// sign is how the aim is compared.
func (r row) sign() string {
	if r.AtLeast {
		return "≥"
	}
	return "≤"
}

// best is the shortest of so many runs, in seconds; the first one is not counted.
func best(runs int, f func() error) (float64, error) {
	least := math.Inf(1)
	for i := range runs + 1 {
		start := time.Now()
		if err := f(); err != nil {
			return 0, err
		}
		if took := time.Since(start).Seconds(); i > 0 {
			least = min(least, took)
		}
	}
	return least, nil
}

// middle is the median.
func middle(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[len(s)/2]
}
