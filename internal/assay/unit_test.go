package assay_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
)

// Worked by hand; the three cups are the cut points of the University of
// Missouri (MU) lab, per 250 cm³, and 500 per 200 cm³ is the safe level of Ohio
// field report SC 166-99 (1999). The kilograms are at four bulk densities.
func TestUnitToDensity(t *testing.T) {
	tests := []struct {
		value float64
		unit  assay.Unit
		bulk  float64
		want  float64
		slack float64
	}{
		{2100, assay.Per100CM3, 0, 2100, 0},
		{500, assay.Per250CM3, 0, 200, 0},
		{2000, assay.Per250CM3, 0, 800, 0},
		{10000, assay.Per250CM3, 0, 4000, 0},
		{500, assay.Per200CM3, 0, 250, 0},
		{250, assay.Per200CM3, 0, 125, 0},
		{1000, assay.Per500CM3, 0, 200, 0},
		{1000, assay.Per100G, 1.25, 1250, 0},
		{470, assay.PerKG, 1.1, 51.7, 1e-9},
		{470, assay.PerKG, 1.2, 56.4, 1e-9},
		{470, assay.PerKG, 1.3, 61.1, 1e-9},
		{470, assay.PerKG, 1.4, 65.8, 1e-9},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprintf("%v %v at %v", tt.value, tt.unit, tt.bulk), func(t *testing.T) {
			got, err := tt.unit.Density(tt.value, tt.bulk)
			require.NoError(t, err)
			require.InDelta(t, tt.want, float64(got), tt.slack)
		})
	}
}

func TestUnitRefusals(t *testing.T) {
	tests := []struct {
		name  string
		value float64
		unit  assay.Unit
		bulk  float64
		want  map[string]assay.Problem
	}{
		{"negative", -1, assay.Per100CM3, 0, map[string]assay.Problem{"value": assay.Negative}},
		{"not a number", math.NaN(), assay.Per100CM3, 0, map[string]assay.Problem{"value": assay.NotFinite}},
		{"over the limit", 1000001, assay.Per100CM3, 0, map[string]assay.Problem{"value": assay.TooLarge}},
		{"no unit", 5, 0, 0, map[string]assay.Problem{"unit": assay.Unknown}},
		{"a unit there is not", 5, 99, 0, map[string]assay.Problem{"unit": assay.Unknown}},
		{"no bulk density", 5, assay.Per100G, 0, map[string]assay.Problem{"bulk_density": assay.Missing}},
		{"negative bulk density", 5, assay.Per100G, -1.2, map[string]assay.Problem{"bulk_density": assay.Negative}},
		{"lighter than peat", 5, assay.PerKG, 0.05, map[string]assay.Problem{"bulk_density": assay.TooSmall}},
		{"heavier than quartz", 5, assay.PerKG, 2.7, map[string]assay.Problem{"bulk_density": assay.TooLarge}},
		{"bulk density in kg/m³", 5, assay.PerKG, 1300, map[string]assay.Problem{"bulk_density": assay.TooLarge}},
		{"bulk density not a number", 5, assay.PerKG, math.NaN(), map[string]assay.Problem{"bulk_density": assay.NotFinite}},
		{"two faults", -5, assay.PerKG, 0, map[string]assay.Problem{"value": assay.Negative, "bulk_density": assay.Missing}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := tt.unit.Density(tt.value, tt.bulk)
			requireFields(t, tt.want, err)
		})
	}
	_, err := assay.Density(-1).In(assay.Per100CM3, 0)
	requireFields(t, map[string]assay.Problem{"density": assay.Negative}, err)
}

func TestUnitRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(assay.Units()).Draw(t, "unit")
		// Twice as much is under MaxDensity in every unit. Nearer to zero than the
		// least normal number of IEEE 754, about 1e-308, twice as much is not exact.
		value := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-300, 180000)).Draw(t, "value")
		bulk := rapid.Float64Range(assay.MinBulkDensity, assay.MaxBulkDensity).Draw(t, "bulk")
		d, err := u.Density(value, bulk)
		require.NoError(t, err)
		back, err := d.In(u, bulk)
		require.NoError(t, err)
		require.InDelta(t, value, back, 1e-9*(1+value))
		double, err := u.Density(2*value, bulk)
		require.NoError(t, err)
		require.Equal(t, 2*d, double)
	})
}

func TestUnitKeys(t *testing.T) {
	for _, u := range assay.Units() {
		got, err := assay.ParseUnit(u.String())
		require.NoError(t, err)
		require.Equal(t, u, got)
	}
	require.True(t, assay.Per100G.ByMass())
	require.False(t, assay.Per250CM3.ByMass())
	require.Empty(t, assay.Unit(0).String())
	_, err := assay.ParseUnit("")
	require.ErrorIs(t, err, assay.Missing)
	_, err = assay.ParseUnit("per_acre")
	require.ErrorIs(t, err, assay.Unknown)
}

func FuzzParseUnit(f *testing.F) {
	for _, s := range []string{"", "per_100_cm3", "per_kg", "PER_KG", "per_kg\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		u, err := assay.ParseUnit(s)
		if err == nil && u.String() != s {
			t.Fatalf("%q read as %v", s, u)
		}
		if err != nil && u != 0 {
			t.Fatalf("%q: a unit beside an error", s)
		}
	})
}
