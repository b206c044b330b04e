package edition_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
)

// held is what one township may hold: the bags of each of its senders, of a
// fall long enough ago, and of this fall.
type held struct{ old, new []int }

// grid is a small county, every way its townships may be filled, and what is
// published of each.
type grid struct {
	townships, perDistrict int
	season                 int // of the old bags
	states                 []held
	countyOnly             bool
	weak                   edition.Weakness
	exact                  bool // seeded mistake: exact senders are published
}

// secrets fills the county in every way.
func (g grid) secrets(t testing.TB) []attack.Secret {
	ground := landBy(t, 1, g.townships, g.perDistrict)
	fill := make([]int, g.townships)
	var out []attack.Secret
	for {
		out = append(out, g.secret(t, ground, fill, 0))
		if g.countyOnly {
			out = append(out, g.secret(t, ground, fill, 1), g.secret(t, ground, fill, 2))
		}
		i := 0
		for i < len(fill) && fill[i] == len(g.states)-1 {
			fill[i] = 0
			i++
		}
		if i == len(fill) {
			return out
		}
		fill[i]++
	}
}

func (g grid) secret(t testing.TB, ground edition.Ground, fill []int, countyOnly int) attack.Secret {
	b := new(bags)
	s := attack.Secret{Waiting: make([]int, g.townships)}
	sender := 0
	for i, state := range fill {
		for _, part := range []struct {
			season int
			bags   []int
		}{{g.season, g.states[state].old}, {2026, g.states[state].new}} {
			for _, n := range part.bags {
				sender++
				b.add(i+1, sender, part.season, earlier, n)
				s.Waiting[i] += n
			}
		}
	}
	for range countyOnly {
		sender++
		b.add(0, sender, g.season, earlier, 1)
	}
	plan, err := edition.GatherWeak(g.weak, edition.DefaultRules(), ground, edition.History{}, cut(2026), b.made)
	require.NoError(t, err)
	made, err := plan.Count(edition.DefaultRules(), 1, ranks, func(edition.SampleID) int { return 0 })
	require.NoError(t, err)
	for i, d := range plan.Tranches {
		if g.exact {
			made[i].Senders = d.Senders
		}
	}
	s.Public = string(edition.Canonical(edition.Meta{Number: 1, Kind: edition.Release, Season: 2026, Released: cut(2026).Day,
		Cutoff: cut(2026).Day, K: 3, Ranks: ranks}, made, nil))
	return s
}

// pinned lists what the attacker knows for sure of townships without a tranche
// of their own, from publications with a tranche of the kind of at most so many
// bags.
func (g grid) pinned(t testing.TB, kind string, most int) (found []string, publications int) {
	secrets := g.secrets(t)
	pins := make(map[string][]attack.Pin)
	for _, p := range attack.Pins(secrets) {
		pins[p.Public] = append(pins[p.Public], p)
	}
	seen := make(map[string]bool)
	for _, s := range secrets {
		if seen[s.Public] {
			continue
		}
		seen[s.Public] = true
		e, err := attack.Read([]byte(s.Public))
		require.NoError(t, err)
		own, asked := make(map[int]bool), false
		for _, tr := range e.Tranches {
			if tr.Kind == "township" {
				own[tr.Places[0]] = true
			}
			asked = asked || tr.Kind == kind && tr.Samples <= most
		}
		if !asked {
			continue
		}
		publications++
		for _, p := range pins[s.Public] {
			if !own[101+p.Township] {
				found = append(found, fmt.Sprintf("township %d: exact %v (%d), sampled %v, from\n%s", 101+p.Township,
					p.Exact, p.Count, p.Sampled, s.Public[strings.Index(s.Public, "tranche"):]))
			}
		}
	}
	return found, publications
}

func districtGrid() grid {
	return grid{townships: 4, perDistrict: 4, season: 2024, states: []held{
		{}, {old: []int{1}}, {old: []int{2}}, {old: []int{3}}, {old: []int{1, 1}}, {old: []int{2, 1}}, {old: []int{1, 1, 1}},
		{new: []int{1}}, {old: []int{1}, new: []int{1}},
	}}
}

func remainderGrid() grid {
	return grid{townships: 6, perDistrict: 3, season: 2022, countyOnly: true, states: []held{
		{}, {old: []int{1}}, {old: []int{2}}, {old: []int{1, 1}}, {old: []int{1, 1, 1}},
	}}
}

// Proof 4: every way to fill a small county. From a district tranche and from a
// remainder nobody can say of a township without its own tranche that bags came
// from it, nor how many.
//
// The statement is for tranches of up to six bags. Larger ones touch the ceiling
// of the grid, where a township holds at most three old bags, which real ones
// do not have; how many of them are pinned there is logged as the residual.
func TestProofGrids(t *testing.T) {
	const below, any = 6, 99
	found, n := districtGrid().pinned(t, "district", below)
	require.Empty(t, found)
	require.Greater(t, n, 10)
	t.Logf("districts: %d different publications, nothing pinned", n)
	found, n = remainderGrid().pinned(t, "remainder", below)
	require.Empty(t, found)
	require.Greater(t, n, 2)
	t.Logf("remainders: %d different publications, nothing pinned", n)
	for kind, g := range map[string]grid{"district": districtGrid(), "remainder": remainderGrid()} {
		found, n := g.pinned(t, kind, any)
		t.Logf("%s tranches of any size: %d publications, %d pinned townships at the grid's ceiling", kind, n, len(found))
	}

	g := districtGrid()
	g.weak = edition.AnyDistrict
	found, _ = g.pinned(t, "district", below)
	require.NotEmpty(t, found, "a district with one or two blank townships went unnoticed")
	g = districtGrid()
	g.exact = true
	found, _ = g.pinned(t, "district", below)
	require.NotEmpty(t, found, "exact senders went unnoticed")
	g = remainderGrid()
	g.weak = edition.AnyRemainder
	found, _ = g.pinned(t, "remainder", below)
	require.NotEmpty(t, found, "a remainder of few townships went unnoticed")
}
