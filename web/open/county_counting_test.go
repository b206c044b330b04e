package open

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// Two methods in one comparison are said, on the page and in the meeting file, and
// are no sentence for a room.
func TestTwoMethodsAreNotComparedWithoutSaying(t *testing.T) {
	issue := inventedIssue()
	c := issue.Counties[5]
	own := func(no, i int, counts ...int) edition.Tranche {
		tr := edition.Tranche{Edition: no, County: c.ID, Kind: edition.KindTownship, Places: []place.ID{c.Townships[i].ID}, Senders: 3, Counts: counts,
			Window: edition.Window{Through: issue.Edition.Season}}
		for _, n := range counts {
			tr.Samples += n
		}
		return tr
	}
	last := issue.Edition
	last.Number--
	last.Released = last.Released.AddDate(-1, 0, 0)
	issue.Editions = []gazette.Edition{last}
	now := issue.Edition.Number
	issue.Tranches = []edition.Tranche{own(last.Number, 0, 8, 0, 1, 0, 0), own(last.Number, 1, 9, 0, 1, 0, 0), own(now, 0, 0, 0, 9, 3, 0), own(now, 1, 1, 0, 9, 3, 0)}
	for name, tt := range map[string]struct {
		by     []gazette.CountedBy
		says   string
		silent bool
	}{
		"nothing noted": {nil, "", false},
		"one":           {[]gazette.CountedBy{{Edition: last.Number, County: c.ID, Method: 1}, {Edition: now, County: c.ID, Method: 1}}, "", false},
		"two":           {[]gazette.CountedBy{{Edition: last.Number, County: c.ID, Method: 1}, {Edition: now, County: c.ID, Method: 2}}, "counted by more than one method. Part", true},
		"unknown":       {[]gazette.CountedBy{{Edition: last.Number, County: c.ID}, {Edition: now, County: c.ID, Method: 2}}, "whose method is not known", true},
		"both": {[]gazette.CountedBy{{Edition: last.Number, County: c.ID}, {Edition: now, County: c.ID, Method: 1}, {Edition: now, County: c.ID, Method: 2}},
			"by more than one method, and some of earlier years", true},
		"elsewhere": {[]gazette.CountedBy{{Edition: now, County: c.ID + 1}}, "", false},
	} {
		t.Run(name, func(t *testing.T) {
			issue.CountedBy = tt.by
			s := newSite(issue)
			d := s.dom(t, "/county/"+c.Slug)
			require.Contains(t, text(d.Find("main")), "then: ", "the comparison itself is there")
			if tt.says == "" {
				require.NotContains(t, text(d.Find("main")), "how eggs were counted")
			} else {
				require.Contains(t, text(d.Find("p.trend")), tt.says)
			}
			talk := text(s.dom(t, "/county/"+c.Slug+"/talk").Find("main"))
			require.Equal(t, tt.silent, !strings.Contains(talk, "places that are on two maps"), talk)
		})
	}
}
