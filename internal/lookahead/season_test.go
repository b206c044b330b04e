package lookahead

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func date(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

// Alston and Schmitt 1988: 429 and 534 degree-days a generation, at constant
// temperatures; days by hand. Iowa State University's 24 days at 76 °F lie
// between the two.
func TestDaysPerGeneration(t *testing.T) {
	for _, tt := range []struct{ dd, at, want float64 }{
		{429, 20, 28.6}, {429, 24, 22.6}, {429, 28, 18.7}, {534, 20, 35.6}, {534, 24, 28.1}, {534, 28, 23.2},
	} {
		require.InDelta(t, tt.want, daysPerGeneration(tt.dd, tt.at), 0.05)
	}
	warm := CelsiusOf(76)
	require.Less(t, daysPerGeneration(laterGeneration, warm), 24.0)
	require.Greater(t, daysPerGeneration(firstGeneration, warm), 24.0)
	require.True(t, math.IsInf(daysPerGeneration(429, 4), 1))
}

func TestDegreeDays(t *testing.T) {
	for mean, want := range map[float64]float64{-10: 0, 5: 0, 5.5: 0.5, 24: 19, 30: 25, 38: 25} {
		require.InDelta(t, want, DegreeDays(mean), 1e-12)
	}
	require.InDelta(t, 0, CelsiusOf(32), 1e-12)
	require.InDelta(t, 30, CelsiusOf(86), 1e-12)
}

// At the northern edge two to three generations a season, and females on roots
// in early July after a late-May planting: common practice, no source. At most
// four in southern Minnesota: Sortland and MacDonald 1986. Up to six in
// Missouri, three to six in general: University of Missouri.
func TestSeasonByLatitude(t *testing.T) {
	north, err := Season(date(2026, 5, 25), date(2026, 9, 15), Normals[0].Means)
	require.NoError(t, err)
	require.Equal(t, [2]int{2, 3}, [2]int{north.Fewest, north.Most})
	require.Equal(t, time.July, north.Shows.Month())
	require.LessOrEqual(t, north.Shows.Day(), 10)
	middle, err := Season(date(2026, 5, 10), date(2026, 9, 20), Normals[1].Means)
	require.NoError(t, err)
	require.LessOrEqual(t, middle.Fewest, 4)
	require.GreaterOrEqual(t, middle.Most, 4)
	south, err := Season(date(2026, 5, 10), date(2026, 9, 20), Normals[2].Means)
	require.NoError(t, err)
	require.GreaterOrEqual(t, south.Fewest, 3)
	require.LessOrEqual(t, south.Most, 6)
}

// Females about 40 days after planting, 26 in warm springs: Tylka 2013, 2018.
func TestFemalesInDays(t *testing.T) {
	at := func(f float64) int {
		var means [SeasonMonths]float64
		for i := range means {
			means[i] = f
		}
		s, err := Season(date(2026, 5, 1), date(2026, 9, 15), means)
		require.NoError(t, err)
		return int(s.Shows.Sub(s.Plant).Hours() / 24)
	}
	require.InDelta(t, 40, at(65), 2)
	require.InDelta(t, 26, at(77), 2)
}

func TestSeasonRefuses(t *testing.T) {
	good := Normals[0].Means
	hot := good
	hot[3] = 200
	for name, do := range map[string]func() (Strip, error){
		"backward":  func() (Strip, error) { return Season(date(2026, 9, 1), date(2026, 6, 1), good) },
		"two years": func() (Strip, error) { return Season(date(2026, 9, 1), date(2027, 6, 1), good) },
		"january":   func() (Strip, error) { return Season(date(2026, 1, 1), date(2026, 6, 1), good) },
		"december":  func() (Strip, error) { return Season(date(2026, 6, 1), date(2026, 12, 1), good) },
		"hot":       func() (Strip, error) { return Season(date(2026, 6, 1), date(2026, 9, 1), hot) },
	} {
		t.Run(name, func(t *testing.T) {
			_, err := do()
			require.ErrorIs(t, err, ErrImpossible)
		})
	}
}

// A cold season shows nothing; a later planting never shows females earlier nor
// has more generations.
func TestSeasonsAreInOrder(t *testing.T) {
	cold, err := Season(date(2026, 6, 1), date(2026, 9, 1), [SeasonMonths]float64{})
	require.NoError(t, err)
	require.True(t, cold.Shows.IsZero())
	require.Zero(t, cold.Most)
	rapid.Check(t, func(t *rapid.T) {
		var means [SeasonMonths]float64
		for i := range means {
			means[i] = rapid.Float64Range(30, 95).Draw(t, "mean")
		}
		early := date(2026, 4, 1).AddDate(0, 0, rapid.IntRange(0, 90).Draw(t, "plant"))
		late := early.AddDate(0, 0, rapid.IntRange(1, 40).Draw(t, "later"))
		a, err := Season(early, date(2026, 9, 20), means)
		require.NoError(t, err)
		b, err := Season(late, date(2026, 9, 20), means)
		require.NoError(t, err)
		require.LessOrEqual(t, b.Fewest, a.Fewest)
		require.LessOrEqual(t, b.Most, a.Most)
		require.LessOrEqual(t, a.Fewest, a.Most)
		if !b.Shows.IsZero() {
			require.False(t, b.Shows.Before(a.Shows))
			require.False(t, b.ShowsLast.IsZero() && !b.ShowsFirst.IsZero() && b.ShowsFirst.After(b.Shows))
		}
	})
}

// daysPerGeneration is how long one takes at a constant temperature in °C, by
// the degree-days it needs; infinite where nothing develops.
func daysPerGeneration(degreeDays, mean float64) float64 {
	per := DegreeDays(mean)
	if per <= 0 {
		return math.Inf(1)
	}
	return degreeDays / per
}
