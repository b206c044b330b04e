package world

import (
	"cmp"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// worlds are shared by the tests; nobody changes them.
var worlds = []func() *World{
	sync.OnceValue(func() *World { return New(1, 2025) }),
	sync.OnceValue(func() *World { return New(2, 2025) }),
	sync.OnceValue(func() *World { return New(77, 2025) }),
}

type side [2]LonLat

// sidesOf takes the directed sides of rings; a side there and back cancels.
func sidesOf(t *testing.T, rings []Ring) map[side]bool {
	t.Helper()
	open := map[side]bool{}
	for _, r := range rings {
		require.Equal(t, r[0], r[len(r)-1], "ring closed")
		for i := 1; i < len(r); i++ {
			s, back := side{r[i-1], r[i]}, side{r[i], r[i-1]}
			require.False(t, open[s], "side %v twice: an overlap", s)
			if open[back] {
				delete(open, back)
			} else {
				open[s] = true
			}
		}
	}
	return open
}

// chain joins the sides left over into one ring.
func chain(t *testing.T, sides map[side]bool) Ring {
	t.Helper()
	next := map[LonLat]LonLat{}
	var start LonLat
	for s := range sides {
		_, twice := next[s[0]]
		require.False(t, twice, "boundary touches itself at %v", s[0])
		next[s[0]] = s[1]
		start = s[0]
	}
	r := Ring{start}
	for p := next[start]; p != start; p = next[p] {
		r = append(r, p)
	}
	require.Len(t, r, len(sides), "boundary is one ring")
	return append(r, start)
}

// signedArea is the shoelace area in square degrees.
func signedArea(r Ring) float64 {
	sum := 0.0
	for i := 1; i < len(r); i++ {
		sum += (r[i-1].Lon-r[0].Lon)*(r[i].Lat-r[0].Lat) - (r[i].Lon-r[0].Lon)*(r[i-1].Lat-r[0].Lat)
	}
	return sum / 2
}

func townshipRings(w *World, county string) []Ring {
	var out []Ring
	for _, t := range w.Townships {
		if county == "" || t.County == county {
			out = append(out, t.Outline.Outer)
		}
	}
	return out
}

// requireSimple fails if two sides of a ring that are not neighbors meet. It
// works in whole units of the seventh decimal, so that straight is straight.
func requireSimple(t *testing.T, r Ring) {
	t.Helper()
	p := make([]pt, len(r))
	for i, v := range r {
		p[i] = pt{int64(math.Round(v.Lon * 1e7)), int64(math.Round(v.Lat * 1e7))}
	}
	apart := func(a, b, c, d int64) bool { return max(a, b) < min(c, d) || max(c, d) < min(a, b) }
	turn := func(a, b, c pt) int { return cmp.Compare(cross(b.minus(a), c.minus(a)), 0) }
	for i := 1; i < len(p); i++ {
		for j := i + 2; j < len(p); j++ {
			a, b, c, d := p[i-1], p[i], p[j-1], p[j]
			if a == d || apart(a.x, b.x, c.x, d.x) || apart(a.y, b.y, c.y, d.y) {
				continue
			}
			meet := turn(a, b, c)*turn(a, b, d) <= 0 && turn(c, d, a)*turn(c, d, b) <= 0
			require.False(t, meet, "sides %d and %d meet", i, j)
		}
	}
}

// Simple rings, all counter-clockwise, whose shared sides cancel and leave one
// simple ring of the same area: every point of the state is covered once.
func TestTownshipsTileTheState(t *testing.T) {
	w := worlds[0]()
	sum := 0.0
	for _, r := range townshipRings(w, "") {
		requireSimple(t, r)
		require.Positive(t, signedArea(r), "counter-clockwise (RFC 7946, 3.1.6)")
		sum += signedArea(r)
	}
	state := chain(t, sidesOf(t, townshipRings(w, "")))
	requireSimple(t, state)
	require.InEpsilon(t, signedArea(state), sum, 1e-9)
}

func TestCountiesAreUnionsOfTheirTownships(t *testing.T) {
	w := worlds[0]()
	var outlines []Ring
	for _, c := range w.Counties {
		own := townshipRings(w, c.Code)
		require.GreaterOrEqual(t, len(own), 15, c.Name)
		require.LessOrEqual(t, len(own), 30, c.Name)
		union := sidesOf(t, own)
		require.Equal(t, sidesOf(t, []Ring{c.Outline.Outer}), union, "%s has the very sides of its townships", c.Name)
		outlines = append(outlines, c.Outline.Outer)
	}
	require.Equal(t, sidesOf(t, townshipRings(w, "")), sidesOf(t, outlines))
	require.Len(t, w.Counties, 12)
}

// ellipsoidArea is the area in m² of a ring whose sides are straight in the
// cylindrical equal-area projection of WGS 84: Snyder 1987, Map Projections, a
// Working Manual (USGS Professional Paper 1395), equation 3-12 for q.
func ellipsoidArea(r Ring) float64 {
	const a, e2 = 6378137.0, 0.00669437999014
	e := math.Sqrt(e2)
	q := func(lat float64) float64 {
		s := math.Sin(lat * math.Pi / 180)
		return (1 - e2) * (s/(1-e2*s*s) - math.Log((1-e*s)/(1+e*s))/(2*e))
	}
	sum := 0.0
	for i := 1; i < len(r); i++ {
		sum += (r[i].Lon - r[i-1].Lon) * math.Pi / 180 * (q(r[i].Lat) + q(r[i-1].Lat)) / 2
	}
	return -sum * a * a / 2
}

// 43 U.S.C. 751: a township is six miles square, 36 sections of 640 acres;
// 23,040 acres are 36 square miles, 93.24 km².
func TestWholeTownshipsAreThirtySixSquareMiles(t *testing.T) {
	w := worlds[0]()
	whole := 0
	for _, s := range w.Townships {
		got := ellipsoidArea(s.Outline.Outer) / (1609.344 * 1609.344)
		if s.Whole {
			whole++
			require.InEpsilon(t, 36, got, 0.005, s.Code)
			continue
		}
		require.GreaterOrEqual(t, got, 4.9, "%s: slivers go with a neighbor", s.Code)
	}
	require.Greater(t, whole, 150)
	require.Less(t, whole, len(w.Townships)-30, "the state is ragged")
}

func TestPlacesAreToldApart(t *testing.T) {
	w := worlds[0]()
	keys, names, codes := map[string]bool{}, map[string]bool{}, map[string]int{}
	for _, s := range w.Townships {
		require.Regexp(t, `^T(9|1\d|2[0-2])N R([1-9]|1[0-8])E$`, s.Code)
		require.False(t, keys[s.County+s.Code], "%s twice in one county", s.Code)
		require.False(t, names[s.Name], "%s twice", s.Name)
		keys[s.County+s.Code], names[s.Name] = true, true
		codes[s.Code]++
	}
	cut := 0
	for _, n := range codes {
		if n > 1 {
			cut++
		}
	}
	require.GreaterOrEqual(t, cut, 8, "county lines cut townships")
}

func TestStateLiesInTheAtlantic(t *testing.T) {
	w := worlds[0]()
	all := slices.Concat(townshipRings(w, "")...)
	for _, r := range w.Rivers {
		all = append(all, r.Line...)
	}
	for _, p := range all {
		require.InDelta(t, 41, p.Lat, 0.7)
		require.InDelta(t, -40, p.Lon, 1.2)
	}
}

func TestTownsAndOffices(t *testing.T) {
	w := worlds[0]()
	for _, c := range w.Counties {
		n, seats := 0, 0
		for _, town := range w.Towns {
			if town.County != c.Code {
				continue
			}
			n++
			require.True(t, contains(c.Outline.Outer, town.At), town.Name)
			if town.Seat {
				seats++
				require.Equal(t, c.Seat, town.Name)
			}
		}
		require.True(t, n >= 2 && n <= 4, "%s has %d towns", c.Name, n)
		require.Equal(t, 1, seats)
		require.Contains(t, c.Office.Address, c.Seat)
	}
}

// contains counts crossings in degrees.
func contains(r Ring, p LonLat) bool {
	in := false
	for i := 1; i < len(r); i++ {
		a, b := r[i-1], r[i]
		if (a.Lat > p.Lat) != (b.Lat > p.Lat) &&
			p.Lon < (b.Lon-a.Lon)*(p.Lat-a.Lat)/(b.Lat-a.Lat)+a.Lon {
			in = !in
		}
	}
	return in
}

// Names: US Census Bureau cartographic boundary files, as in us-atlas 3.0.1.
func TestNamesAreNotThoseOfRealCountiesOrStates(t *testing.T) {
	text, err := os.ReadFile("testdata/us-county-and-state-names.txt")
	require.NoError(t, err)
	taken := strings.Split(strings.ToLower(string(text)), "\n")
	require.Greater(t, len(taken), 1900)
	require.Contains(t, taken, "iowa")
	w := worlds[0]()
	names := []string{w.Name}
	for _, c := range w.Counties {
		names = append(names, c.Name)
	}
	for _, s := range w.Townships {
		names = append(names, s.Name)
	}
	for _, s := range w.Towns {
		names = append(names, s.Name)
	}
	for _, s := range w.Rivers {
		names = append(names, strings.TrimSuffix(s.Name, " River"))
	}
	for _, n := range names {
		require.NotContains(t, taken, strings.ToLower(n))
	}
	require.Len(t, slices.Compact(slices.Sorted(slices.Values(names))), len(names), "every name once")
}

func TestRiverRunsThroughCountiesAndAlongABorder(t *testing.T) {
	w := worlds[0]()
	inner := w.Rivers[1].Line
	through := map[string]bool{}
	vertices := map[LonLat]int{}
	for _, c := range w.Counties {
		for _, p := range c.Outline.Outer[1:] {
			vertices[p]++
		}
	}
	on := 0
	for _, p := range inner {
		if vertices[p] >= 2 {
			on++
		}
		for _, c := range w.Counties {
			if contains(c.Outline.Outer, p) {
				through[c.Name] = true
			}
		}
	}
	require.GreaterOrEqual(t, len(through), 5)
	require.GreaterOrEqual(t, on, 20, "vertices of the river are vertices of a county line")
	require.Contains(t, w.Rivers[0].Line, inner[len(inner)-1], "it flows into the border river")
}

func TestRidgeRingIsSimple(t *testing.T) {
	r := worlds[0]().Ridges[0].Outline.Outer
	requireSimple(t, r)
	require.Positive(t, signedArea(r))
}
