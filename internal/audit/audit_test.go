package audit_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/audit"
	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/place"
)

var ranks = edition.Ranks{edition.ClassNone, edition.ClassUnconfirmed, edition.ClassFound, edition.ClassFound}

// archive is two editions of one county of twelve townships, 11 to 22, in two
// districts: two townships, then another township and a remainder.
func archive() audit.Archive {
	a := audit.Archive{Map: attack.Map{1: {}}}
	for t := 11; t <= 22; t++ {
		a.Map[1][t] = 100 + (t-11)/6
	}
	township := func(no, id, where, through int, counts ...int) edition.Tranche {
		n := 0
		for _, c := range counts {
			n += c
		}
		return edition.Tranche{ID: id, Edition: no, County: 1, Kind: edition.KindTownship, Places: []place.ID{place.ID(where)}, Senders: 3,
			Samples: n, Window: edition.Window{ThisFall: true, Through: through}, Counts: counts}
	}
	rest := edition.Tranche{ID: 2, Edition: 2, County: 1, Kind: edition.KindRemainder, Places: []place.ID{1}, Senders: 3,
		Samples: 4, Window: edition.Window{Through: 2017}, Coarse: true, Counts: []int{1, 1, 2}}
	meta := func(no, season int) edition.Meta {
		return edition.Meta{Number: no, Kind: edition.Release, Season: season, K: 3, Scheme: 1, Ranks: ranks,
			Cutoff: time.Date(season, 12, 31, 0, 0, 0, 0, time.UTC), Released: time.Date(season+1, 1, 15, 0, 0, 0, 0, time.UTC)}
	}
	one := audit.Edition{Meta: meta(1, 2020), Tranches: []edition.Tranche{township(1, 1, 11, 2020, 2, 0, 1, 0), township(1, 2, 12, 2020, 3, 0, 0, 0)}}
	one.Seal()
	two := audit.Edition{Meta: meta(2, 2021), Tranches: []edition.Tranche{township(2, 1, 11, 2021, 0, 1, 1, 1), rest},
		Falls: []edition.FallFigure{{County: 1, Season: 2021, Samples: 15, Finds: 10, Highest: edition.NotTold}}}
	two.Meta.Previous = one.Digest
	two.Seal()
	a.Editions = []audit.Edition{one, two}
	return a
}

func TestCleanArchive(t *testing.T) {
	a := archive()
	done := 0
	outcomes := audit.Run(a, func(n, of int) { done = n; require.Equal(t, 2, of) })
	require.Empty(t, audit.Findings(outcomes))
	require.NoError(t, audit.Refuse(outcomes))
	require.Equal(t, 2, done)
	require.Len(t, outcomes, 3+len(attack.All()))
	for _, o := range outcomes {
		require.NotEmpty(t, o.Reason, o.Name)
	}
}

func TestEachMistakeIsFound(t *testing.T) {
	for name, c := range map[string]struct {
		check  string
		change func(*audit.Archive)
	}{
		"a digest":        {"digest", func(a *audit.Archive) { a.Editions[1].Digest[0]++ }},
		"a code":          {"code", func(a *audit.Archive) { a.Editions[0].Code = "AAAA-AA" }},
		"a count":         {"digest", func(a *audit.Archive) { a.Editions[0].Tranches[0].Counts[0]++ }},
		"two senders":     {"few", func(a *audit.Archive) { a.Editions[0].Tranches[0].Senders = 2 }},
		"a kind unknown":  {"format", func(a *audit.Archive) { a.Editions[0].Tranches[0].Kind = "farm" }},
		"an edition gone": {"chain", func(a *audit.Archive) { a.Editions[0].Meta.Season = 2019; a.Editions[0].Seal() }},
		"a small rest":    {"which rest", func(a *audit.Archive) { a.Map[1] = map[int]int{11: 100, 12: 101, 13: 101} }},
	} {
		t.Run(name, func(t *testing.T) {
			a := archive()
			c.change(&a)
			outcomes := audit.Run(a, nil)
			found := audit.Findings(outcomes)
			require.True(t, strings.Contains(strings.Join(found, "\n"), c.check+": "), "%v", found)
			err := audit.Refuse(outcomes)
			require.ErrorIs(t, err, audit.ErrFound)
			require.ErrorContains(t, err, c.check)
		})
	}
}

