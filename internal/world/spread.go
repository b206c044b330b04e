package world

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

const (
	// leadYears is how long before the first season the nematode came in.
	leadYears = 25
	// entryFields is how many fields it came into, over a township or two. So
	// many that its later course depends on the state and not on their luck.
	entryFields = 30
)

// Yearly risks of a clean field, each times the share of fields infested where
// the soil could come from. Our own choice: nothing published gives them. They
// are set so that finds rise from about 35 to 60 in 100 bags over the program.
const (
	riskFarm     = 0.10   // the farm's own machinery
	riskTownship = 0.12   // shared machinery, custom operators, wildlife
	riskNear     = 0.1    // the townships around
	riskRegion   = 0.13   // the wider neighborhood: hired and used machinery, seed, birds
	riskFlood    = 0.9    // the township upstream, for fields that flood
	riskWind     = 0.05   // the townships to the west, for light soils
	riskJump     = 0.0001 // used machinery from anywhere in the state
)

// history runs the years from the entry to the open fall and writes the falls
// of the program into the fields.
func history(l *land, farms []farm, rng *rand.Rand, firstSeason int) {
	s := spreader{land: l, farms: farms, rng: rng, upstream: upstreamOf(l), reach: reachOf(l)}
	s.enter(firstSeason - leadYears)
	for year := firstSeason - leadYears; year <= firstSeason+Seasons; year++ {
		season := year - firstSeason
		s.move(year)
		weather := noise(rng, 0.12)
		for i := range farms {
			for j := range farms[i].fields {
				f := &farms[i].fields[j]
				f.grow(farms[i].habit, year, season, weather, rng)
				if season >= 0 {
					f.years[season] = fieldYear{f.eggs, f.before, f.crop, f.next, f.source}
				}
			}
		}
	}
}

type spreader struct {
	land     *land
	farms    []farm
	rng      *rand.Rand
	upstream [][]int
	share    []float64 // of the fields of each tract that are infested
	region   []float64 // the same, averaged over the wider neighborhood
	reach    [][]float64
	total    float64
}

// enter infests the fields closest to the entry corner.
func (s *spreader) enter(year int) {
	var near []*field
	for i := range s.farms {
		for j := range s.farms[i].fields {
			near = append(near, &s.farms[i].fields[j])
		}
	}
	slices.SortStableFunc(near, func(a, b *field) int {
		return cmp.Compare(miles(a.at, entry.pt()), miles(b.at, entry.pt()))
	})
	for _, f := range near[:min(entryFields, len(near))] {
		f.eggs, f.arrived = 400, year
	}
}

// move carries the nematode to clean fields for one year.
func (s *spreader) move(year int) {
	s.measure()
	for i := range s.farms {
		own := 0
		for j := range s.farms[i].fields {
			if s.farms[i].fields[j].eggs > 0 {
				own++
			}
		}
		for j := range s.farms[i].fields {
			f := &s.farms[i].fields[j]
			if f.eggs == 0 && chance(s.rng, s.farms[i].contact*s.risk(f, float64(own)/float64(len(s.farms[i].fields)))) {
				f.eggs, f.arrived = between(s.rng, 10, 120), year
			}
		}
	}
}

// risk is the chance that a clean field is infested this year.
func (s *spreader) risk(f *field, own float64) float64 {
	t := &s.land.tracts[f.tract]
	near, west, wests := 0.0, 0.0, 0
	for _, n := range t.neighbors {
		near += s.share[n]
		if s.land.tracts[n].center.x < t.center.x-sixMiles/2 {
			west += s.share[n]
			wests++
		}
	}
	r := riskFarm*own + riskTownship*s.share[f.tract] + riskJump*s.total
	r += riskNear * near / float64(len(t.neighbors))
	r += riskRegion * s.region[f.tract]
	if f.light && wests > 0 {
		r += riskWind * west / float64(wests)
	}
	if f.lowland {
		for _, u := range s.upstream[f.tract] {
			r += riskFlood * s.share[u]
		}
	}
	if f.light { // light soils let it settle more easily
		r *= 1.3
	}
	return min(r, 0.9)
}

// measure takes the share of infested fields of every tract.
func (s *spreader) measure() {
	fields, infested := make([]int, len(s.land.tracts)), make([]int, len(s.land.tracts))
	all, hit := 0, 0
	for i := range s.farms {
		for j := range s.farms[i].fields {
			f := &s.farms[i].fields[j]
			fields[f.tract]++
			all++
			if f.eggs > 0 {
				infested[f.tract]++
				hit++
			}
		}
	}
	s.share = make([]float64, len(fields))
	for i, n := range fields {
		if n > 0 {
			s.share[i] = float64(infested[i]) / float64(n)
		}
	}
	s.region = make([]float64, len(fields))
	for i, weights := range s.reach {
		for k, w := range weights {
			s.region[i] += float64(w * s.share[k])
		}
	}
	s.total = float64(hit) / float64(max(all, 1))
}

// upstreamOf turns the downstream lists around.
func upstreamOf(l *land) [][]int {
	up := make([][]int, len(l.tracts))
	for i := range l.tracts {
		for _, d := range l.tracts[i].downstream {
			up[d] = append(up[d], i)
		}
	}
	return up
}

// regionMiles is how far machinery usually travels.
const regionMiles = 6

// reachOf weighs the tracts around each tract by distance; weights sum to 1.
func reachOf(l *land) [][]float64 {
	out := make([][]float64, len(l.tracts))
	for i := range l.tracts {
		out[i] = make([]float64, len(l.tracts))
		sum := 0.0
		for k := range l.tracts {
			if k != i && l.tracts[k].farmed > 0 {
				w := math.Exp(-miles(l.tracts[i].center, l.tracts[k].center) / regionMiles)
				out[i][k] = w
				sum += w
			}
		}
		for k := range out[i] {
			out[i][k] /= sum
		}
	}
	return out
}
