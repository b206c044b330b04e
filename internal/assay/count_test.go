package assay_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/stat"
)

// The dilution formula is standard; the cases were worked by hand from it. The
// hand method (2 mL of 100 mL from 100 cm³) is that of the ISU and MU labs.
func TestDensityOfDilutions(t *testing.T) {
	tests := []struct {
		name     string
		count    assay.Count
		recovery float64
		want     assay.Density
		perEgg   assay.Density
	}{
		{"42 eggs in 2 of 100 mL from 100 cm³", count(100, 100, assay.Aliquot{ML: 2, Eggs: 42}), 1, 2100, 50},
		{"the same from 250 cm³", count(250, 100, assay.Aliquot{ML: 2, Eggs: 42}), 1, 840, 20},
		{"one egg in 2 mL", count(100, 100, assay.Aliquot{ML: 2, Eggs: 1}), 1, 50, 50},
		{"one egg in 1 mL", count(100, 100, assay.Aliquot{ML: 1, Eggs: 1}), 1, 100, 100},
		{"aliquots are added up, not averaged", count(100, 100, assay.Aliquot{ML: 1, Eggs: 30}, assay.Aliquot{ML: 3, Eggs: 12}), 1, 1050, 25},
		{"half of the eggs recovered", count(100, 100, assay.Aliquot{ML: 2, Eggs: 42}), 0.5, 4200, 100},
		{"none", count(100, 100, assay.Aliquot{ML: 2}), 1, 0, 50},
		{"all of the suspension", count(100, 100, assay.Aliquot{ML: 100, Eggs: 7}), 1, 7, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := assay.DefaultMethod()
			m.Recovery = tt.recovery
			got, err := tt.count.Density(m)
			require.NoError(t, err)
			require.Equal(t, tt.want, got.Density) // exactly: whole numbers stay whole
			require.Equal(t, tt.perEgg, got.PerEgg)
			require.Equal(t, assay.Counted, got.Basis)
			require.True(t, got.LimitsKnown)
		})
	}
}

// Garwood 1936: no eggs in a 2 % aliquot leave up to 3.689/0.02 = 184 eggs per
// 100 cm³ at 95 %, two-sided. Ten eggs, 4.7954 to 18.3904 on the slide.
func TestDensityLimits(t *testing.T) {
	m := assay.DefaultMethod()
	none, err := m.Count(0).Density(m)
	require.NoError(t, err)
	require.Zero(t, none.Limits.Low)
	require.InDelta(t, 184.44, none.Limits.High, 0.01)

	ten, err := m.Count(10).Density(m)
	require.NoError(t, err)
	require.InDelta(t, 4.7954*50, ten.Limits.Low, 0.01)
	require.InDelta(t, 18.3904*50, ten.Limits.High, 0.01)
}

func TestDensityCarriesWhatWasSeen(t *testing.T) {
	m := assay.DefaultMethod()
	c := m.Count(3)
	c.CystSeen, c.JuvenilesSeen = true, true
	got, err := c.Density(m)
	require.NoError(t, err)
	require.Equal(t, 3, got.Eggs)
	require.True(t, got.CystSeen)
	require.True(t, got.JuvenilesSeen)
}

