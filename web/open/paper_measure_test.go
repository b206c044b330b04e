package open

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/catalog"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// measuredIssue has figures that are easy to work out by hand: of Plover's
// townships the first has old and new bags, the second old ones only, the third
// unconfirmed ones only, the fourth was taken back, the fifth has none; the last
// six are joined.
func measuredIssue() *gazette.Issue {
	issue := inventedIssue()
	c := issue.Counties[5]
	tranche := func(no int, kind edition.Kind, through int, places []place.ID, counts ...int) edition.Tranche {
		t := edition.Tranche{ID: len(issue.Tranches) + 1, Edition: no, County: c.ID, Kind: kind, Places: places, Senders: 3,
			Window: edition.Window{Through: through}, Counts: counts}
		for _, n := range counts {
			t.Samples += n
		}
		return t
	}
	at := func(i int) []place.ID { return []place.ID{c.Townships[i].ID} }
	var joined []place.ID
	for _, t := range c.Townships[6:12] {
		joined = append(joined, t.ID)
	}
	issue.Tranches = []edition.Tranche{
		tranche(10, edition.KindTownship, 2020, at(0), 2, 0, 0, 1, 1), // high, in 2020
		tranche(12, edition.KindTownship, 2026, at(0), 5, 0, 1, 0, 0), // low
		tranche(10, edition.KindTownship, 2021, at(1), 0, 0, 4, 0, 0),
		tranche(12, edition.KindTownship, 2026, at(2), 0, 3, 0, 0, 0),
		tranche(11, edition.KindDistrict, 2022, joined, 1, 0, 0, 3, 0),
	}
	issue.Falls, issue.Recalled = nil, at(3)
	return issue
}

// Worked out by hand from the counts above.
func TestMeasuresOfAMap(t *testing.T) {
	const none = "no-figures"
	type want struct {
		marks  [5]string
		values [5]string
		joined string
		bags   string
	}
	table := map[atlas.Measure]want{
		atlas.HighestLevel:  {[5]string{"found-3", "found-1", "unconfirmed", "recalled", none}, [5]string{}, "found-2", "21 bags"},
		atlas.RecentHighest: {[5]string{"found-1", "earlier", "unconfirmed", "recalled", none}, [5]string{}, "found-2", "13 bags"},
		// ten bags, seven of them none: the middle one is none
		atlas.TypicalLevel: {[5]string{"none-found", "found-1", "unconfirmed", "recalled", none}, [5]string{}, "found-2", "21 bags"},
		// 3 of 10, 4 of 4, none that is sure, 3 of 4
		atlas.ShareFound:  {[5]string{"measured-4", "measured-5", "unconfirmed", "recalled", none}, [5]string{"30%", "100%"}, "measured-5", "21 bags"},
		atlas.SampleCount: {[5]string{"measured-3", "measured-1", "measured-1", "recalled", none}, [5]string{"10", "4", "3"}, "measured-1", "21 bags"},
		atlas.NewFigures:  {[5]string{"found-1", "earlier", "unconfirmed", "recalled", none}, [5]string{}, "earlier", "9 bags"},
	}
	for _, m := range atlas.Measures() {
		if m == atlas.Standings {
			continue // of the surface as well: standing_test.go
		}
		want, listed := table[m]
		require.True(t, listed, m)
		t.Run(m.String(), func(t *testing.T) {
			tell := newTeller(t, measuredIssue())
			v, _ := tell.x.County("plover")
			c, _, err := tell.paperCounty(v, m)
			require.NoError(t, err)
			for i := range 5 {
				require.Equal(t, want.marks[i], c.Areas[i].Mark.String(), "township %d", i)
				require.Equal(t, want.values[i], c.Areas[i].Value, "township %d", i)
				require.NotContains(t, c.Areas[i].Title, "[", "a sentence for it")
			}
			require.Len(t, c.Joined, 1)
			require.Equal(t, want.joined, c.Joined[0].Mark.String())
			require.Contains(t, c.Totals, want.bags)
			for _, a := range c.Areas {
				require.Equal(t, false, a.First, "the high find is of an earlier edition, and the new one is no first")
			}
			legend := map[string]bool{}
			for _, r := range c.Words.Legend {
				require.NotContains(t, r.Name+r.Note, "[")
				legend[r.Mark.String()] = true
			}
			for _, a := range c.Areas {
				require.True(t, legend[a.Mark.String()], "%s is explained", a.Mark)
			}
		})
	}
}

