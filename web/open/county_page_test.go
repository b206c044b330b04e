package open

import (
	"strconv"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/stat"
)

func itoa(n int) string { return strconv.Itoa(n) }

func newTeller(t *testing.T, issue *gazette.Issue) teller {
	t.Helper()
	x, err := gazette.NewIndex(issue)
	require.NoError(t, err)
	return teller{lang: catalog.English(), about: desk.About{Name: "Sixmile", State: "Aldermark"}, x: x}
}

// What an educator asks comes in this order; the table stands beside the map.
func TestCountyPageKeepsTheOrderOfQuestions(t *testing.T) {
	d := newSite(inventedIssue()).dom(t, "/county/plover")
	var heads []string
	d.Find("main h2").Each(func(_ int, h *goquery.Selection) { heads = append(heads, text(h)) })
	require.Equal(t, []string{"Bags at each level", "Where in the county", "Township by township", "The neighbors and the state",
		"All years together", "How far to trust “none found”", "This winter", "Free bags", "Before you act on it", "For your meeting"}, heads[:10])
	before, _, _ := strings.Cut(text(d.Find("main")), "Bags at each level")
	require.Less(t, strings.Index(before, "Eggs found in"), strings.Index(before, "Fall of 20"), "townships first, then this fall")
}

// Every township has a row, and its row says what its mark says.
func TestCountyTableSaysWhatTheMapSays(t *testing.T) {
	issue := inventedIssue()
	s := newSite(issue)
	for _, c := range issue.Counties {
		d := s.dom(t, "/county/"+c.Slug)
		clean(t, d)
		joined := map[string]bool{}
		for _, tw := range c.Townships {
			row := d.Find("#" + townshipID(tw.Slug))
			require.Equal(t, 1, row.Length())
			require.Equal(t, tw.Name+" "+tw.Code, text(row.Find("th")))
			for _, paper := range []string{".map-wide", ".map-narrow"} {
				area := d.Find(paper + ` [data-place="` + itoa(int(tw.ID)) + `"]`)
				require.Equal(t, 1, area.Length())
				mark, level := area.AttrOr("data-mark", ""), text(row.Find("td.level"))
				href := area.Closest("a").AttrOr("href", "")
				if word := levelWords[mark]; word != "" {
					require.Equal(t, word, level)
					require.Equal(t, "#"+townshipID(tw.Slug), href)
					require.Contains(t, text(area.ChildrenFiltered("title")), word)
				} else if strings.HasPrefix(level, "joined") {
					require.Equal(t, "#joined-1", href)
					joined[href] = true
				} else {
					require.Equal(t, "no figures", level)
					require.Empty(t, href, "a link leads somewhere or is none")
				}
			}
		}
		require.Equal(t, len(joined), d.Find(".map-wide [data-joined]").Length())
	}
}

// The rows add up to the last one.
func TestCountyRowsAddUp(t *testing.T) {
	d := newSite(inventedIssue()).dom(t, "/county/voss")
	for col := 1; col <= 3; col++ {
		sum := 0
		d.Find("table.figures tbody tr").Each(func(_ int, s *goquery.Selection) {
			if cell := text(s.Find("td").Eq(col)); cell != "–" {
				n, err := strconv.Atoi(cell)
				require.NoError(t, err)
				sum += n
			}
		})
		require.Equal(t, itoa(sum), text(d.Find("table.figures tfoot td").Eq(col)))
	}
	bags := 0
	d.Find("table.levels tbody tr").Each(func(_ int, s *goquery.Selection) {
		n, err := strconv.Atoi(text(s.Find("td.num")))
		require.NoError(t, err)
		bags += n
	})
	require.Equal(t, itoa(bags), text(d.Find("table.figures tfoot td").Eq(1)))
}

// small is Plover County with a few figures, added up on paper: two townships
// with eggs of three shown, joined ones without, 20 bags.
func small() *gazette.Issue {
	issue := inventedIssue()
	c := issue.Counties[5]
	own := func(i int, counts ...int) edition.Tranche {
		t := edition.Tranche{Edition: 12, County: c.ID, Kind: edition.KindTownship, Places: []place.ID{c.Townships[i].ID},
			Senders: 3, Counts: counts, Window: edition.Window{ThisFall: true, Through: 2026}}
		for _, n := range counts {
			t.Samples += n
		}
		return t
	}
	joined := own(0, 3, 1, 0, 0, 0)
	joined.Kind, joined.Places, joined.Window = edition.KindDistrict, nil, edition.Window{Through: 2025}
	for _, tw := range c.Townships[:6] {
		joined.Places = append(joined.Places, tw.ID)
	}
	issue.Tranches = []edition.Tranche{own(6, 4, 0, 1, 0, 0), own(7, 1, 1, 2, 2, 0), own(8, 5, 0, 0, 0, 0), joined}
	issue.Falls = nil
	return issue
}

