package office

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// fakeNewest is an edition in memory.
type fakeNewest struct {
	issue *gazette.Issue
	asked int // how many times it was read whole
	err   error
}

func (f *fakeNewest) Version(context.Context) (gazette.Version, error) {
	return gazette.Version{Number: f.issue.Edition.Number}, f.err
}

func (f *fakeNewest) Issue(context.Context, int) (*gazette.Issue, error) {
	f.asked++
	return f.issue, nil
}

// inventedFront is a square county of 64 townships in which finds moved east, over
// so many falls.
func inventedFront(falls int) *gazette.Issue {
	const side, mile = 8, 1609
	rng := rand.New(rand.NewPCG(3, 4))
	square := func(x, y, w int32) atlas.Shape {
		return atlas.Shape{{{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + w}, {X: x, Y: y + w}}}}
	}
	issue := &gazette.Issue{
		Edition: gazette.Edition{Number: 9, Code: "K7QF-2M", Kind: edition.Release, Season: 2026, Released: date(2027, 1, 14), K: 3},
		Scheme:  assay.DefaultScheme(), Outline: square(0, 0, side*6*mile),
	}
	c := gazette.County{Place: place.Place{ID: 1, Kind: place.County, Name: "Plover", Slug: "plover"}, Outline: issue.Outline}
	for i := range side * side {
		x, y := i%side, i/side
		t := gazette.Township{Place: place.Place{ID: place.ID(100 + i), Kind: place.Township, County: 1, Slug: fmt.Sprintf("t-%d", i),
			Code: fmt.Sprintf("T%dN R%dE", y+1, x+1), Name: fmt.Sprintf("Town %d", i)}, Outline: square(int32(x*6*mile), int32(y*6*mile), 6*mile)}
		if x > 0 {
			t.Neighbors = append(t.Neighbors, t.ID-1)
		}
		if y > 0 {
			t.Neighbors = append(t.Neighbors, t.ID-side)
		}
		c.Townships = append(c.Townships, t)
		for fall := range falls {
			p := 1 / (1 + math.Exp(1.3*(float64(x)-1.5-0.5*float64(fall))))
			counts := make([]int, len(issue.Scheme.Classes))
			for range 6 {
				if rng.Float64() < p {
					counts[2]++
				} else {
					counts[0]++
				}
			}
			issue.Tranches = append(issue.Tranches, edition.Tranche{ID: i + 1, Edition: 2 + fall, County: 1, Kind: edition.KindTownship, Places: []place.ID{t.ID},
				Senders: 3, Samples: 6, Counts: counts, Window: edition.Window{ThisFall: true, Through: 2027 - falls + fall}})
		}
	}
	issue.Counties = []gazette.County{c}
	return issue
}

func TestEdgePage(t *testing.T) {
	w := newWorld(t)
	d := w.get(t, account.Educator, "/office/edge")
	require.NotContains(t, d.Text(), "[edge.", "a sentence is missing")
	head := d.Find(".edge-front").Text()
	require.Contains(t, head, "2019 to 2026")
	require.Contains(t, head, "toward the east")
	require.Equal(t, 4, d.Find("table.edge-facts tbody tr").Length())
	// Half a township a year is three miles.
	require.Regexp(t, `by about [23]\.\d miles`, head)
	rows := d.Find("table.edge-windows tbody tr")
	require.Equal(t, 64, rows.Length())
	require.Contains(t, d.Find(".edge-short").Text(), "before their first one")

	w.get(t, account.Coordinator, "/office/edge")
	require.Equal(t, 1, w.newest.asked, "worked out once for an edition")
}

func TestEdgeOfLittle(t *testing.T) {
	w := newWorld(t)
	w.newest.issue = inventedFront(1)
	d := w.get(t, account.Educator, "/office/edge")
	require.Contains(t, d.Text(), "Too little to say")
	require.Zero(t, d.Find("table.edge-facts").Length(), "one fall has no direction")

	w = newWorld(t)
	w.newest.issue = inventedFront(0)
	d = w.get(t, account.Educator, "/office/edge")
	require.Contains(t, d.Text(), "No township has figures of its own yet.")
	w.newest.issue.Edition = gazette.Edition{}
	d = w.get(t, account.Educator, "/office/edge")
	require.Contains(t, d.text(".lack"), "nothing has been released yet")
	require.Zero(t, d.Find(".edition-line").Length())
}

func TestEdgeTakesWhatIsTypedAsText(t *testing.T) {
	w := newWorld(t)
	w.newest.issue.Counties[0].Name = "<script>alert(1)</script>"
	w.newest.issue.Counties[0].Townships[0].Name = "<script>alert(2)</script>"
	html, err := w.get(t, account.Educator, "/office/edge").Html()
	require.NoError(t, err)
	require.False(t, strings.Contains(html, "<script>alert"))
}

func TestEdgeWithoutDatabase(t *testing.T) {
	w := newWorld(t)
	w.newest.err = errors.New("down")
	_, err := w.office.fronts.read(context.Background(), w.newest, w.office.Lang)
	require.ErrorContains(t, err, "newest edition")
}

func TestCompass(t *testing.T) {
	for bearing, want := range map[float64]string{0: "north", 22: "north", 23: "northeast", 90: "east", 135: "southeast", 181: "south", 225: "southwest", 270: "west", 315: "northwest", 359: "north"} {
		require.Equal(t, want, compass(bearing), "%v", bearing)
	}
}
