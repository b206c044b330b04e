package open

import (
	"strconv"

	"sixmile/internal/gazette"
)

// short is where eggs were found.
func (t teller) short(v *gazette.CountyView) []string {
	var out []string
	if v.Shown > 0 {
		out = append(out, t.lang.Count("county.short.found", v.Shown, "found", v.WithFinds))
	}
	if n := len(v.Joined); n > 0 {
		found := 0
		for _, j := range v.Joined {
			if j.Finds > 0 {
				found++
			}
		}
		out = append(out, t.lang.Count("county.short.joined", n, "found", found))
	}
	if v.Rest.Finds > 0 {
		out = append(out, t.say("county.short.rest"))
	}
	return out
}

// fall is about how much came in this fall. Five finds are "seven or fewer", and
// none means none (edition.FallFigure).
func (t teller) fall(v *gazette.CountyView) []string {
	f, year := v.Fall, strconv.Itoa(v.Fall.Season)
	switch {
	case !t.released():
		return nil
	case !v.HasFall:
		return []string{t.say("county.fall.untold", "year", strconv.Itoa(t.edition().Season))}
	}
	var out []string
	switch {
	case f.Finds == 0:
		out = append(out, t.say("county.fall.none", "year", year, "bags", f.Samples))
	case f.SevenOrFewer():
		out = append(out, t.say("county.fall.few", "year", year, "bags", f.Samples))
	default:
		out = append(out, t.say("county.fall.found", "year", year, "bags", f.Samples, "finds", f.Finds))
	}
	if f.Highest.Known() {
		out = append(out, t.say("county.fall.highest", "level", t.level(f.Highest)))
	}
	return append(out, t.say("county.fall.note"))
}

// highest is the highest level, and where.
func (t teller) highest(v *gazette.CountyView) string {
	places := t.highestAt(v)
	if places == "" {
		return t.say("county.highest.only", "level", t.level(v.Level))
	}
	line := t.say("county.highest", "level", t.level(v.Level), "places", places)
	if !v.Level.Exact {
		line += " " + t.say("county.highest.more")
	}
	return line
}

// highestAt lists the places of the highest level; "" without finds.
func (t teller) highestAt(v *gazette.CountyView) string {
	var places []string
	at := v.Highest()
	name := shortNames(v)
	for _, a := range at.Townships {
		places = append(places, name[a.ID])
	}
	for i := range v.Joined {
		for _, j := range at.Joined {
			if j == &v.Joined[i] {
				places = append(places, t.say("county.highest.joined", "number", i+1))
			}
		}
	}
	if at.Rest {
		places = append(places, t.say("county.highest.rest"))
	}
	return t.list(places, 6)
}

func (t teller) share(v *gazette.CountyView) string {
	if !v.HasShare {
		return ""
	}
	share, low, high := v.Share.PerHundred()
	return t.lang.Count("county.share", v.Share.Judged, "finds", v.Share.Finds, "share", share, "low", low, "high", high)
}

// typical is the level of the middle bag.
func (t teller) typical(v *gazette.CountyView) string {
	l, known := gazette.Typical(v.Figures)
	if !known {
		return t.say("county.typical.unknown")
	}
	return t.say("county.typical", "level", t.level(l))
}

// season is the edition's own fall.
func (t teller) season() string { return strconv.Itoa(t.edition().Season) }