func TestCountyInShort(t *testing.T) {
	d := newSite(small()).dom(t, "/county/plover")
	require.Equal(t, "Eggs found in 2 of 3 townships with figures. Also in 0 of 1 group of joined townships.", text(d.Find(".found")))
	require.Equal(t, "Fall of 2026: too few senders so far to give a figure.", text(d.Find(".fall")))
	require.Equal(t, "Highest level: moderate, in Hask.", text(d.Find(".highest")))
	// 5 of 18 by Wilson's formula, worked by hand with z = 1.96: 0.125 to
	// 0.509; printed outward.
	require.Equal(t, "Of 18 bags that are sure either way, 5 held eggs: 28 in 100 (likely range 12 to 51).", text(d.Find(".finds-share")))
	require.Equal(t, "All 20 bags by their level, all falls", text(d.Find("table.levels caption")))
	var rows []string
	d.Find("table.levels tbody tr").Each(func(_ int, s *goquery.Selection) { rows = append(rows, text(s)) })
	// Wilson's limits of 13, 2, 3, 2 and 0 of 20 with z = 1.96, worked by hand from
	// (2x + z² ± z√(z² + 4x(n-x)/n)) / 2(n + z²): 0.433 to 0.819, 0.028 to 0.301,
	// 0.052 to 0.360, 0.028 to 0.301, 0 to 0.161; printed outward.
	require.Equal(t, []string{"none found 0 13 65 (43 to 82)", "unconfirmed very few 2 10 (2 to 31)", "low up to 2,000 3 15 (5 to 37)",
		"moderate 2,001 to 12,000 2 10 (2 to 31)", "high over 12,000 0 0 (0 to 17)"}, rows)
	require.Equal(t, "2026 only", text(d.Find("#t-hask td").Last()))
	require.Equal(t, "up to 2025", text(d.Find("#joined-1 td").Last()))
	require.Contains(t, text(d.Find("#joined-1 .row-note")), "Alder, Brome, Cobb, Dunmore, Elder Fork, and Farrow: somewhere in these")
	near := d.Find("table.near tbody tr")
	require.Equal(t, 6, near.Length(), "this county, four neighbors, the rest of the state")
	require.Equal(t, "Osier County no figures yet – – – – –", text(near.Eq(1)))
}

// Rule 8's rounding in words: five is seven or fewer, none is none.
func TestFallInWords(t *testing.T) {
	issue := small()
	for name, tt := range map[string]struct {
		figure edition.FallFigure
		want   string
	}{
		"about":     {edition.FallFigure{Samples: 25, Finds: 10, Highest: edition.NotTold}, "Fall of 2026: about 25 bags counted, about 10 of them with eggs."},
		"few":       {edition.FallFigure{Samples: 1500, Finds: 5, Highest: edition.NotTold}, "Fall of 2026: about 1,500 bags counted, seven or fewer of them with eggs."},
		"none":      {edition.FallFigure{Samples: 10, Finds: 0, Highest: edition.NotTold}, "Fall of 2026: about 10 bags counted, none of them with eggs."},
		"and level": {edition.FallFigure{Samples: 10, Finds: 10, Highest: 4}, "Fall of 2026: about 10 bags counted, about 10 of them with eggs. The highest level among them is high."},
	} {
		t.Run(name, func(t *testing.T) {
			issue := *issue
			f := tt.figure
			f.County, f.Season = 600, 2026
			issue.Falls = []edition.FallFigure{{County: 600, Season: 2025, Samples: 500}, f, {County: 500, Season: 2026, Samples: 900}}
			tell := newTeller(t, &issue)
			v, _ := tell.x.County("plover")
			got := tell.fall(v)
			require.Equal(t, tt.want, strings.Join(got[:len(got)-1], " "))
			require.Contains(t, got[len(got)-1], "Rounded to fives")
		})
	}
}

