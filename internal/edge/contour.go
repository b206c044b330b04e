package edge

import (
	"math"
)

// XY is a point on the ground, in meters east and north.
type XY struct{ X, Y float64 }

// Lines are where the chance of finds is at one level.
type Lines struct {
	Level float64
	// Middle is the edge; Inner and Outer are where the upper and the lower ends
	// of the chance's band are at the level: as far back, and as far out, as it may
	// well lie.
	Middle, Inner, Outer [][]XY
}

// raster is heights at the points of a square grid, NaN where nothing is drawn.
type raster struct {
	at0        XY
	step       float64
	cols, rows int
	height     []float64
}

func (r raster) point(i int) XY {
	return XY{r.at0.X + r.step*float64(i%r.cols), r.at0.Y + r.step*float64(i/r.cols)}
}

// perPlace is how many points of the grid lie along a township.
const perPlace = 4

// Lines draws the edge in the survey's own fall. Between the places' middles the
// logit of the chance is a mean of those around, weighted by a bell two thirds of
// a township wide. Nothing is drawn where inside is false, nor where no level of
// the options has places enough on either side.
func (f *Surface) Lines(inside func(XY) bool) Lines {
	logits, sds := make([]float64, len(f.m.survey.Places)), make([]float64, len(f.m.survey.Places))
	for i := range logits {
		v := 0.0
		logits[i], v = f.at(i, f.m.survey.Season)
		sds[i] = math.Sqrt(v)
	}
	level, ok := f.level(logits)
	if !ok {
		return Lines{}
	}
	r, wide := f.grid(inside)
	draw := func(limit float64) [][]XY {
		g := r
		g.height = make([]float64, len(r.height))
		for i := range g.height {
			g.height[i] = r.height[i]
			if !math.IsNaN(r.height[i]) {
				g.height[i] = f.between(logits, sds, limit, r.point(i), wide) - level
			}
		}
		return g.zero()
	}
	return Lines{Level: logistic(level), Middle: draw(0), Inner: draw(-deviate), Outer: draw(deviate)}
}

// level is the logit of the first level that has a twentieth of the places, and
// one at least, on either side.
func (f *Surface) level(logits []float64) (level float64, ok bool) {
	least := max(1, (len(logits)+19)/20)
	for _, p := range f.options.Levels {
		level := math.Log(p / (1 - p))
		over := 0
		for _, l := range logits {
			if l >= level {
				over++
			}
		}
		if over >= least && len(logits)-over >= least {
			return level, true
		}
	}
	return 0, false
}

// grid covers the places; wide is the width of the bell.
func (f *Surface) grid(inside func(XY) bool) (r raster, wide float64) {
	lo, hi := XY{math.Inf(1), math.Inf(1)}, XY{math.Inf(-1), math.Inf(-1)}
	for _, p := range f.m.survey.Places {
		lo = XY{min(lo.X, p.X), min(lo.Y, p.Y)}
		hi = XY{max(hi.X, p.X), max(hi.Y, p.Y)}
	}
	across := f.across()
	r = raster{at0: XY{lo.X - across, lo.Y - across}, step: across / perPlace}
	r.cols = int((hi.X-lo.X+2*across)/r.step) + 1
	r.rows = int((hi.Y-lo.Y+2*across)/r.step) + 1
	r.height = make([]float64, r.cols*r.rows)
	for i := range r.height {
		if !inside(r.point(i)) {
			r.height[i] = math.NaN()
		}
	}
	return r, across * 2 / 3
}

// across is how far neighbors' middles are apart, on the whole.
func (f *Surface) across() float64 {
	sum, n := 0.0, 0.0
	for i, ns := range f.m.neighbors {
		for _, k := range ns {
			a, b := f.m.survey.Places[i], f.m.survey.Places[k]
			sum, n = sum+math.Hypot(a.X-b.X, a.Y-b.Y), n+1
		}
	}
	if n == 0 || sum == 0 {
		return metersPerMile * 6
	}
	return sum / n
}

func (f *Surface) between(logits, sds []float64, limit float64, at XY, wide float64) float64 {
	sum, weight := 0.0, 0.0
	for i, p := range f.m.survey.Places {
		d := ((p.X-at.X)*(p.X-at.X) + (p.Y-at.Y)*(p.Y-at.Y)) / (2 * wide * wide)
		if d > 12 {
			continue
		}
		w := math.Exp(-d)
		sum, weight = sum+w*(logits[i]+limit*sds[i]), weight+w
	}
	if weight == 0 {
		return math.NaN()
	}
	return sum / weight
}

// side is one side of a grid's square: from a point to the one east or north.
type side struct {
	from  int
	north bool
}

// zero joins the places where the height goes through zero to lines (marching
// squares). A saddle is parted by the height of its middle.
func (r raster) zero() [][]XY {
	next := map[side][]side{}
	for row := range r.rows - 1 {
		for col := range r.cols - 1 {
			r.square(row*r.cols+col, next)
		}
	}
	var out [][]XY
	// Open lines first: they begin at a side with one neighbor.
	for _, ends := range []int{1, 2} {
		for i := range r.height {
			for _, north := range []bool{false, true} {
				if s := (side{i, north}); len(next[s]) == ends {
					out = append(out, r.follow(s, next))
				}
			}
		}
	}
	return out
}

// square adds the pieces of line that cross one square of the grid.
func (r raster) square(i int, next map[side][]side) {
	corners := [4]int{i, i + 1, i + 1 + r.cols, i + r.cols}
	sides := [4]side{{i, false}, {i + 1, true}, {i + r.cols, false}, {i, true}}
	var crossed []side
	middle := 0.0
	for k, c := range corners {
		a, b := r.height[c], r.height[corners[(k+1)%4]]
		if math.IsNaN(a) {
			return
		}
		middle += a
		if (a >= 0) != (b >= 0) {
			crossed = append(crossed, sides[k])
		}
	}
	join := func(a, b side) {
		next[a], next[b] = append(next[a], b), append(next[b], a)
	}
	switch {
	case len(crossed) == 2:
		join(crossed[0], crossed[1])
	case len(crossed) == 4 && (middle >= 0) == (r.height[i] >= 0):
		join(crossed[0], crossed[1])
		join(crossed[2], crossed[3])
	case len(crossed) == 4:
		join(crossed[0], crossed[3])
		join(crossed[1], crossed[2])
	}
}

// follow takes a line out of next from one of its sides on.
func (r raster) follow(s side, next map[side][]side) []XY {
	line := []XY{r.crossing(s)}
	for len(next[s]) > 0 {
		to := next[s][0]
		unlink(next, s, to)
		line, s = append(line, r.crossing(to)), to
	}
	return line
}

func unlink(next map[side][]side, a, b side) {
	drop := func(from, what side) {
		for i, s := range next[from] {
			if s == what {
				next[from] = append(next[from][:i:i], next[from][i+1:]...)
				return
			}
		}
	}
	drop(a, b)
	drop(b, a)
}

// crossing is where the height goes through zero along a side.
func (r raster) crossing(s side) XY {
	to := s.from + 1
	if s.north {
		to = s.from + r.cols
	}
	a, b := r.height[s.from], r.height[to]
	p, q := r.point(s.from), r.point(to)
	k := a / (a - b)
	return XY{p.X + k*(q.X-p.X), p.Y + k*(q.Y-p.Y)}
}