// The catalog's own tests hold Spanish to English.
func TestEveryMeasureHasItsSentences(t *testing.T) {
	for _, m := range atlas.Measures() {
		for _, of := range []string{"paper.measure.", "paper.subtitle.", "paper.legend.", "paper.says.", "state.subtitle.", "state.says."} {
			require.True(t, catalog.English().Has(of+m.String()), of+m.String())
		}
	}
}

// A find where there was none before is a first one.
func TestFirstFinds(t *testing.T) {
	issue := measuredIssue()
	issue.Tranches[2].Edition = 12
	tell := newTeller(t, issue)
	v, _ := tell.x.County("plover")
	c, _, err := tell.paperCounty(v, atlas.NewFigures)
	require.NoError(t, err)
	require.Equal(t, []bool{false, true, false}, []bool{c.Areas[0].First, c.Areas[1].First, c.Areas[2].First})
}

// Where finds are shown without their level, the middle bag's is the least it can
// be.
func TestTypicalLevelAtLeast(t *testing.T) {
	issue := measuredIssue()
	issue.Tranches[1].Coarse, issue.Tranches[1].Counts, issue.Tranches[1].Samples = true, []int{1, 0, 9}, 10
	tell := newTeller(t, issue)
	v, _ := tell.x.County("plover")
	// 3 none; 9 of unknown level, one moderate, one high: the seventh of 14.
	l := tell.typicalLevel(v.Areas[0].Figures)
	require.Equal(t, gazette.Level{Rank: 2}, l)
	c, _, err := tell.paperCounty(v, atlas.TypicalLevel)
	require.NoError(t, err)
	require.Equal(t, "found-1", c.Areas[0].Mark.String())
	require.Contains(t, c.Areas[0].Title, "at least low")
}

func TestLayersLeftOff(t *testing.T) {
	tell := newTeller(t, inventedIssue())
	v, _ := tell.x.County("plover")
	c, _, err := tell.paperCounty(v, atlas.HighestLevel)
	require.NoError(t, err)
	require.NotEmpty(t, c.Neighbors)
	require.NotEmpty(t, c.Water)
	require.NotEmpty(t, c.Towns)
	require.Empty(t, c.Ridge, "it is in another part of the state")
	off := bare(c, neighborLayer|riverLayer|roadLayer|townLayer|ridgeLayer)
	require.Empty(t, off.Neighbors)
	require.Empty(t, off.Water)
	require.Empty(t, off.Towns)
	require.Equal(t, c.Areas, off.Areas, "figures are never left off")
	e, _ := tell.x.County("quillan")
	c, _, err = tell.paperCounty(e, atlas.HighestLevel)
	require.NoError(t, err)
	require.NotEmpty(t, c.Ridge)
}

func TestWhetherShapesMeet(t *testing.T) {
	square := func(x, y, w int32) atlas.Shape {
		return atlas.Shape{{{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + w}, {X: x, Y: y + w}}}}
	}
	big := square(400000, 4600000, 100000)
	require.True(t, meets(square(410000, 4610000, 5000), big))
	require.True(t, meets(big, square(410000, 4610000, 5000)), "one within the other")
	require.True(t, meets(square(490000, 4690000, 50000), big))
	require.False(t, meets(square(600000, 4600000, 50000), big))
	require.False(t, meets(nil, big))
	hole := append(big[0][:1:1], square(420000, 4620000, 60000)[0][0])
	require.False(t, meets(square(440000, 4640000, 5000), atlas.Shape{hole}), "in a hole is outside")
}
