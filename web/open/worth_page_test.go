package open

import (
	"net/http"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
	"sixmile/internal/edge"
	"sixmile/internal/gazette"
)

// Every township and every group of joined ones has its line, which says what the
// map beside it says, and no figure stands where there is none.
func TestWorthPage(t *testing.T) {
	issue := inventedIssue()
	site := newSite(issue)
	x, err := gazette.NewIndex(issue)
	require.NoError(t, err)
	e, err := x.Edge()
	require.NoError(t, err)
	require.NotNil(t, e.Surface)
	seen := map[edge.Standing]bool{}
	for _, c := range issue.Counties {
		v, _ := x.County(c.Slug)
		d := site.dom(t, "/county/"+c.Slug+"/worth")
		clean(t, d)
		require.NotContains(t, d.Text(), "[worth.", "a sentence is missing")
		require.Equal(t, 1, d.Find("h1").Length())
		rows := d.Find("table.worth tbody tr")
		require.Equal(t, len(v.Areas)+len(v.Joined), rows.Length(), c.Name)
		for i := range v.Areas {
			a := &v.Areas[i]
			stand := e.Stands[a.ID]
			seen[stand.Standing] = true
			row := rows.Eq(i)
			require.Equal(t, townshipID(a.Slug), row.AttrOr("id", ""))
			bags := text(row.Find("td.num").First())
			if a.HasFigures() && stand.Standing != edge.Found {
				require.Equal(t, strconv.Itoa(a.None), bags, a.Name)
				require.NotEmpty(t, text(row.Find("td").Eq(2)))
				require.NotEmpty(t, text(row.Find("td").Eq(3)))
			} else {
				require.Empty(t, bags, a.Name)
			}
			mark := gazette.StandMark(stand).String()
			on := d.Find(`.map-wide [data-place="` + strconv.Itoa(int(a.ID)) + `"]`)
			require.Equal(t, mark, on.AttrOr("data-mark", ""), a.Name)
		}
		require.NotContains(t, strings.ToLower(text(d.Find("table.worth"))), "clean")
	}
	require.True(t, seen[edge.Found] && seen[edge.NoFigures] && seen[edge.ThinlyLooked], "the fixture has them: %v", seen)
	require.Equal(t, http.StatusNotFound, site.get("/county/nowhere/worth").Code)
}

// The county's page leads there, and the lines are on the map and in its legend.
func TestEdgeOnTheMaps(t *testing.T) {
	issue := inventedIssue()
	site := newSite(issue)
	x, err := gazette.NewIndex(issue)
	require.NoError(t, err)
	e, err := x.Edge()
	require.NoError(t, err)
	require.True(t, e.Known(), "finds of the fixture grow toward the southeast")
	for path, drawn := range map[string]bool{"/": true, "/?show=share": true, "/?show=standing": true, "/?show=samples": false, "/?show=new": false} {
		d := site.dom(t, path)
		require.Equal(t, drawn, d.Find(".map-wide [id$='edge']").Length() > 0, path)
		legend := strings.Contains(text(d.Find(".map-wide")), "where finds meet none found")
		require.Equal(t, drawn && len(e.Lines.Middle) > 0, legend, path)
	}
	d := site.dom(t, "/county/"+issue.Counties[3].Slug)
	require.Equal(t, 1, d.Find(`a[href="/county/`+issue.Counties[3].Slug+`/worth"]`).Length())
}

// Where there is too little to say, the page says so and draws no line.
func TestWorthOfLittle(t *testing.T) {
	issue := inventedIssue()
	issue.Tranches = issue.Tranches[:1]
	d := newSite(issue).dom(t, "/county/"+issue.Counties[1].Slug+"/worth")
	require.Contains(t, d.Text(), "Too little to say")
	require.Zero(t, d.Find(".chance").Length())
	require.Zero(t, d.Find("[id$='edge']").Length())
}

// What is typed into the office's boundary files is text here.
func TestWorthEscapes(t *testing.T) {
	issue := inventedIssue()
	issue.Counties[2].Name = "<script>alert(1)</script>"
	issue.Counties[2].Townships[0].Name = "<script>alert(2)</script>"
	body := newSite(issue).get("/county/" + issue.Counties[2].Slug + "/worth").Body.String()
	require.NotContains(t, body, "<script>alert")
	require.Contains(t, body, "&lt;script&gt;alert(2)")
}

func TestMissedInWords(t *testing.T) {
	tell := teller{lang: catalog.English()}
	for p, want := range map[float64]string{1: "nearly always", 0.9: "9 times in 10", 0.66: "7 times in 10", 0.5: "1 time in 2",
		0.34: "1 time in 3", 0.049: "1 time in 20", 0.0002: "under 1 time in 1,000"} {
		require.Equal(t, want, tell.missed(p))
	}
}
