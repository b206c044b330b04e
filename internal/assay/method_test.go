package assay_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
)

// Eggs lying singly: the chance that a 2 % aliquot shows at least one is
// 1 - exp(-0.02 x density), worked by hand. The compound formula must come to
// it as the cysts shrink.
func TestMissChanceWithoutClumping(t *testing.T) {
	m := assay.DefaultMethod()
	m.EggsPerCyst = 1e-6
	for d, seen := range map[assay.Density]float64{50: 0.632, 100: 0.865, 150: 0.950, 200: 0.982} {
		require.InDelta(t, seen, 1-m.MissChance(d), 5e-4, "density %v", d)
	}
	// One-sided 95 %: -ln 0.05 / 0.02 = 2.996/0.02 = 150.
	require.InDelta(t, 149.79, float64(m.MissedOneInTwenty()), 0.01)
}

// All of the scoop looked at: what is missed is a scoop without a cyst. At 150
// eggs per 100 cm³ in cysts of 150 that is one cyst a scoop on average, and
// e^-1, about 37 in 100, hold none (worked by hand).
func TestMissChanceOfTheScoopAlone(t *testing.T) {
	m := assay.NewMethod("all_of_it", 100, 100, 100)
	require.InDelta(t, math.Exp(-1), m.MissChance(150), 1e-12)
	require.InDelta(t, 0.37, m.MissChance(150), 0.005)
}

// From bag to slide, by hand: 2 of 100 mL from 100 cm³, cysts of 150 eggs. A
// cyst puts 3 eggs on the slide on average and none with chance e^-3; at 150
// per 100 cm³ the miss is exp(-(1 - e^-3)) = 0.3867.
func TestMissedOneInTwenty(t *testing.T) {
	m := assay.DefaultMethod()
	require.InDelta(t, 0.3867, m.MissChance(150), 5e-5)
	require.InDelta(t, 472.9, float64(m.MissedOneInTwenty()), 0.05)
	require.InDelta(t, 0.05, m.MissChance(m.MissedOneInTwenty()), 1e-12)
}

// The closed form against the sum it stands for, term by term with the Poisson
// probabilities of a reference library (gonum).
func TestMissChanceIsTheCompoundSum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMethod(t)
		d := assay.Density(rapid.Float64Range(0.1, 3000).Draw(t, "density"))
		cysts := distuv.Poisson{Lambda: float64(d) * m.SoilCM3 / 100 / m.EggsPerCyst}
		shown := m.EggsPerCyst * m.Recovery * m.AliquotML / m.SuspensionML
		sum := cysts.Prob(0)
		for n := 1.0; n < 2000 && !(n > cysts.Lambda && cysts.Prob(n) < 1e-16); n++ {
			sum += cysts.Prob(n) * distuv.Poisson{Lambda: n * shown}.Prob(0)
		}
		require.InDelta(t, sum, m.MissChance(d), 1e-9)
	})
}

// A drawn check with nothing of the formula in it: cysts strewn through a bag
// of 1,000 cm³, a scoop taken out of it, its cysts crushed, 2 % looked at.
// 20,000 bags a case, PCG seeded 6, 36. The share of bags with nothing on the
// slide must lie within four standard errors of the closed form; with these
// cases a right formula fails about once in 5,000 seeds.
func TestMissChanceByDrawing(t *testing.T) {
	const bags, bagCM3 = 20000, 1000.0
	source := rand.NewPCG(6, 36)
	m := assay.DefaultMethod()
	for _, tt := range []struct {
		name  string
		d     assay.Density
		fixed bool // exactly 150 eggs in each cyst, not 150 on average
	}{
		{"few", 150, false}, {"some", 473, false}, {"fixed number in a cyst", 150, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			inBag := distuv.Poisson{Lambda: float64(tt.d) * bagCM3 / 100 / m.EggsPerCyst, Src: source}
			perCyst := distuv.Poisson{Lambda: m.EggsPerCyst, Src: source}
			random := rand.New(source)
			missed := 0
			for range bags {
				eggs := 0.0
				for range int(inBag.Rand()) {
					if random.Float64() < m.SoilCM3/bagCM3 { // the cyst is in the scoop
						if tt.fixed {
							eggs += m.EggsPerCyst
						} else {
							eggs += perCyst.Rand()
						}
					}
				}
				if eggs == 0 || (distuv.Binomial{N: eggs, P: m.Share(), Src: source}).Rand() == 0 {
					missed++
				}
			}
			want := m.MissChance(tt.d)
			slack := 4 * math.Sqrt(want*(1-want)/bags)
			require.InDelta(t, want, float64(missed)/bags, slack)
		})
	}
}

func TestMissChanceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMethod(t)
		a := assay.Density(rapid.Float64Range(0, 5000).Draw(t, "a"))
		b := a + assay.Density(rapid.Float64Range(0.5, 500).Draw(t, "more"))
		require.Equal(t, 1.0, m.MissChance(0))
		require.GreaterOrEqual(t, m.MissChance(a), 0.0)
		require.LessOrEqual(t, m.MissChance(b), m.MissChance(a))
		if m.MissChance(a) > 1e-300 { // under it floating-point numbers run out
			require.Less(t, m.MissChance(b), m.MissChance(a))
		}

		// Clumping never makes a find likelier, and looking at more of the
		// suspension never makes it less likely.
		clumped := m
		clumped.EggsPerCyst *= 2
		require.GreaterOrEqual(t, clumped.MissChance(b), m.MissChance(b))
		require.GreaterOrEqual(t, clumped.MissedOneInTwenty(), m.MissedOneInTwenty())
		all := m
		all.AliquotML = all.SuspensionML
		require.LessOrEqual(t, all.MissChance(b), m.MissChance(b))
		require.InDelta(t, 0.05, m.MissChance(m.MissedOneInTwenty()), 1e-9)
	})
}

func TestMissChanceOfNonsense(t *testing.T) {
	require.True(t, math.IsNaN(assay.Method{}.MissChance(100)))
	require.True(t, math.IsNaN(float64(assay.Method{}.MissedOneInTwenty())))
	require.True(t, math.IsNaN(assay.DefaultMethod().MissChance(-1)))
	require.True(t, math.IsNaN(assay.DefaultMethod().MissChance(assay.Density(math.NaN()))))
}

// Reference library: R 4.2.2 poisson.test gives 15.377 to 35.710 for 24, within
// 12 to 36, and 14.580 to 34.511 for 23, over 34.5.
func TestSmallestWithinHalf(t *testing.T) {
	require.Equal(t, 24, assay.DefaultMethod().SmallestWithinHalf())
}

func TestMethodFigures(t *testing.T) {
	for _, m := range assay.PresetMethods() {
		require.NoError(t, m.Check())
	}
	m := assay.DefaultMethod()
	require.Equal(t, assay.Density(50), m.PerEgg())
	require.Equal(t, 0.02, m.Share())
	got, err := m.Count(1).Density(m)
	require.NoError(t, err)
	require.Equal(t, m.PerEgg(), got.PerEgg)
}

func TestMethodCheck(t *testing.T) {
	tests := []struct {
		name   string
		change func(*assay.Method)
		field  string
		want   assay.Problem
	}{
		{"no name", func(m *assay.Method) { m.Name = "" }, "name", assay.Missing},
		{"a sentence for a name", func(m *assay.Method) { m.Name = "Our method" }, "name", assay.NotKey},
		{"version 0", func(m *assay.Method) { m.Version = 0 }, "version", assay.NotPositive},
		{"no soil", func(m *assay.Method) { m.SoilCM3 = 0 }, "soil", assay.NotPositive},
		{"no water", func(m *assay.Method) { m.SuspensionML = math.Inf(1) }, "suspension", assay.NotFinite},
		{"nothing looked at", func(m *assay.Method) { m.AliquotML = 0 }, "aliquot", assay.NotPositive},
		{"more looked at than there is", func(m *assay.Method) { m.AliquotML = 101 }, "aliquot", assay.MoreThanSuspension},
		{"recovery left out", func(m *assay.Method) { m.Recovery = 0 }, "recovery", assay.NotPositive},
		{"recovery as a percentage", func(m *assay.Method) { m.Recovery = 60 }, "recovery", assay.TooLarge},
		{"empty cysts", func(m *assay.Method) { m.EggsPerCyst = 0 }, "eggs_per_cyst", assay.NotPositive},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := assay.DefaultMethod()
			tt.change(&m)
			requireFields(t, map[string]assay.Problem{tt.field: tt.want}, m.Check())
		})
	}
}
