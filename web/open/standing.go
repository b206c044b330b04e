package open

import (
	"math"

	"sixmile/internal/atlas"
	"sixmile/internal/edge"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
)

// standing is what a place's figures amount to, as a figure of a map.
func standing(s edge.Stand, sum gazette.Summary) figure {
	return figure{mark: gazette.StandMark(s), sum: sum, stand: &s}
}

// standingOfSum is that of many places together, without a word of how hard each
// was looked at.
func standingOfSum(sum gazette.Summary) figure {
	s := edge.Stand{Standing: edge.NoFigures}
	switch {
	case sum.Finds > 0:
		s.Standing = edge.Found
	case sum.Unconfirmed > 0:
		s.Standing = edge.Unconfirmed
	case sum.None > 0:
		s.Standing = edge.ThinlyLooked
	}
	return standing(s, sum)
}

// standingName is a standing in a few words.
func (t teller) standingName(s edge.Stand) string {
	name := t.lang.SayOf("worth.standing", s.Standing.String())
	if s.NextToFind {
		return t.say("worth.near", "standing", name)
	}
	return name
}

// standingTitle says of a place what its mark says.
func (t teller) standingTitle(place string, f figure) string {
	return t.lang.Count("worth.area", f.sum.Samples, "place", place, "standing", t.standingName(*f.stand))
}

// missed is a chance as people say it: about 1 time in 3.
func (t teller) missed(p float64) string {
	switch {
	case p > 0.95:
		return t.say("worth.missed.always")
	case p > 0.62:
		return t.say("worth.missed.of", "n", int(math.Round(p*10)), "of", 10)
	case p < 0.001:
		return t.say("worth.missed.seldom", "n", 1000)
	}
	return t.say("worth.missed.one", "n", int(math.Round(1/p)))
}

// standingRows explain the marks of standings. Rows for no figures and for joined
// and recalled places are those of other maps.
func (t teller) standingRows(rows []atlas.LegendRow) []atlas.LegendRow {
	var out []atlas.LegendRow
	for _, s := range []edge.Standing{edge.WellLooked, edge.ThinlyLooked, edge.Unconfirmed, edge.Found} {
		out = append(out, atlas.LegendRow{Mark: gazette.StandMark(edge.Stand{Standing: s}),
			Name: t.lang.SayOf("worth.standing", s.String()), Note: t.lang.SayOf("worth.standing.note", s.String())})
	}
	for _, r := range rows {
		switch {
		case r.Joined:
			r.Mark = gazette.StandMark(edge.Stand{Standing: edge.ThinlyLooked})
			out = append(out, r)
		case r.Mark.Standing == atlas.NoFigures, r.Mark.Standing == atlas.Recalled:
			out = append(out, r)
		}
	}
	return append(out, atlas.LegendRow{Mark: atlas.Mark{Near: true}, Name: t.say("worth.legend.near"), Note: t.say("worth.legend.near.note")})
}

// standingChip is a standing's mark, small: stakes where something was found, a 0
// on two lines or with a question mark where nothing was.
func standingChip(m atlas.Mark) chip {
	step := map[atlas.Standing]uint8{atlas.Staked: 3, atlas.HalfStaked: 1}[m.Standing]
	c := chip{
		fill: press.Color.Color(atlas.Paint{Role: atlas.Amount, Step: step, Of: atlas.AmountSteps}),
		line: press.Color.Color(atlas.Paint{Role: atlas.OnAmount, Step: step, Of: atlas.AmountSteps}),
	}
	switch m.Standing {
	case atlas.Staked:
		c.stakes = "M10 5v8M15 5v8M20 5v8"
	case atlas.HalfStaked:
		c.stakes = "M15 4v4M15 10v4"
	case atlas.WellLooked:
		c.letter, c.stakes = "0", "M10 14.2h10M10 16.2h10"
	default:
		c.letter = "0?"
	}
	return c
}

// hasEdge tells whether the edge is drawn on a map of the measure: on those of
// all finds, and not where fewer of them or none are shown.
func hasEdge(m atlas.Measure) bool {
	return m == atlas.HighestLevel || m == atlas.ShareFound || m == atlas.Standings
}
