package proof

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/plan"
)

// finds is a plan for new finds alone.
var finds = [plan.NumAims]float64{plan.Finds: 1}

// One world here; cmd/measure holds a hundred against it. Chances are roughly
// right even in so few: what came is not half and not double of what was
// expected.
func TestThePlanFindsMoreThanAcres(t *testing.T) {
	all, err := Run(1, 3, DefaultTerms(), finds)
	require.NoError(t, err)
	come, _ := More(all, func(t Trial) float64 { return t.Plan - t.ByAcres })
	require.Positive(t, come)
	asked, _ := More(all, func(t Trial) float64 { return t.Asked - t.ByAcres })
	require.Greater(t, asked, come, "asking for townships is worth more than lots alone")
	count := plan.Tally(all[0].Calls)
	require.Greater(t, float64(count.Came), count.Expected/2)
	require.Less(t, float64(count.Came), count.Expected*2)
}

func TestTheSameEveryTime(t *testing.T) {
	a, err := Run(5, 1, DefaultTerms(), finds)
	require.NoError(t, err, "one fall is too little for a surface, and there is a plan all the same")
	b, err := Run(5, 1, DefaultTerms(), finds)
	require.NoError(t, err)
	require.Equal(t, a, b)
}

// Student's interval of three worlds by hand: means 1, 2 and 3, standard error
// 1/√3, and 4.303 of it (the table's t of two degrees of freedom at 0.975).
func TestMoreIsOverWorlds(t *testing.T) {
	trials := []Trial{{Seed: 1, Plan: 0}, {Seed: 1, Plan: 2}, {Seed: 2, Plan: 2}, {Seed: 3, Plan: 3}}
	mean, in := More(trials, func(t Trial) float64 { return t.Plan })
	require.InDelta(t, 2, mean, 1e-12)
	require.InDelta(t, 2-4.303/math.Sqrt(3), in.Low, 1e-3)
	require.InDelta(t, 2+4.303/math.Sqrt(3), in.High, 1e-3)
}
