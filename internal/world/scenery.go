package world

import (
	"math"
	"math/rand/v2"
	"slices"
)

// ridgeRing draws the soil ridge as one wavering band.
func ridgeRing(rng *rand.Rand) []pt {
	var left, right []at
	for i := range ridgeAxis {
		a, b := ridgeAxis[max(i-1, 0)], ridgeAxis[min(i+1, len(ridgeAxis)-1)]
		dx, dy := b.col-a.col, b.row-a.row
		n := ridgeHalf[i] / math.Sqrt(float64(dx*dx)+float64(dy*dy))
		left = append(left, at{ridgeAxis[i].col - float64(dy*n), ridgeAxis[i].row + float64(dx*n)})
		right = append(right, at{ridgeAxis[i].col + float64(dy*n), ridgeAxis[i].row - float64(dx*n)})
	}
	l, r := points(meander(left, rng)), points(meander(right, rng))
	return append(r, reversed(l)...)
}

// describe fills in what the land does to the nematode and to farming.
func (l *land) describe() {
	rng := rand.New(rand.NewPCG(landSeed, 2))
	for _, line := range l.rivers {
		last := -1
		for _, p := range finer(line) {
			i := l.tractAt(p, last)
			if i < 0 || i == last {
				continue
			}
			if last >= 0 && !slices.Contains(l.tracts[last].downstream, i) {
				l.tracts[last].downstream = append(l.tracts[last].downstream, i)
			}
			last = i
		}
	}
	for i := range l.tracts {
		t := &l.tracts[i]
		hits, tried := 0, 0
		for range 40 {
			p := t.somewhere(rng)
			tried++
			if inside(l.ridge, p) {
				hits++
			}
		}
		t.ridge = float64(hits) / float64(tried)
		t.farmed = float64(area2(t.ring)) / float64(2*sixMiles*sixMiles) * (0.4 + rng.Float64())
		if rng.Float64() < 0.07 { // woods, bluffs and wetland
			t.farmed = 0
		}
	}
}

// finer adds points so that no step along a line skips a township's corner by
// more than a few hundred meters.
func finer(line []pt) []pt {
	var out []pt
	for i := 1; i < len(line); i++ {
		for k := range int64(8) {
			d := line[i].minus(line[i-1])
			out = append(out, pt{line[i-1].x + d.x*k/8, line[i-1].y + d.y*k/8})
		}
	}
	return append(out, line[len(line)-1])
}

// tractAt finds the tract that holds a point, trying a hint first; -1 if none.
func (l *land) tractAt(p pt, hint int) int {
	if hint >= 0 && inside(l.tracts[hint].ring, p) {
		return hint
	}
	cell := int(p.y/sixMiles*columns + p.x/sixMiles)
	for i := range l.tracts {
		t := &l.tracts[i]
		// A place may have taken in slivers of the cells around its own.
		if d := t.cell - cell; d == 0 || d == 1 || d == -1 || d == columns || d == -columns {
			if inside(t.ring, p) {
				return i
			}
		}
	}
	return -1
}

// somewhere is a point of the tract, all parts alike.
func (t *tract) somewhere(rng *rand.Rand) pt {
	lo, hi := t.ring[0], t.ring[0]
	for _, p := range t.ring {
		lo = pt{min(lo.x, p.x), min(lo.y, p.y)}
		hi = pt{max(hi.x, p.x), max(hi.y, p.y)}
	}
	for {
		p := pt{lo.x + rng.Int64N(hi.x-lo.x+1), lo.y + rng.Int64N(hi.y-lo.y+1)}
		if inside(t.ring, p) {
			return p
		}
	}
}

// miles is the straight distance between two points of the plane.
func miles(a, b pt) float64 {
	dx, dy := float64(a.x-b.x), float64(a.y-b.y)
	return math.Sqrt(float64(dx*dx)+float64(dy*dy)) / 1609344
}

// floodMiles is how far from a river a field may flood.
const floodMiles = 1.3

// nearRiver tells whether a point is on a river's flood plain.
func (l *land) nearRiver(p pt) bool {
	for _, line := range l.rivers {
		for i := 1; i < len(line); i++ {
			if milesToSegment(p, line[i-1], line[i]) <= floodMiles {
				return true
			}
		}
	}
	return false
}

func milesToSegment(p, a, b pt) float64 {
	d, e := b.minus(a), p.minus(a)
	t := (float64(d.x)*float64(e.x) + float64(float64(d.y)*float64(e.y))) /
		(float64(d.x)*float64(d.x) + float64(float64(d.y)*float64(d.y)))
	t = min(1, max(0, t))
	return miles(p, pt{a.x + int64(float64(d.x)*t), a.y + int64(float64(d.y)*t)})
}
