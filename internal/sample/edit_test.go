package sample

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestWithBagCopiesAllButTheCode(t *testing.T) {
	f := validForm(t)
	got := f.WithBag()
	require.Len(t, got.Bags, 2)
	want := f.Bags[0]
	want.Code = ""
	require.Equal(t, want, got.Bags[1])
	require.Len(t, f.Bags, 1, "the form given is not changed")
}

func TestWithGrowerCopiesPlaceAndDayOnly(t *testing.T) {
	got := validForm(t).WithGrower()
	require.Equal(t, FormBag{Grower: 1, County: "1", Day: "2026-10-31"}, got.Bags[1])
}

func TestWithout(t *testing.T) {
	f := validForm(t)
	f.Standings = []string{"first", "earlier", "already"}
	f = f.WithBag().WithGrower().WithGrower()
	one := f.Without(0)
	require.Equal(t, []int{0, 1, 2}, growers(one))
	require.Equal(t, f.Standings, one.Standings)
	two := one.Without(1)
	require.Equal(t, []int{0, 1}, growers(two), "a grower goes with the last bag")
	require.Equal(t, []string{"first", "already"}, two.Standings)
	require.Equal(t, []string{"first", "earlier", "already"}, f.Standings)
	require.Equal(t, f, f.Without(-1))
	require.Equal(t, f, f.Without(len(f.Bags)))
	require.Len(t, validForm(t).Without(0).Bags, 1, "the only block stays")
}

func growers(f Form) []int {
	var out []int
	for _, b := range f.Bags {
		out = append(out, b.Grower)
	}
	return out
}

// However blocks are added and taken out: between one and MaxBags blocks, and
// growers numbered from 0 without a gap.
func TestEditsKeepTheFormWhole(t *testing.T) {
	start := validForm(t)
	rapid.Check(t, func(rt *rapid.T) {
		f := start
		for range rapid.IntRange(0, 80).Draw(rt, "steps") {
			switch rapid.SampledFrom([]string{"bag", "bag", "grower", "remove"}).Draw(rt, "do") {
			case "bag":
				f = f.WithBag()
			case "grower":
				f = f.WithGrower()
			case "remove":
				f = f.Without(rapid.IntRange(-1, MaxBags).Draw(rt, "at"))
			}
			require.NotEmpty(rt, f.Bags)
			require.LessOrEqual(rt, len(f.Bags), MaxBags)
			all := slices.Compact(growers(f))
			for i, g := range all {
				require.Equal(rt, i, g)
			}
			require.Equal(rt, start.Token, f.Token)
		}
	})
	require.Empty(t, Form{}.WithBag().WithGrower().Bags)
}
