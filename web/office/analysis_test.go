package office

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/describe"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// fakeAnalysis has five results of a fall by one method, six of the next by a
// method not known.
type fakeAnalysis struct{}

func (fakeAnalysis) Results(_ context.Context, county place.ID) ([]describe.Result, error) {
	var out []describe.Result
	for i, d := range []assay.Density{0, 100, 400, 800, 3200, 0, 0, 0, 0, 0, 9000} {
		r := describe.Result{County: 1, Season: 2025, Reading: assay.Reading{Basis: assay.Reported, Density: d}, Method: 1, Before: "corn", PH: "over8"}
		if i >= 5 {
			r.Season, r.Method, r.Before = 2026, 0, ""
		}
		out = append(out, r)
	}
	if county == 2 {
		return nil, nil
	}
	return out, nil
}

func (fakeAnalysis) Coverage(context.Context, time.Time) ([]describe.Cover, error) {
	return []describe.Cover{{Place: 1, County: 1}, {Place: 11, County: 1, Results: 9, Last: 2026, Waiting: 2, Senders: 2, Lacks: []edition.Reason{edition.TooFewSenders}},
		{Place: 12, County: 1}, {Place: 21, County: 2, Results: 2, Last: 2019}}, nil
}

func (fakeAnalysis) Methods(context.Context) (map[int]assay.Method, error) {
	return map[int]assay.Method{1: assay.DefaultMethod()}, nil
}

func TestAnalysisIsMarkedAndDescribesOnly(t *testing.T) {
	w := newWorld(t)
	d := w.get(t, coord, "/office/analysis")
	require.Equal(t, http.StatusOK, d.status)
	require.Equal(t, 2, d.Find(".not-public").Length(), "at the top, and at the end of the print")
	d.Find("caption").Each(func(_ int, s *goquery.Selection) { require.Contains(t, s.Text(), "Not for release") })
	require.Contains(t, d.text("main"), "Senders choose themselves")
	require.Contains(t, cellsOf(d.Find("tr")), "Plover 2 1 0 1 9 2 1")
	require.Contains(t, cellsOf(d.Find("tr")), "Sedge 1 0 1 0 2 0 0")
	falls := d.Find("table").FilterFunction(func(_ int, s *goquery.Selection) bool { return strings.Contains(s.Find("caption").Text(), "by fall") })
	row := func(n int) string { return cellsOf(falls.Find("tbody tr").Eq(n)) }
	require.Contains(t, row(0), "2025 5 3 of 4: 75% (30% to 95%) 100 400 800 2,240 too few")
	require.Contains(t, row(1), "2026 6 1 of 6")
	require.Equal(t, "changed: not known", strings.TrimSpace(falls.Find("tbody tr").Eq(1).Find("strong").Text()))
	require.Contains(t, cellsOf(d.Find("tr")), "Corn 5")
	require.Contains(t, cellsOf(d.Find("tr")), "Not said 6")
	crops := d.Find("table").FilterFunction(func(_ int, s *goquery.Selection) bool {
		return strings.Contains(s.Find("caption").Text(), "by the crop")
	})
	require.Contains(t, cellsOf(crops.Find("tbody tr").Eq(0)), "Sieve and crush, 100 cm³ of soil, version 1", "two methods stand behind the table: each row says its own")
	require.Contains(t, cellsOf(crops.Find("tbody tr").Eq(1)), "not known")

	one := w.get(t, coord, "/office/analysis?county=plover")
	require.Contains(t, cellsOf(one.Find("tr")), "Goose Prairie (T21N R8E) 2026 9 2 2 too few senders")
	require.Contains(t, cellsOf(one.Find("tr")), "Larkin (T22N R8E) never 0 0")
	none := w.get(t, coord, "/office/analysis?county=sedge")
	require.Contains(t, none.text("main"), "No signed results yet.")
	require.Equal(t, http.StatusOK, w.get(t, coord, "/office/analysis?county=%3Cscript%3E").status)
	require.Equal(t, http.StatusForbidden, w.get(t, account.Educator, "/office/analysis").status)
}

// cellsOf are the texts of cells, parted by spaces.
func cellsOf(rows *goquery.Selection) string {
	var out []string
	rows.Find("th, td").Each(func(_ int, s *goquery.Selection) { out = append(out, strings.Fields(s.Text())...) })
	return strings.Join(out, " ")
}
