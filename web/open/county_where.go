package open

import (
	"sixmile/internal/gazette"
)

// part is which half of the county has the finds, and the rule it goes by.
func (t teller) part(v *gazette.CountyView) (line, rule string) {
	rule = t.say("county.part.rule")
	p, clear := v.Part()
	switch {
	case v.Shown == 0:
		return "", ""
	case clear:
		return t.say("county.part", "side", t.side(p.Side), "across", t.side(p.Across), "found", p.Found, "shown", p.Shown,
			"foundacross", p.FoundAcross, "shownacross", p.ShownAcross), rule
	case v.WithFinds == v.Shown:
		return t.say("county.part.all"), rule
	case v.WithFinds == 0:
		return t.say("county.part.none"), rule
	}
	return t.say("county.part.unclear"), rule
}

func (t teller) side(s gazette.Side) string { return t.lang.SayOf("county.side", string(s)) }

// first is what this map shows that the map before did not.
func (t teller) first(v countyView) []string {
	if !v.hasSince {
		return []string{t.say("county.first.map")}
	}
	var out []string
	at := t.lang.MonthYear(v.since.Last.Released)
	if n := len(v.since.FirstFinds); n > 0 {
		out = append(out, t.lang.Count("county.first", n, "map", at, "places", t.names(v, v.since.FirstFinds)), t.say("county.first.note"))
	} else {
		out = append(out, t.say("county.first.none", "map", at))
	}
	if n := len(v.since.First); n > 0 {
		out = append(out, t.lang.Count("county.first.new", n, "places", t.names(v, v.since.First)))
	}
	return out
}

// names lists townships by name.
func (t teller) names(v countyView, areas []*gazette.TownshipView) string {
	short := shortNames(v.CountyView)
	names := make([]string, len(areas))
	for i, a := range areas {
		names[i] = short[a.ID]
	}
	return t.list(names, 8)
}
