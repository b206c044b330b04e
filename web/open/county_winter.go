package open

// adviceRow is one thing to do, and who says so.
type adviceRow struct{ Text, Source string }

// winter is what the published work and the trade say to do before spring. None
// of it depends on the figures: what a field needs is known by its own sample.
func (t teller) winter() []adviceRow {
	return []adviceRow{
		{t.say("county.winter.nonhost"), t.say("county.winter.nonhost.source")},
		{t.say("county.winter.resistance"), t.say("county.winter.resistance.source")},
		{t.say("county.winter.drybean"), t.say("county.winter.drybean.source")},
		{t.say("county.winter.clean"), t.say("county.winter.clean.source")},
	}
}

// bags is where free bags are, and until when.
func (t teller) bags(v countyView) []string {
	o := v.office
	if o == nil {
		return []string{t.say("county.bags.none", "county", t.county(v.CountyView))}
	}
	out := []string{t.say("county.bags.at", "address", o.Address)}
	if o.Hours != "" {
		out = append(out, t.say("county.bags.hours", "hours", o.Hours))
	}
	switch {
	case o.LastDay == nil:
		out = append(out, t.say("county.bags.open"))
	case v.over:
		out = append(out, t.say("county.bags.past", "day", t.lang.Date(*o.LastDay)))
	default:
		out = append(out, t.say("county.bags.until", "day", t.lang.Date(*o.LastDay)))
	}
	return out
}
