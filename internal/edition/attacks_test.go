package edition_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
)

// Proof 6: many releases and falls, with two editions in some years, late,
// uncounted and county-only bags: no attack learns anything.
func TestProofAttacks(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := drawn(rt)
		require.Empty(rt, attack.Try(newSimulation(t, c).run().public()))
	})
}

// Where rules became stricter, what came between two editions is held against the
// rules of those that brought it.
func TestAttackGoesByTheRulesOfTheDay(t *testing.T) {
	p := attack.Public{Editions: []attack.Edition{{Number: 1, K: 3}, {Number: 2, K: 3}, {Number: 3, K: 5}}}
	said := func(samples ...int) (of []string) {
		p.Figures = nil
		for i, n := range samples {
			p.Figures = append(p.Figures, attack.Figure{Edition: i + 1, County: 1, Samples: n})
		}
		for _, finding := range attack.Try(p) {
			if strings.HasPrefix(finding, "then minus now: ") {
				of = append(of, finding)
			}
		}
		return of
	}
	require.Empty(t, said(10, 13, 18))
	require.Len(t, said(10, 12, 18), 1)
	require.Len(t, said(10, 13, 17), 1)
}

// Each attack finds the mistake that it is there for.
func TestProofAttacksBite(t *testing.T) {
	nearest := func(n, _ int) int { return (n + 2) / 5 * 5 }
	for _, c := range []struct {
		attack string
		change func(*settings)
		tamper func(*attack.Public)
	}{
		{attack: "few", tamper: func(p *attack.Public) { p.Editions[0].Tranches[0].Senders = 2 }},
		{attack: "exact senders", change: func(c *settings) { c.exact = true }},
		{attack: "sums", tamper: func(p *attack.Public) { p.Editions[0].Tranches[0].Counts[0]++ }},
		{attack: "order", tamper: func(p *attack.Public) { slices.Reverse(p.Editions[0].Tranches) }},
		{attack: "chain", tamper: func(p *attack.Public) { p.Editions[0].Text += " " }},
		{attack: "chain", tamper: func(p *attack.Public) { p.Editions[1].Released = p.Editions[0].Released.AddDate(0, 0, 29) }},
		{attack: "windows", change: func(c *settings) { c.wrongWindow = true }},
		{attack: "which township", change: func(c *settings) { c.weak, c.towns = edition.AnyDistrict, 7 }},
		{attack: "which rest", change: func(c *settings) { c.weak, c.towns = edition.AnyRemainder, 7 }},
		{attack: "fall minus map", change: func(c *settings) { c.rounding, c.towns, c.senders = nearest, 5, 6 }},
		{attack: "higher than the map", tamper: func(p *attack.Public) {
			f := &p.Editions[0].Falls[0]
			samples := 0
			for _, t := range p.Editions[0].Tranches {
				if t.County == f.County && t.ThisFall {
					samples += t.Samples
				}
			}
			f.Highest, f.Samples = 9, samples-3
		}},
		{attack: "recompute", tamper: func(p *attack.Public) { p.Figures[0].Samples++ }},
		{attack: "then minus now", tamper: func(p *attack.Public) {
			later := p.Figures[0]
			later.Samples++
			p.Figures = append(p.Figures[:1], later)
		}},
	} {
		found := someSeed(func(seed uint64) (of []string) {
			s := usual(seed)
			if c.change != nil {
				c.change(&s)
			}
			public := newSimulation(t, s).run().public()
			if c.tamper != nil {
				if len(public.Editions[0].Tranches) < 2 || len(public.Editions[0].Falls) == 0 {
					return nil
				}
				c.tamper(&public)
			}
			for _, finding := range attack.Try(public) {
				if strings.HasPrefix(finding, c.attack+": ") {
					of = append(of, finding)
				}
			}
			return of
		})
		require.NotEmpty(t, found, "%s did not find its mistake", c.attack)
	}
	for _, a := range attack.All() {
		require.NotEmpty(t, a.Reason, a.Name)
	}
}
