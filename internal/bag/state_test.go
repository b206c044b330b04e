package bag

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestUsualWay(t *testing.T) {
	way := []State{Issued, HandedOut, FormIn, SoilIn, Counted, Signed, Waiting, Released}
	for i := range len(way) - 1 {
		require.NoError(t, way[i].Step(way[i+1]))
	}
}

func TestSteps(t *testing.T) {
	for _, tc := range []struct {
		from, to State
		ok       bool
	}{
		{Issued, SoilIn, true},      // handed out unscanned, no form yet
		{HandedOut, Issued, true},   // sealed bundle brought back
		{Counted, SoilIn, true},     // recount
		{Waiting, Counted, true},    // correction
		{Signed, Released, true},    // straight into a tranche
		{Counted, Released, false},  // nothing unsigned is released
		{Counted, Waiting, false},   // nor does it wait
		{FormIn, Counted, false},    // no count without soil
		{SoilIn, FormIn, false},     // a late form is no step back
		{Released, Void, false},     // one tranche, for ever
		{Released, Waiting, false},  // likewise
		{Void, Issued, false},       // a void code is never used again
		{"", Issued, false},         // unset
		{Issued, "borrowed", false}, // unknown
	} {
		err := tc.from.Step(tc.to)
		if tc.ok {
			require.NoError(t, err, "%s to %s", tc.from, tc.to)
		} else {
			require.ErrorIs(t, err, ErrStep, "%s to %s", tc.from, tc.to)
		}
	}
}

func TestStatesAreReachableAndEnd(t *testing.T) {
	seen := []State{Issued}
	for i := 0; i < len(seen); i++ {
		for _, next := range seen[i].Next() {
			require.NotEqual(t, seen[i], next, "a step goes somewhere")
			if !slices.Contains(seen, next) {
				seen = append(seen, next)
			}
		}
	}
	require.ElementsMatch(t, States(), seen)
	for _, s := range States() {
		ends := len(s.Next()) == 0
		require.Equal(t, s == Released || s == Void, ends, "only released and void are final: %s", s)
	}
}
