package describe

import (
	"testing"

	"github.com/stretchr/testify/require"
	reference "gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/edition"
)

func result(season int, density assay.Density, method int, crop string) Result {
	return Result{County: 1, Season: season, Reading: assay.Reading{Basis: assay.Reported, Density: density}, Method: method, Before: crop}
}

// Worked on paper: 0, 100, 400, 800, 3,200 have the quartiles 100, 400, 800 and
// the 90th at 800 + 0.6 x 2,400; 81 finds of 263 judged are 0.2553 to 0.3662
// (Newcombe 1998, Table I, method 3; handbook section 10).
func TestRowsOnPaper(t *testing.T) {
	s := assay.DefaultScheme()
	var list []Result
	for _, d := range []assay.Density{0, 100, 400, 800, 3200} {
		list = append(list, result(2020, d, 1, "corn"))
	}
	rows, err := BySeason(list, s)
	require.NoError(t, err)
	r := rows[0]
	require.Equal(t, []float64{100, 400, 800, 2240}, []float64{r.Quarter, r.Median, r.Upper, r.Ninety})
	require.Equal(t, [4]int{5, 3, 4, 4}, [4]int{r.N, r.Finds, r.Judged, r.Densities - 1}, "100 is unconfirmed")
	require.Zero(t, r.Geometric, "four with eggs are too few")

	list = nil
	for i := range 263 {
		d := assay.Density(0)
		if i < 81 {
			d = 900
		}
		list = append(list, result(2020, d, 1, "corn"))
	}
	rows, err = BySeason(list, s)
	require.NoError(t, err)
	require.InDelta(t, 0.2553, rows[0].Share.Low, 0.00005)
	require.InDelta(t, 0.3662, rows[0].Share.High, 0.00005)
	require.InDelta(t, 900, rows[0].Geometric, 1e-9)
}

func TestSmallCellsLevelsMethodsAndOrder(t *testing.T) {
	s := assay.DefaultScheme()
	var list []Result
	add := func(n, season, method int, crop string) {
		for range n {
			list = append(list, result(season, 500, method, crop))
		}
	}
	add(5, 2018, 1, "corn")
	add(4, 2019, 1, "soybean")
	add(6, 2020, 0, "")
	add(5, 2021, 0, "oats")
	for range 5 {
		r := result(2022, 999999, 0, "corn")
		r.Level = true
		list = append(list, r)
	}
	rows, err := BySeason(list, s)
	require.NoError(t, err)
	require.Equal(t, []bool{false, false, true, false, false}, []bool{rows[0].Changed, rows[1].Changed, rows[2].Changed, rows[3].Changed, rows[4].Changed})
	require.True(t, rows[1].Small)
	require.Equal(t, Row{Key: "2019", N: 4, Small: true, Methods: []int{1}}, rows[1], "nothing else is told")
	require.Zero(t, rows[4].Densities, "a level's stand-in is nobody's count")
	require.Equal(t, 5, rows[4].Finds)
	rows, err = By(list, s, []string{"soybean", "corn"}, func(r Result) string { return r.Before })
	require.NoError(t, err)
	var keys []string
	for _, r := range rows {
		keys = append(keys, r.Key)
	}
	require.Equal(t, []string{"soybean", "corn", "oats", ""}, keys)
}

// Every result is in one row, and geometric means agree with a reference library.
func TestRowsAddUp(t *testing.T) {
	s := assay.DefaultScheme()
	rapid.Check(t, func(t *rapid.T) {
		var list []Result
		for range rapid.IntRange(0, 60).Draw(t, "n") {
			list = append(list, result(rapid.IntRange(2018, 2021).Draw(t, "season"), assay.Density(rapid.IntRange(0, 9000).Draw(t, "density")), 1, ""))
		}
		rows, err := BySeason(list, s)
		require.NoError(t, err)
		sum := 0
		for _, r := range rows {
			sum += r.N
			if r.Geometric == 0 {
				continue
			}
			var eggs []float64
			for _, x := range list {
				if x.Reading.Density > 0 && r.Key == keyOf(x.Season) {
					eggs = append(eggs, float64(x.Reading.Density))
				}
			}
			require.InEpsilon(t, reference.GeometricMean(eggs, nil), r.Geometric, 1e-9)
		}
		require.Equal(t, len(list), sum)
	})
}

func keyOf(season int) string {
	rows, _ := BySeason([]Result{{Season: season}}, assay.DefaultScheme())
	return rows[0].Key
}

func TestCoverage(t *testing.T) {
	covers := []Cover{{Place: 11, County: 1}, {Place: 12, County: 1, Results: 4, Last: 2021}, {Place: 1, County: 1, Results: 2, Last: 2020, Waiting: 2},
		{Place: 13, County: 1, Results: 3, Last: 2022, Waiting: 1, Lacks: []edition.Reason{edition.TooFewSenders}}, {Place: 21, County: 2, Results: 1, Last: 2026}}
	require.Equal(t, []Age{Never, Long, Long, Recent, Recent}, []Age{covers[0].Age(2026), covers[1].Age(2026), covers[2].Age(2026), covers[3].Age(2026), covers[4].Age(2026)})
	require.Equal(t, []CountyCover{
		{County: 1, Townships: 3, Never: 1, Long: 1, Recent: 1, Results: 9, Waiting: 3, WaitingTownship: 1},
		{County: 2, Townships: 1, Recent: 1, Results: 1},
	}, ByCounty(covers, 2026))
}
