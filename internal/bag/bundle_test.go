package bag

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestPlanBundles(t *testing.T) {
	for name, tc := range map[string]struct {
		total int
		sizes []int
		want  []Pack
	}{
		"even":                   {12, []int{4}, []Pack{{4, 3}}},
		"rest of its own":        {14, []int{4}, []Pack{{4, 3}, {2, 1}}},
		"in turn":                {21, []int{1, 2, 4}, []Pack{{4, 3}, {2, 3}, {1, 3}}},
		"listed twice":           {18, []int{4, 4, 1}, []Pack{{4, 4}, {1, 2}}},
		"large one passed over":  {5, []int{6, 2}, []Pack{{2, 2}, {1, 1}}},
		"fewer than any size":    {3, []int{6, 4}, []Pack{{3, 1}}},
		"one bag":                {1, []int{6}, []Pack{{1, 1}}},
		"last round is half one": {11, []int{6, 3}, []Pack{{6, 1}, {3, 1}, {2, 1}}},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := PlanBundles(tc.total, tc.sizes)
			require.NoError(t, err)
			require.Equal(t, tc.want, got)
		})
	}
}

func TestPlanBundlesRefuses(t *testing.T) {
	for name, tc := range map[string]struct {
		total int
		sizes []int
	}{
		"no bags":       {0, []int{4}},
		"negative":      {-3, []int{4}},
		"too many":      {MaxLot + 1, []int{4}},
		"no sizes":      {10, nil},
		"size zero":     {10, []int{4, 0}},
		"seven at once": {10, []int{7}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := PlanBundles(tc.total, tc.sizes)
			require.ErrorIs(t, err, ErrBundle)
		})
	}
}

func TestPlanBundlesAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := rapid.IntRange(1, MaxLot).Draw(t, "total")
		sizes := rapid.SliceOfN(rapid.IntRange(1, MaxBundle), 1, 8).Draw(t, "sizes")
		packs, err := PlanBundles(total, sizes)
		require.NoError(t, err)
		sum, odd := 0, 0
		for _, size := range Sizes(packs) {
			require.GreaterOrEqual(t, size, 1)
			require.LessOrEqual(t, size, MaxBundle)
			sum += size
			if !slices.Contains(sizes, size) {
				odd++
			}
		}
		require.Equal(t, total, sum)
		require.LessOrEqual(t, odd, 1, "only the rest has a size nobody asked for")
	})
}
