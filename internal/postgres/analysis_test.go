package postgres_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/describe"
	"sixmile/internal/edition"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
)

// The office's own results: what waits and what was released, past results too,
// and what each township lacks.
func TestAnalysisReadsEverythingSigned(t *testing.T) {
	o := newOffice(t)
	here, two := o.townships[o.counties[0].ID][5].ID, o.townships[o.counties[0].ID][6].ID
	o.farms(3, here, 2020, 42)
	o.farms(2, two, 2020, 0)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	today := date(2021, 9, 1)
	o.loaded(o.judged(csvFile("fall,twp,eggs per 100 cc,level,farm", "2015,T1N R1E,700,,a", "2016,T1N R1E,,high,b"), today, asIs), today)
	codes := o.bags(1) // counted, but not signed: nobody's result yet
	o.take(o.visit(2, here, 2020, codes[0]))
	s := postgres.NewAnalysis(o.staff)
	all, err := s.Results(ctxOf(t), 0)
	require.NoError(t, err)
	require.Len(t, all, 7)
	rows, err := describe.BySeason(all, assay.DefaultScheme())
	require.NoError(t, err)
	require.Equal(t, []int{1, 1, 5}, []int{rows[0].N, rows[1].N, rows[2].N})
	// Three of 2,100 (42 eggs; handbook section 3) and two of nothing.
	require.Equal(t, []float64{0, 2100, 2100}, []float64{rows[2].Quarter, rows[2].Median, rows[2].Upper})
	require.True(t, rows[2].Changed, "the past ones were counted by nobody knows what")
	levels := 0
	for _, r := range all {
		if r.Level {
			levels++
		}
	}
	require.Equal(t, 1, levels)
	other, err := s.Results(ctxOf(t), o.counties[1].ID)
	require.NoError(t, err)
	require.Empty(t, other)

	covers, err := s.Coverage(ctxOf(t), today)
	require.NoError(t, err)
	require.Len(t, covers, 2+32)
	at := map[place.ID]describe.Cover{}
	for _, c := range covers {
		at[c.Place] = c
	}
	require.Equal(t, 2020, at[here].Last)
	require.Zero(t, at[here].Waiting)
	require.Equal(t, [3]int{2, 2, 2020}, [3]int{at[two].Results, at[two].Waiting, at[two].Last})
	require.Contains(t, at[two].Lacks, edition.TooFewSenders)
	past := at[o.townships[o.counties[0].ID][0].ID]
	require.Equal(t, [2]int{2, 2016}, [2]int{past.Waiting, past.Last})
}
