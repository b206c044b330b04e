package virulence_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/virulence"
)

func sent(county int, sender byte, elevated ...virulence.Line) virulence.Sent {
	return virulence.Sent{County: county, Sender: [16]byte{sender}, Sure: true, Type: virulence.Type{Elevated: elevated}}
}

func TestRegions(t *testing.T) {
	two := virulence.PI88788
	three := []virulence.Sent{sent(1, 1, two), sent(1, 2, two), sent(1, 3)}
	require.Equal(t, []virulence.Region{{Counties: []int{1}, Tests: 3, Types: []virulence.TypeCount{{Type: "2", N: 2}, {Type: "0", N: 1}}}},
		virulence.Regions(three, 3, 20))
	require.Nil(t, virulence.Regions(three, 4, 20), "a program may ask for more senders")
	require.Nil(t, virulence.Regions(three[:2], 2, 20), "and never for fewer than three")
	require.Nil(t, virulence.Regions(nil, 3, 20))

	require.Nil(t, virulence.Regions(append(three[:3:3], sent(1, 1)), 3, 60), "one of four is half of the largest sender's two")

	unsure := slices.Clone(three)
	unsure[2].Sure = false
	require.Nil(t, virulence.Regions(unsure, 3, 20), "bags of somebody who may be another of them")
	nobody := slices.Clone(three)
	nobody[2].Sender = [16]byte{}
	require.Nil(t, virulence.Regions(nobody, 3, 20))

	// One sender with eleven of thirteen tests: the third would have to have three.
	heavy := slices.Clone(three)
	for range 10 {
		heavy = append(heavy, sent(1, 1, two))
	}
	require.Nil(t, virulence.Regions(heavy, 3, 20))

	// A county with one sender is not told by taking the rest from the whole: it
	// goes with another.
	lone := append(slices.Clone(three), sent(2, 9), sent(3, 4), sent(3, 5), sent(3, 6), sent(3, 7))
	got := virulence.Regions(lone, 3, 20)
	require.Len(t, got, 2)
	require.Equal(t, []int{1, 2}, got[0].Counties, "the county alone with the fewest tests joins it")
	require.Equal(t, []int{3}, got[1].Counties)
}

// Every region meets the rules, counted here anew; none or all tests are told of;
// and neither what was found nor the order of tests decides anything.
func TestRegionsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(3, 5).Draw(t, "k")
		tests := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) virulence.Sent {
			s := sent(rapid.IntRange(1, 5).Draw(t, "county"), byte(rapid.IntRange(0, 20).Draw(t, "sender")))
			s.Sure = rapid.IntRange(0, 9).Draw(t, "sure") > 0
			if rapid.Bool().Draw(t, "found") {
				s.Type.Elevated = []virulence.Line{virulence.PI88788}
			}
			return s
		}), 0, 40).Draw(t, "tests")
		got := virulence.Regions(tests, k, 20)
		told, seen := 0, map[int]bool{}
		for _, r := range got {
			told += r.Tests
			sum, sure, by := 0, map[[16]byte]bool{}, map[[16]byte]int{}
			for _, n := range r.Types {
				sum += n.N
			}
			require.Equal(t, r.Tests, sum)
			for _, c := range r.Counties {
				require.False(t, seen[c], "regions are disjoint")
				seen[c] = true
			}
			for _, s := range tests {
				if slices.Contains(r.Counties, s.County) {
					by[s.Sender]++
					if s.Sure && s.Sender != [16]byte{} {
						sure[s.Sender] = true
					}
				}
			}
			require.GreaterOrEqual(t, len(sure), k)
			largest, second, all := 0, 0, 0
			for _, n := range by {
				all += n
				if n > largest {
					largest, second = n, largest
				} else {
					second = max(second, n)
				}
			}
			require.GreaterOrEqual(t, float64(all-largest-second), 0.2*float64(largest), "p-percent rule, handbook section 11")
		}
		if len(got) > 0 {
			require.Equal(t, len(tests), told)
		}

		other := slices.Clone(tests)
		for i := range other {
			other[i].Type = virulence.Type{}
		}
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(other), func(i, j int) { other[i], other[j] = other[j], other[i] })
		again := virulence.Regions(other, k, 20)
		require.Equal(t, len(got), len(again))
		for i := range got {
			require.Equal(t, got[i].Counties, again[i].Counties)
			require.Equal(t, got[i].Tests, again[i].Tests)
		}
	})
}
