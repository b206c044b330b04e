package assay_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/stat"
)

func TestLimitsNameTheirMethod(t *testing.T) {
	m := assay.DefaultMethod()
	// R 4.2.2, chisq.test: X² 8.44 on 3 degrees of freedom, p 0.0377; limits by
	// pnbinom inverted at phi 8.4407/3 would be 83.0 to 162.8 of 118 eggs.
	apart, err := count(100, 100, assay.Aliquot{ML: 1, Eggs: 20}, assay.Aliquot{ML: 1, Eggs: 32}, assay.Aliquot{ML: 1, Eggs: 25}, assay.Aliquot{ML: 1, Eggs: 41}).Density(m)
	require.NoError(t, err)
	require.Equal(t, assay.NegBinomial, apart.LimitsBy)
	require.Equal(t, "negative_binomial", apart.LimitsBy.String())
	require.InDelta(t, 0.03773, apart.Dispersion.P, 1e-5)
	want, err := stat.NegativeBinomial(118, apart.Dispersion.Phi, stat.Confidence)
	require.NoError(t, err)
	require.InDelta(t, want.Low*25, apart.Limits.Low, 1e-6)
	require.InDelta(t, want.High*25, apart.Limits.High, 1e-6)

	alike, err := count(100, 100, assay.Aliquot{ML: 1, Eggs: 28}, assay.Aliquot{ML: 2, Eggs: 60}).Density(m)
	require.NoError(t, err)
	require.Equal(t, assay.ExactPoisson, alike.LimitsBy)
	require.True(t, alike.Dispersion.Tested())

	one, err := m.Count(42).Density(m)
	require.NoError(t, err)
	require.Equal(t, "exact_poisson", one.LimitsBy.String())
	require.False(t, one.Dispersion.Tested())
	require.Empty(t, assay.LimitMethod(0).String())
}

func TestAgain(t *testing.T) {
	m := assay.DefaultMethod()
	first := m.Count(3)
	both, err := first.Again(assay.Aliquot{ML: 2, Eggs: 5})
	require.NoError(t, err)
	r, err := both.Density(m)
	require.NoError(t, err)
	require.Equal(t, 8, r.Eggs)
	require.Equal(t, assay.Density(200), r.Density)
	require.Len(t, first.Aliquots, 1, "the first count stays as it was")
	_, err = first.Again(make9()...)
	requireFields(t, map[string]assay.Problem{"aliquots": assay.TooMany}, err)
}

// From bag to slide, cysts as clumps: cysts strewn through soil, a scoop's
// cysts crushed into 100 mL, three portions of 2 mL looked at. 2,000 bags a
// density, PCG seeded 36, 100. Held to a binomial test: fewer covered than the
// stated share would give less than once in 1,000 fails.
//
// Limits of the reading are of the suspension and keep 95 % of it. Of the bag
// they cover far less, which is why BagLimits are there, and those keep 95 % of
// the bag.
func TestCoverageFromBagToSlide(t *testing.T) {
	const bags, portions = 2000, 3
	source := rand.NewPCG(36, 100)
	m := assay.DefaultMethod()
	m.AliquotML = 2 * portions
	for _, d := range []assay.Density{150, 1000, 6000} {
		ofSuspension, ofBag, wide := 0, 0, 0
		known := map[int]stat.Interval{}
		cysts := distuv.Poisson{Lambda: float64(d) * m.SoilCM3 / 100 / m.EggsPerCyst, Src: source}
		for range bags {
			eggs := 0.0
			if n := cysts.Rand(); n > 0 {
				eggs = distuv.Poisson{Lambda: n * m.EggsPerCyst, Src: source}.Rand()
			}
			c := assay.Count{SoilCM3: m.SoilCM3, SuspensionML: m.SuspensionML}
			for range portions {
				seen := 0
				if eggs > 0 {
					seen = int(distuv.Binomial{N: eggs, P: 0.02, Src: source}.Rand())
				}
				c.Aliquots = append(c.Aliquots, assay.Aliquot{ML: 2, Eggs: seen})
			}
			r, err := c.Density(m)
			require.NoError(t, err)
			b, there := known[r.Eggs]
			if !there || r.LimitsBy == assay.NegBinomial {
				b, err = c.BagLimits(m)
				require.NoError(t, err)
			}
			if r.LimitsBy == assay.ExactPoisson {
				known[r.Eggs] = b // one total, one pair of limits: worked out once
			}
			ofSuspension += one(r.Limits.Contains(eggs))
			ofBag += one(r.Limits.Contains(float64(d)))
			wide += one(b.Contains(float64(d)))
		}
		t.Logf("%v: of the suspension %.3f; of the bag %.3f; bag limits of the bag %.3f",
			d, share(ofSuspension, bags), share(ofBag, bags), share(wide, bags))
		atLeast := func(covered int, stated float64) {
			require.Greater(t, distuv.Binomial{N: bags, P: stated}.CDF(float64(covered)), 0.001, "density %v", d)
		}
		atLeast(ofSuspension, 0.95)
		atLeast(wide, 0.95)
		require.Less(t, share(ofBag, bags), 0.75, "limits of the slide must not be taken for limits of the bag")
	}
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

func share(x, n int) float64 { return float64(x) / float64(n) }

// One egg of 1.75 mL of 20 mL, of cysts of 500 eggs: each puts 44 on the slide. Any egg
// at all is seen 25 times in 1,000 at a mean of 43.75 × -ln 0.975 = 1.11 eggs, which is
// the lower limit by itself (worked out by hand), above the egg that was seen.
func TestBagLimitsHoldTheDensity(t *testing.T) {
	m := assay.Method{Name: "few", Version: 1, SoilCM3: 50, SuspensionML: 20, AliquotML: 1, Recovery: 1, EggsPerCyst: 500}
	c := assay.Count{SoilCM3: 50, SuspensionML: 20, Aliquots: []assay.Aliquot{{ML: 1.75, Eggs: 1}}}
	r, err := c.Density(m)
	require.NoError(t, err)
	b, err := c.BagLimits(m)
	require.NoError(t, err)
	require.Equal(t, float64(r.Density), b.Low)
	require.Greater(t, b.High, r.Limits.High)
}

func TestBagLimitsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMethod(t)
		c := drawCount(t, 60)
		r, err := c.Density(m)
		require.NoError(t, err)
		b, err := c.BagLimits(m)
		require.NoError(t, err)
		require.GreaterOrEqual(t, b.High, r.Limits.High*(1-1e-6))
		require.GreaterOrEqual(t, b.Width(), r.Limits.Width()*(1-1e-6))
		require.True(t, b.Contains(float64(r.Density)))
	})
	_, err := assay.Count{}.BagLimits(assay.DefaultMethod())
	require.ErrorIs(t, err, assay.NotPositive)
}
