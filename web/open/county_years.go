package open

import (
	"strconv"

	"sixmile/internal/gazette"
)

// years is how many bags there are, and how old.
func (t teller) years(v *gazette.CountyView) []string {
	key := "upto"
	if v.Oldest.Only {
		key = "only"
	}
	return []string{
		t.lang.Count("county.years.bags", v.Samples, "newest", strconv.Itoa(v.Window.Through)),
		t.lang.SayOf("county.years.oldest", key, "oldest", strconv.Itoa(v.Oldest.Through)),
	}
}

// roundRow is what one map added.
type roundRow struct {
	Map, Bags, Share string
	Bar              bar
	Drawn            bool
}

func (t teller) rounds(v countyView) []roundRow {
	var out []roundRow
	for _, r := range v.rounds {
		row := roundRow{Map: t.lang.MonthYear(r.Edition.Released), Bags: t.lang.Number(r.Samples), Share: t.say("map.dash")}
		if r.HasShare {
			share, low, high := r.Share.PerHundred()
			row.Share = t.say("county.levels.share", "share", share, "low", low, "high", high)
			row.Bar, row.Drawn = barOf(r.Share.Finds, r.Share.Judged, r.Share.Interval), true
		}
		out = append(out, row)
	}
	return out
}

// trend compares townships that are in both of two maps; "" while there is only
// one map.
func (t teller) trend(v countyView) string {
	if !v.hasTrend {
		if len(v.rounds) < 2 {
			return ""
		}
		return t.say("county.trend.none")
	}
	c, args := v.trend.Contrast, []any{}
	low, high := c.PerHundred()
	key, from, to := "open", 0, 0
	switch c.Lean() {
	case gazette.More:
		key, from, to = "more", low, high
	case gazette.Fewer:
		key, from, to = "fewer", -high, -low
	}
	args = append(args, "n", v.trend.Townships, "map", t.lang.MonthYear(v.trend.Before.Released), "now", c.Here.Finds,
		"nowof", c.Here.Judged, "before", c.There.Finds, "beforeof", c.There.Judged, "from", from, "to", to)
	return t.lang.SayOf("county.trend", key, args...)
}

// counting says that the maps compared were not all counted in one known way; ""
// where they were, or there is only one.
func (t teller) counting(v countyView) string {
	if len(v.rounds) < 2 {
		return ""
	}
	c := t.x.CountingOf(v.ID, v.rounds)
	switch {
	case c.One():
		return ""
	case c.Known > 1 && c.Unknown:
		return t.say("county.counting.both")
	case c.Unknown:
		return t.say("county.counting.unknown")
	}
	return t.say("county.counting.several")
}

// trust is what "none found" is worth, and how many bags are unconfirmed.
func (t teller) trust(v *gazette.CountyView) []string {
	var out []string
	if v.None > 0 {
		out = append(out, t.lang.Count("county.trust.bags", v.None))
		if d, known := t.x.Missed(); known {
			out = append(out, t.say("county.trust.missed", "eggs", gazette.Rounded(d)))
		}
	}
	if v.Unconfirmed == 0 {
		return append(out, t.say("county.trust.unconfirmed.none"))
	}
	return append(out, t.lang.Count("county.trust.unconfirmed", v.Unconfirmed, "of", v.Samples))
}