// Finds whose level is not shown: the map and the table say the least it can
// be, and the bags have a row of their own.
func TestCoarseInWords(t *testing.T) {
	issue := small()
	issue.Tranches[1].Coarse, issue.Tranches[1].Counts = true, []int{1, 1, 4}
	d := newSite(issue).dom(t, "/county/plover")
	require.Equal(t, "at least low", text(d.Find("#t-hask td.level")))
	require.Equal(t, "found-1", d.Find(`.map-wide [data-place="608"]`).AttrOr("data-mark", ""))
	require.Equal(t, "Highest level: at least low, in Gant and Hask. Some finds are shown without their level, so it may be higher.", text(d.Find(".highest")))
	require.Equal(t, "found, level not shown not shown for small groups 4 20 (8 to 42)", text(d.Find("table.levels tbody tr").Last()))
}

// Townships of one county that share a name keep their codes.
func TestShortNames(t *testing.T) {
	issue := small()
	c := &issue.Counties[5]
	c.Townships[7].Name = "Gant"
	tell := newTeller(t, issue)
	v, _ := tell.x.County("plover")
	require.Equal(t, "Highest level: moderate, in Gant ("+c.Townships[7].Code+").", tell.highest(v))
}

// The ranges as the sources print them: Iowa State University IPM 63 (2008),
// 1-2,000, 2,001-12,000, over 12,000; Minnesota seed guide, 201-2,000 and
// 2,001-10,000.
func TestSpans(t *testing.T) {
	for key, want := range map[string][]string{
		assay.SchemeISUSoybeanNext: {"up to 2,000", "2,001 to 12,000", "over 12,000"},
		assay.SchemeMinnesota:      {"up to 200", "201 to 2,000", "2,001 to 10,000", "over 10,000"},
	} {
		s, ok := assay.Preset(key)
		require.True(t, ok)
		issue := inventedIssue()
		issue.Tranches, issue.Scheme = nil, s
		tell := newTeller(t, issue)
		var got []string
		for i := range s.Found() {
			got = append(got, tell.span(s.Found(), i))
		}
		require.Equal(t, want, got, key)
	}
}

// Every class of every scheme that comes with the program has a name.
func TestClassNames(t *testing.T) {
	for _, s := range assay.Presets() {
		for _, c := range s.Classes {
			require.True(t, catalog.English().Has("level."+c.Name), "level.%s of %s", c.Name, s.Key)
		}
	}
	tell := newTeller(t, small())
	require.Equal(t, "knee deep", tell.className(assay.Class{Name: "knee_deep"}), "an office's own")
}

func TestList(t *testing.T) {
	tell := newTeller(t, small())
	for want, names := range map[string][]string{
		"": nil, "A": {"A"}, "A and B": {"A", "B"}, "A, B, and C": {"A", "B", "C"},
		"A, B, C, and 2 more": {"A", "B", "C", "D", "E"},
	} {
		require.Equal(t, want, tell.list(names, 3))
	}
	require.Equal(t, "A, B, C, and D", tell.list([]string{"A", "B", "C", "D"}, 4))
}

// Rows are by name, and by code where there is none: T9N before T10N.
func TestRowsByName(t *testing.T) {
	issue := small()
	towns := issue.Counties[5].Townships
	towns[0].Name = "Voss"
	for i := range towns[1:] {
		towns[i+1].Name = ""
	}
	towns[1].Code, towns[2].Code = "T10N R1E", "T9N R1E"
	tell := newTeller(t, issue)
	v, _ := tell.x.County("plover")
	rows := tell.rows(v)
	require.Equal(t, "T9N R1E", rows[0].Name)
	require.Equal(t, "T10N R1E", rows[1].Name)
	require.Equal(t, "Voss", rows[21].Name)
	require.Equal(t, towns[0].Code, rows[21].Code)
}

// A bar is in thousandths, and what is there is never drawn as nothing.
func TestBarOf(t *testing.T) {
	require.Equal(t, bar{500, 250, 750}, barOf(1, 2, stat.Interval{Low: .25, High: .75}))
	require.Equal(t, bar{0, 0, 300}, barOf(0, 9, stat.Interval{Low: 0, High: .3}))
	require.Equal(t, bar{2, 0, 6}, barOf(1, 5000, stat.Interval{Low: .0001, High: .006}))
	require.Equal(t, "M0 5v10M0 10H6M6 5v10", bar{2, 0, 6}.whisker())
}