func TestCountCheck(t *testing.T) {
	good := assay.DefaultMethod().Count(42)
	tests := []struct {
		name   string
		change func(*assay.Count)
		want   map[string]assay.Problem
	}{
		{"as it should be", func(*assay.Count) {}, nil},
		{"no soil", func(c *assay.Count) { c.SoilCM3 = 0 }, map[string]assay.Problem{"soil": assay.NotPositive}},
		{"negative soil", func(c *assay.Count) { c.SoilCM3 = -100 }, map[string]assay.Problem{"soil": assay.Negative}},
		{"soil not a number", func(c *assay.Count) { c.SoilCM3 = math.NaN() }, map[string]assay.Problem{"soil": assay.NotFinite}},
		{"a wheelbarrow of soil", func(c *assay.Count) { c.SoilCM3 = 5001 }, map[string]assay.Problem{"soil": assay.TooLarge}},
		{"no water", func(c *assay.Count) { c.SuspensionML = 0 }, map[string]assay.Problem{"suspension": assay.NotPositive}},
		{"infinite water", func(c *assay.Count) { c.SuspensionML = math.Inf(1) }, map[string]assay.Problem{"suspension": assay.NotFinite}},
		{"nothing looked at", func(c *assay.Count) { c.Aliquots = nil }, map[string]assay.Problem{"aliquots": assay.Missing}},
		{"nine aliquots", func(c *assay.Count) { c.Aliquots = make9() }, map[string]assay.Problem{"aliquots": assay.TooMany}},
		{"an empty aliquot", func(c *assay.Count) { c.Aliquots[0].ML = 0 }, map[string]assay.Problem{"aliquots.0.ml": assay.NotPositive}},
		{"negative eggs", func(c *assay.Count) { c.Aliquots[0].Eggs = -1 }, map[string]assay.Problem{"aliquots.0.eggs": assay.Negative}},
		{"as many eggs as a slide holds", func(c *assay.Count) { c.Aliquots[0].Eggs = 20000 }, nil},
		{"one more", func(c *assay.Count) { c.Aliquots[0].Eggs = 20001 }, map[string]assay.Problem{"aliquots.0.eggs": assay.MoreThanSlide}},
		{"more looked at than there is", func(c *assay.Count) { c.SuspensionML = 1.5 }, map[string]assay.Problem{"aliquots": assay.MoreThanSuspension}},
		{"ten tenths of it are all of it", func(c *assay.Count) {
			c.SuspensionML, c.Aliquots = 0.8, []assay.Aliquot{{ML: 0.1}, {ML: 0.1}, {ML: 0.1}, {ML: 0.1}, {ML: 0.1}, {ML: 0.1}, {ML: 0.1}, {ML: 0.1}}
		}, nil},
		{"two faults at once", func(c *assay.Count) { c.SoilCM3, c.Aliquots[0].Eggs = 0, -1 },
			map[string]assay.Problem{"soil": assay.NotPositive, "aliquots.0.eggs": assay.Negative}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := good
			c.Aliquots = append([]assay.Aliquot(nil), good.Aliquots...)
			tt.change(&c)
			requireFields(t, tt.want, c.Check())
		})
	}
}

func TestDensityRefusals(t *testing.T) {
	m := assay.DefaultMethod()
	c := m.Count(42)
	c.SoilCM3 = 0
	_, err := c.Density(m)
	requireFields(t, map[string]assay.Problem{"soil": assay.NotPositive}, err)
	require.ErrorIs(t, err, assay.NotPositive)

	_, err = m.Count(42).Density(assay.Method{})
	require.ErrorIs(t, err, assay.Missing)
	var invalid *assay.Invalid
	require.ErrorAs(t, err, &invalid)
	require.Equal(t, assay.NotPositive, invalid.Fields["method.recovery"])

	// A slide that passes but soil so little that the density cannot be meant.
	c = m.Count(20000)
	c.SoilCM3 = 10
	_, err = c.Density(m)
	requireFields(t, map[string]assay.Problem{"aliquots": assay.TooLarge}, err)
}

func TestDensityProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMethod(t)
		c := drawCount(t, 400)
		got, err := c.Density(m)
		require.NoError(t, err)
		require.True(t, got.Limits.Contains(float64(got.Density)), "%v in %v", got.Density, got.Limits)
		require.InEpsilon(t, 1+float64(got.PerEgg)*float64(got.Eggs), 1+float64(got.Density), 1e-9)

		more := c
		more.Aliquots = append([]assay.Aliquot(nil), c.Aliquots...)
		more.Aliquots[0].Eggs++
		up, err := more.Density(m)
		require.NoError(t, err)
		require.Greater(t, up.Density, got.Density)
		if got.LimitsBy == assay.ExactPoisson && up.LimitsBy == assay.ExactPoisson {
			require.Greater(t, up.Limits.Low, got.Limits.Low)
			require.Greater(t, up.Limits.High, got.Limits.High)
		}

		// Every factor scales the estimate, its limits and its step alike.
		k := rapid.Float64Range(1, 3).Draw(t, "k")
		for name, scaled := range map[string]func() (assay.Reading, float64, error){
			"water": func() (assay.Reading, float64, error) {
				c := c
				c.SuspensionML *= k
				r, err := c.Density(m)
				return r, k, err
			},
			"soil": func() (assay.Reading, float64, error) {
				c := c
				c.SoilCM3 *= k
				r, err := c.Density(m)
				return r, 1 / k, err
			},
			"recovery": func() (assay.Reading, float64, error) {
				m := m
				m.Recovery /= k
				r, err := c.Density(m)
				return r, k, err
			},
		} {
			r, factor, err := scaled()
			if got.Density*assay.Density(factor) > assay.MaxDensity {
				require.ErrorIs(t, err, assay.TooLarge, name)
				continue
			}
			require.NoError(t, err, name)
			requireScaled(t, got, r, factor, name)
		}
	})
}

func requireScaled(t require.TestingT, before, after assay.Reading, factor float64, name string) {
	limits := before.Limits.Scale(factor)
	for _, pair := range [][2]float64{
		{float64(before.Density) * factor, float64(after.Density)},
		{float64(before.PerEgg) * factor, float64(after.PerEgg)},
		{limits.Low, after.Limits.Low},
		{limits.High, after.Limits.High},
	} {
		require.InDelta(t, pair[0], pair[1], 1e-9*(1+pair[0]), name)
	}
}

func TestReportReading(t *testing.T) {
	got, err := assay.Report{Value: 500, Unit: assay.Per250CM3, CystSeen: true}.Reading()
	require.NoError(t, err)
	require.Equal(t, assay.Reading{Basis: assay.Reported, Density: 200, CystSeen: true}, got)
	require.False(t, got.LimitsKnown)
	require.Equal(t, stat.Interval{}, got.Limits)

	_, err = assay.Report{Value: 470, Unit: assay.PerKG}.Reading()
	requireFields(t, map[string]assay.Problem{"bulk_density": assay.Missing}, err)
}

func count(soil, suspension float64, aliquots ...assay.Aliquot) assay.Count {
	return assay.Count{SoilCM3: soil, SuspensionML: suspension, Aliquots: aliquots}
}

func make9() []assay.Aliquot {
	nine := make([]assay.Aliquot, 9)
	for i := range nine {
		nine[i].ML = 1
	}
	return nine
}

func drawMethod(t *rapid.T) assay.Method {
	m := assay.NewMethod("drawn", rapid.Float64Range(50, 500).Draw(t, "soil"),
		rapid.Float64Range(20, 500).Draw(t, "water"), rapid.Float64Range(0.5, 20).Draw(t, "aliquot"))
	m.Recovery = rapid.Float64Range(0.4, 1).Draw(t, "recovery")
	m.EggsPerCyst = rapid.Float64Range(20, 500).Draw(t, "eggs per cyst")
	return m
}

func drawCount(t *rapid.T, maxEggs int) assay.Count {
	c := assay.Count{
		SoilCM3:      rapid.Float64Range(50, 500).Draw(t, "soil washed"),
		SuspensionML: rapid.Float64Range(20, 200).Draw(t, "water used"),
	}
	for range rapid.IntRange(1, assay.MaxAliquots).Draw(t, "aliquots") {
		c.Aliquots = append(c.Aliquots, assay.Aliquot{
			ML:   rapid.Float64Range(0.5, 2.5).Draw(t, "ml"),
			Eggs: rapid.IntRange(0, maxEggs).Draw(t, "eggs"),
		})
	}
	return c
}

func requireFields(t *testing.T, want map[string]assay.Problem, err error) {
	t.Helper()
	if want == nil {
		require.NoError(t, err)
		return
	}
	var invalid *assay.Invalid
	require.ErrorAs(t, err, &invalid)
	require.Equal(t, want, invalid.Fields)
	for field := range want {
		require.Contains(t, invalid.Error(), field)
	}
}
