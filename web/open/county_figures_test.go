package open

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// tally is bags by what they were, added up from the list of tranches by nothing
// but loops: no code of the pages, of gazette or of edition adds anything here.
type tally struct {
	levels             [8]int // found classes by rank
	none, unconfirmed  int
	unsorted, all      int
	townships, withEgg map[place.ID]bool
}

func tallyOf(issue *gazette.Issue, take func(edition.Tranche) bool) tally {
	t := tally{townships: map[place.ID]bool{}, withEgg: map[place.ID]bool{}}
	there := map[place.ID]bool{} // a township that the boundaries no longer have is not on the map
	for _, c := range issue.Counties {
		for _, tw := range c.Townships {
			there[tw.ID] = true
		}
	}
	for _, tr := range issue.Tranches {
		if !take(tr) {
			continue
		}
		found := 0
		for rank, n := range tr.Counts {
			t.all += n
			switch {
			case rank == 0:
				t.none += n
			case rank == 1:
				t.unconfirmed += n
			case tr.Coarse:
				t.unsorted += n
				found += n
			default:
				t.levels[rank] += n
				found += n
			}
		}
		if tr.Kind == edition.KindTownship && there[tr.Places[0]] {
			t.townships[tr.Places[0]] = true
			if found > 0 {
				t.withEgg[tr.Places[0]] = true
			}
		}
	}
	return t
}

func (t tally) finds() int {
	n := t.unsorted
	for _, l := range t.levels {
		n += l
	}
	return n
}

// score is the interval of handbook section 10, (2np + z² ± z sqrt(z² + 4npq)) /
// (2(n + z²)), in a hundred.
func score(x, of int) [3]float64 {
	const z = 1.959963984540054
	n, p := float64(of), float64(x)/float64(of)
	mid, half, under := 2*n*p+z*z, z*math.Sqrt(z*z+4*n*p*(1-p)), 2*(n+z*z)
	return [3]float64{100 * p, 100 * (mid - half) / under, 100 * (mid + half) / under}
}

var wholeNumber = regexp.MustCompile(`\d[\d,]*`)

// figuresOf are the whole numbers of a text.
func figuresOf(t *testing.T, s string) (out []int) {
	t.Helper()
	for _, f := range wholeNumber.FindAllString(s, -1) {
		n, err := strconv.Atoi(strings.ReplaceAll(f, ",", ""))
		require.NoError(t, err)
		out = append(out, n)
	}
	return out
}

// near says that figures printed without decimals are those worked out.
func near(t *testing.T, want [3]float64, got []int, about string) {
	t.Helper()
	require.Len(t, got, 3, about)
	for i := range want {
		require.InDelta(t, want[i], float64(got[i]), 1.000001, about)
	}
}

// The county page's figures, from the page as a reader gets it, against the list
// of tranches: rows, levels with their ranges, the share, what each map added, the
// neighbors and the rest of the state.
func TestEveryFigureOfTheCountyPageFollowsFromTheTranches(t *testing.T) {
	issue := inventedIssue()
	s := newSite(issue)
	with := 0
	for _, c := range issue.Counties {
		d := s.dom(t, "/county/"+c.Slug)
		own := tallyOf(issue, func(tr edition.Tranche) bool { return tr.County == c.ID })
		if own.all == 0 {
			continue
		}
		with++
		for _, tw := range c.Townships {
			of := tallyOf(issue, func(tr edition.Tranche) bool {
				return tr.Kind == edition.KindTownship && tr.Places[0] == tw.ID
			})
			cells := d.Find("#" + townshipID(tw.Slug) + " td")
			if of.all == 0 {
				continue // its words are tested elsewhere
			}
			for i, n := range []int{of.all, of.finds(), of.unconfirmed} {
				require.Equal(t, []int{n}, figuresOf(t, text(cells.Eq(i+1))), "%s, column %d", tw.Name, i+2)
			}
		}
		checkLevels(t, d, own)
		var short string
		d.Find("main p").EachWithBreak(func(_ int, p *goquery.Selection) bool {
			if strings.Contains(text(p), "sure either way") && strings.Contains(text(p), "in 100") {
				short = text(p)
			}
			return short == ""
		})
		if judged := own.finds() + own.none; judged > 0 {
			got := figuresOf(t, short)
			require.Equal(t, []int{judged, own.finds()}, got[:2], short)
			near(t, score(own.finds(), judged), []int{got[2], got[4], got[5]}, short) // got[3] is the hundred
		}
		checkNear(t, d, issue, c)
		checkRounds(t, d, issue, c.ID)
	}
	require.Positive(t, with)
}

func checkLevels(t *testing.T, d *goquery.Document, own tally) {
	t.Helper()
	want := []int{own.none, own.unconfirmed}
	for rank := 2; rank < 5; rank++ {
		want = append(want, own.levels[rank])
	}
	if own.unsorted > 0 {
		want = append(want, own.unsorted)
	}
	rows := d.Find("table.levels tbody tr")
	require.Equal(t, len(want), rows.Length())
	rows.Each(func(i int, r *goquery.Selection) {
		require.Equal(t, []int{want[i]}, figuresOf(t, text(r.Find("td.num").First())), text(r))
		near(t, score(want[i], own.all), figuresOf(t, text(r.Find("td.num").Next())), text(r))
	})
}

// checkNear looks at the rows of the county itself, its neighbors and the rest.
func checkNear(t *testing.T, d *goquery.Document, issue *gazette.Issue, c gazette.County) {
	t.Helper()
	ids := append([]place.ID{c.ID}, c.Neighbors...)
	rows := d.Find("table.near tbody tr")
	require.Equal(t, len(ids)+1, rows.Length())
	rows.Each(func(i int, r *goquery.Selection) {
		var at place.ID // 0: the rest of the state
		for _, o := range issue.Counties {
			if text(r.Find("th")) == o.Name+" County" {
				at = o.ID
			}
		}
		require.Equal(t, i < len(ids), at != 0, text(r))
		of := tallyOf(issue, func(tr edition.Tranche) bool { return tr.County == at || at == 0 && tr.County != c.ID })
		if of.all == 0 {
			return
		}
		said := text(r)
		require.Contains(t, said, strconv.Itoa(len(of.withEgg))+" of "+strconv.Itoa(len(of.townships)), said)
		require.Contains(t, figuresOf(t, said), of.all, said)
	})
}

// checkRounds looks at what each map added, oldest first; all of it is the county.
func checkRounds(t *testing.T, d *goquery.Document, issue *gazette.Issue, county place.ID) {
	t.Helper()
	rows, at := d.Find("table.rounds tbody tr"), 0
	for _, e := range issue.Editions {
		of := tallyOf(issue, func(tr edition.Tranche) bool { return tr.County == county && tr.Edition == e.Number })
		if of.all == 0 {
			continue
		}
		r := rows.Eq(at)
		at++
		require.Equal(t, []int{of.all}, figuresOf(t, text(r.Find("td").First())), text(r))
		if judged := of.finds() + of.none; judged > 0 {
			near(t, score(of.finds(), judged), figuresOf(t, text(r.Find("td").Eq(1))), text(r))
		}
	}
	require.Equal(t, at, rows.Length())
}
