package assay_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
)

// By hand: 40 and 60 eggs in 2 of 100 mL each are 2,000 and 3,000, mean 2,500,
// relative difference 0.4; counting alone allows 1.96 √(2500 x 100) / 2500 =
// 0.392. Scoops of one bag, cysts of 150 eggs of which 3 are seen: φ is 4, and
// twice that.
func TestCompare(t *testing.T) {
	m := assay.DefaultMethod()
	looks, err := assay.Compare(m.Count(40), m.Count(60), m, assay.SameSuspension)
	require.NoError(t, err)
	require.InDelta(t, 0.4, looks.Relative, 1e-12)
	require.InDelta(t, 0.392, looks.Expected, 1e-4)
	require.True(t, looks.Outside)
	require.False(t, looks.Rough)
	require.Equal(t, assay.Density(2500), looks.Mean)

	scoops, err := assay.Compare(m.Count(40), m.Count(60), m, assay.SameBag)
	require.NoError(t, err)
	require.InDelta(t, 0.784, scoops.Expected, 1e-4)
	require.False(t, scoops.Outside)

	none, err := assay.Compare(m.Count(0), m.Count(0), m, assay.SameBag)
	require.NoError(t, err)
	require.Equal(t, assay.Difference{Expected: 2, Rough: true}, none)
}

func TestCompareRefusals(t *testing.T) {
	m := assay.DefaultMethod()
	_, err := assay.Compare(assay.Count{SoilCM3: 100, SuspensionML: 100}, m.Count(1), m, assay.SameBag)
	requireFields(t, map[string]assay.Problem{"first.aliquots": assay.Missing}, err)
	_, err = assay.Compare(m.Count(1), m.Count(-1), m, assay.SameBag)
	requireFields(t, map[string]assay.Problem{"second.aliquots.0.eggs": assay.Negative}, err)
	_, err = assay.Compare(m.Count(1), m.Count(1), m, 0)
	requireFields(t, map[string]assay.Problem{"twin": assay.Unknown}, err)
	require.Equal(t, "same_bag", assay.SameBag.String())
	require.Equal(t, "same_suspension", assay.SameSuspension.String())
}

func TestCompareProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := assay.DefaultMethod()
		a, b := drawCount(t, 300), drawCount(t, 300)
		ab, err := assay.Compare(a, b, m, assay.SameSuspension)
		require.NoError(t, err)
		ba, err := assay.Compare(b, a, m, assay.SameSuspension)
		require.NoError(t, err)
		require.Equal(t, ab.Outside, ba.Outside)
		require.InDelta(t, ab.Relative, ba.Relative, 1e-12)
		require.True(t, ab.Relative >= 0 && ab.Relative <= 2)
		bag, err := assay.Compare(a, b, m, assay.SameBag)
		require.NoError(t, err)
		require.GreaterOrEqual(t, bag.Expected, ab.Expected)
	})
}

// Good pairs, drawn: 2,000 a case, PCG seeded 36, 8. Two looks at one
// suspension; two scoops of one bag with its cysts as clumps. 19 in 20 are to
// lie within; 93 to 97 in 100 do from FewForPair eggs on.
func TestExpectedDifferenceByDrawing(t *testing.T) {
	const pairs = 2000
	source := rand.NewPCG(36, 8)
	m := assay.DefaultMethod()
	cyst := m.EggsPerCyst * m.Share()
	look := func(mean float64, twin assay.Twin) int {
		if twin == assay.SameBag {
			mean = cyst * distuv.Poisson{Lambda: mean / cyst, Src: source}.Rand()
		}
		if mean == 0 {
			return 0
		}
		return int(distuv.Poisson{Lambda: mean, Src: source}.Rand())
	}
	for _, tt := range []struct {
		mean float64
		twin assay.Twin
	}{{12, assay.SameSuspension}, {40, assay.SameSuspension}, {400, assay.SameSuspension}, {40, assay.SameBag}, {200, assay.SameBag}} {
		within := 0
		for range pairs {
			d, err := assay.Compare(m.Count(look(tt.mean, tt.twin)), m.Count(look(tt.mean, tt.twin)), m, tt.twin)
			require.NoError(t, err)
			within += one(!d.Outside)
		}
		require.InDelta(t, 0.95, share(within, pairs), 0.02, "%v eggs, %v", tt.mean, tt.twin)
	}
}
