package edge

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sixmile/internal/stat"
)

const metersPerMile = 1609.344

// Front is the straight front that fits the surface best (least squares over all
// its places; the mean of its falls): the chance of finds rises by Rise a year, and falls by
// Fall a mile toward Bearing, so that a line of one chance moves Pace miles a
// year that way. It describes the chances that finds were seen, which move with
// where people look too; arrival itself nobody saw.
type Front struct {
	From, Through int // falls

	Pace    float64       // miles a year toward Bearing; negative: the finds draw back
	PaceIn  stat.Interval // at Confidence
	Bearing float64       // degrees clockwise from north, 0 to 360
	// Within is how many degrees to either side of Bearing the direction lies, at
	// Confidence.
	Within float64

	Rise, Fall float64 // chance a year, chance a mile
}

// Limits of what may be said of a front; ours, no source. A direction that is
// not known to an eighth of a turn either way is none, and a surface so flat that
// its slope could be nothing has no front.
const widestDirection = 45

// Front works the front out. ErrTooLittle is wrapped where fewer than three
// falls were looked at, where the direction is not known to 45 degrees either
// way, or where it is not known whether the finds come on or draw back.
func (f *Surface) Front() (Front, error) {
	first, last := f.m.survey.Season, 0
	for _, l := range f.m.survey.Looks {
		first, last = min(first, l.From), max(last, l.Through)
	}
	if last-first < 2 {
		return Front{}, fmt.Errorf("edge.Front: %w: %d falls", ErrTooLittle, last-first+1)
	}
	var way []slope
	rng := rand.New(rand.NewPCG(f.options.Seed, 0xED6E))
	z := make([]float64, len(f.m.z))
	for range draws {
		f.draw(rng, z)
		way = append(way, f.slopeOf(z, first, last))
	}
	out := summarizeFront(way)
	out.From, out.Through = first, last
	if out.Within > widestDirection || out.PaceIn.Low <= 0 && out.PaceIn.High >= 0 {
		return out, fmt.Errorf("edge.Front: %w", ErrTooLittle)
	}
	return out, nil
}

// draws is how many fields the intervals are taken from.
const draws = 600

// draw makes z a field as likely as any, given the looks.
func (f *Surface) draw(rng *rand.Rand, z []float64) {
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	f.m.chol.up(z)
	for i := range z {
		z[i] += f.m.z[i]
	}
}

// slope is how the chance changes: by year, and by mile east and north.
type slope struct{ year, east, north float64 }

func (s slope) pace() float64    { return s.year / math.Hypot(s.east, s.north) }
func (s slope) bearing() float64 { return math.Atan2(-s.east, -s.north) }

func (f *Surface) slopeOf(z []float64, first, last int) slope {
	chances := make([][]float64, len(f.m.survey.Places))
	for i := range chances {
		k := f.m.number[i]
		for t := first; t <= last; t++ {
			chances[i] = append(chances[i], logistic(z[2*k]+z[2*k+1]*(float64(t)-f.m.t0)))
		}
	}
	return slopeOf(f.m.survey.Places, chances)
}

// slopeOf is the least squares plane through the places' mean chances, with the
// yearly rise that belongs to it.
//
// A plane's slope along a line is a mean of the slopes along the way that counts
// the middle for more than the ends: summing by parts, Σ s p = Σ K (p' - p), with
// s the way from the middle and K the sum of s from there on. The yearly rise is
// averaged by the same K, place for place in their order along the way. So where
// a front of whatever shape moves straight on, rise over slope is its pace.
func slopeOf(places []Place, chances [][]float64) slope {
	n := float64(len(places))
	var mx, my float64
	for _, p := range places {
		mx, my = mx+p.X/n, my+p.Y/n
	}
	mean, rise := make([]float64, len(places)), make([]float64, len(places))
	var xx, xy, yy, xp, yp float64
	for i, p := range places {
		mean[i], rise[i] = line(chances[i])
		x, y := (p.X-mx)/metersPerMile, (p.Y-my)/metersPerMile
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
		xp, yp = xp+x*mean[i], yp+y*mean[i]
	}
	det := xx*yy - xy*xy
	s := slope{east: (xp*yy - yp*xy) / det, north: (yp*xx - xp*xy) / det}
	steep := math.Hypot(s.east, s.north)
	type step struct{ at, rise float64 }
	way := make([]step, len(places))
	for i, p := range places {
		way[i] = step{((p.X-mx)*s.east + (p.Y-my)*s.north) / (steep * metersPerMile), rise[i]}
	}
	slices.SortFunc(way, func(a, b step) int { return cmp.Compare(a.at, b.at) })
	beyond, sum, weight := 0.0, 0.0, 0.0
	for i := len(way) - 1; i > 0; i-- {
		beyond += way[i].at
		w := beyond * (way[i].at - way[i-1].at)
		sum, weight = sum+w*(way[i].rise+way[i-1].rise)/2, weight+w
	}
	s.year = sum / weight
	return s
}

// line is the middle of values that follow each other, and by how much they rise
// from one to the next (least squares).
func line(values []float64) (mean, rise float64) {
	mid, tt := float64(len(values)-1)/2, 0.0
	for t, v := range values {
		d := float64(t) - mid
		mean, rise, tt = mean+v/float64(len(values)), rise+d*v, tt+d*d
	}
	return mean, rise / tt
}

func summarizeFront(way []slope) Front {
	var mid slope
	paces := make([]float64, len(way))
	for i, s := range way {
		paces[i] = s.pace()
		mid.year += s.year / float64(len(way))
		mid.east += s.east / float64(len(way))
		mid.north += s.north / float64(len(way))
	}
	slices.Sort(paces)
	bearing := mid.bearing()
	off := make([]float64, len(way))
	for i, s := range way {
		off[i] = math.Abs(math.Remainder(s.bearing()-bearing, 2*math.Pi)) * 180 / math.Pi
	}
	slices.Sort(off)
	tail := (1 - Confidence) / 2
	return Front{
		Pace:   quantile(paces, 0.5),
		PaceIn: stat.Interval{Low: quantile(paces, tail), High: quantile(paces, 1-tail)},
		// Adding a whole turn keeps it from 0 up.
		Bearing: math.Mod(bearing*180/math.Pi+360, 360),
		Within:  quantile(off, Confidence),
		Rise:    mid.year, Fall: math.Hypot(mid.east, mid.north),
	}
}

// quantile of sorted values, between two of them in proportion.
func quantile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-2)
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// FrontOf is the straight front that fits chances best that are known, of places
// over falls: one for every place and fall, in order. It has no intervals.
func FrontOf(places []Place, chances [][]float64) Front {
	s := slopeOf(places, chances)
	return Front{Pace: s.pace(), Bearing: math.Mod(s.bearing()*180/math.Pi+360, 360),
		Rise: s.year, Fall: math.Hypot(s.east, s.north)}
}
