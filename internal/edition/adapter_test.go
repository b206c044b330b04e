package edition_test

import (
	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/place"
)

// public is what the attacker gets: the texts, read by its own reader, and
// every figure of a page, at every edition.
func (s *simulation) public() attack.Public {
	p := attack.Public{Map: mapOf(s.counties, s.towns), Rounding: s.rounding}
	for _, text := range s.texts {
		e, err := attack.Read(text)
		require.NoError(s.t, err)
		p.Editions = append(p.Editions, e)
		p.Figures = append(p.Figures, s.pages(e.Number, e.Season)...)
	}
	return p
}

// pages are the sums that pages show: county and townships, all years and this
// fall.
func (s *simulation) pages(number, season int) (out []attack.Figure) {
	var upto []edition.Tranche
	for _, t := range s.tranches {
		if t.Edition <= number {
			upto = append(upto, t)
		}
	}
	figure := func(ts []edition.Tranche, f attack.Figure) {
		sum, err := edition.Sum(ranks, ts...)
		require.NoError(s.t, err)
		f.Edition, f.Samples, f.Finds = number, sum.Samples, sum.Finds
		out = append(out, f)
	}
	for c := 1; c <= s.counties; c++ {
		ts := edition.OfCounty(upto, place.ID(c))
		figure(ts, attack.Figure{Label: "county", County: c})
		figure(edition.OfFall(ts, season), attack.Figure{Label: "county this fall", County: c, Fall: season})
		for _, id := range edition.TownshipsShown(ts) {
			figure(edition.OfTownship(ts, id), attack.Figure{Label: "township", County: c, Township: int(id)})
		}
	}
	return out
}