// The figures are worked out by hand from the two editions.
func TestClaims(t *testing.T) {
	county, first, rest := audit.Scope{County: 1}, audit.Scope{County: 1, Township: 11}, audit.Scope{County: 1, Rest: true}
	right := []audit.Claim{
		{Scope: county, Measure: audit.Samples, Value: "13"},
		{Scope: county, Measure: audit.Finds, Value: "5"},
		{Scope: county, Measure: audit.NoneFound, Value: "6"},
		{Scope: county, Measure: audit.Unconfirmed, Value: "2"},
		{Scope: county, Measure: audit.Unsorted, Value: "2"},
		{Scope: county, Measure: audit.Judged, Value: "11"},
		{Scope: county, Measure: audit.Share, Value: "45"}, // 5 of 11
		{Scope: county, Measure: audit.Shown, Value: "2"},
		{Scope: county, Measure: audit.FoundIn, Value: "1"},
		{Scope: county, Measure: audit.Highest, Value: "3"},
		{Scope: county, Measure: audit.Window, Value: "up to 2021"},
		{Scope: county, Measure: audit.Level(2), Value: "2"},
		{Scope: county, Measure: audit.Level(0), Value: "6"},
		{Scope: first, Measure: audit.Samples, Value: "6"},
		{Scope: first, Measure: audit.Mark, Value: "found-2"},
		{Scope: audit.Scope{County: 1, Township: 12}, Measure: audit.Mark, Value: "none-found"},
		{Scope: audit.Scope{County: 1, Township: 12}, Measure: audit.Window, Value: "2020 only"},
		{Scope: audit.Scope{County: 1, Township: 13}, Measure: audit.Mark, Value: "no-figures"},
		{Scope: audit.Scope{County: 1, Township: 13}, Measure: audit.HasFigures, Value: "false"},
		{Scope: rest, Measure: audit.Highest, Value: "2"}, // the least it can be
		{Scope: audit.Scope{}, Measure: audit.WithFigures, Value: "1"},
		{Scope: audit.Scope{}, Measure: audit.FoundInAll, Value: "1"},
		{Scope: audit.Scope{County: 1, Fall: 2021}, Measure: audit.Samples, Value: "15"},
		{Scope: audit.Scope{County: 1, Fall: 2021}, Measure: audit.Highest, Value: "-1"},
	}
	for i := range right {
		right[i].Source, right[i].Edition = "page", 2
	}
	a := archive()
	a.Claims = right
	require.Empty(t, audit.Findings(audit.Run(a, nil)))
	for i, c := range right {
		a.Claims = []audit.Claim{c}
		a.Claims[0].Value += "1"
		require.NotEmpty(t, audit.Findings(audit.Run(a, nil)), "claim %d, %s", i, c.Measure)
	}
	a.Claims = []audit.Claim{{Source: "then", Edition: 1, Scope: county, Measure: audit.Samples, Value: "6"},
		{Source: "then", Edition: 1, Scope: county, Measure: audit.Finds, Value: "1"}}
	require.Empty(t, audit.Findings(audit.Run(a, nil)), "an earlier edition is the sum of its own time")
}

// Pages leave out what was withdrawn, and show that it was.
func TestClaimsAfterAWithdrawal(t *testing.T) {
	a := archive()
	a.Editions[0].Withdrawn = true
	a.Claims = []audit.Claim{
		{Edition: 2, Scope: audit.Scope{County: 1}, Measure: audit.Samples, Value: "7"},
		{Edition: 2, Scope: audit.Scope{County: 1}, Measure: audit.Finds, Value: "4"},
		{Edition: 2, Scope: audit.Scope{County: 1, Township: 12}, Measure: audit.Mark, Value: "recalled"},
		{Edition: 2, Scope: audit.Scope{County: 1, Township: 11}, Measure: audit.Mark, Value: "found-2"},
		{Edition: 2, Scope: audit.Scope{County: 1, Township: 13}, Measure: audit.Mark, Value: "no-figures"},
	}
	require.Empty(t, audit.Findings(audit.Run(a, nil)))
	a.Claims[2].Value = "none-found"
	require.NotEmpty(t, audit.Findings(audit.Run(a, nil)))
}
