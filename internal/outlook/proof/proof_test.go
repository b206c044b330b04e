package proof

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/plan"
)

// finds is a plan for new finds alone.
var finds = [plan.NumAims]float64{plan.Finds: 1}

// Two worlds here; cmd/measure holds a hundred against it. Chances are roughly
// right even in so few: what came is not half and not double of what was
// expected.
func TestThePlanFindsMoreThanAcres(t *testing.T) {
	var all []Trial
	var calls []plan.Call
	for seed := uint64(1); seed <= 2; seed++ {
		trials, err := Run(seed, 3, DefaultTerms(), finds)
		require.NoError(t, err)
		all = append(all, trials...)
		calls = append(calls, trials[0].Calls...)
	}
	come, _ := More(all, func(t Trial) float64 { return t.Plan - t.ByAcres })
	require.Positive(t, come)
	asked, in := More(all, func(t Trial) float64 { return t.Asked - t.ByAcres })
	require.Greater(t, asked, come, "asking for townships is worth more than lots alone")
	require.True(t, in.Contains(asked))
	count := plan.Tally(calls)
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
