package open

import (
	"sixmile/internal/gazette"
)

// nearRow is this county, one next door, or the rest of the state.
type nearRow struct {
	Name, Slug string // no Slug: no page of its own, or this one
	Here       bool
	HasFigures bool
	Chip       chip
	Level      string
	Found      string
	Fall       string
	Bags       string
	Share      string
	Difference string
}

// near compares the county with its neighbors and with the rest of the state.
func (t teller) near(v countyView) []nearRow {
	here := t.nearCounty(v.CountyView)
	here.Here, here.Slug = true, ""
	out := []nearRow{here}
	for _, n := range v.Neighbors {
		r := t.nearCounty(n)
		r.Difference = t.difference(n.Against(v.CountyView))
		out = append(out, r)
	}
	if len(t.x.Issue.Counties) > 1 {
		r := t.nearRow(v.rest.Summary, v.rest.WithFinds, v.rest.Shown, v.rest.Share)
		r.Name = t.say("county.near.rest")
		c, ok := v.AgainstRest(v.rest)
		r.Difference = t.difference(c.Turned(), ok)
		out = append(out, r)
	}
	return out
}

func (t teller) nearCounty(n *gazette.CountyView) nearRow {
	r := t.nearRow(n.Summary, n.WithFinds, n.Shown, n.Share)
	r.Name, r.Slug = t.county(n), n.Slug
	if n.HasFall {
		r.Fall = t.fallShort(n.Fall)
	}
	return r
}

func (t teller) nearRow(s gazette.Summary, found, shown int, share gazette.Share) nearRow {
	r := nearRow{Chip: t.chip(s.Level), Level: t.say("county.near.blank"), HasFigures: s.HasFigures()}
	if !r.HasFigures {
		return r
	}
	r.Level, r.Bags = t.level(s.Level), t.lang.Number(s.Samples)
	r.Found = t.say("county.near.found", "found", found, "shown", shown)
	if share.Judged > 0 {
		of, low, high := share.PerHundred()
		r.Share = t.say("county.levels.share", "share", of, "low", low, "high", high)
	}
	return r
}

func (t teller) fallShort(f gazette.Fall) string {
	switch {
	case f.Finds == 0:
		return t.say("county.near.fall.none", "bags", f.Samples)
	case f.SevenOrFewer():
		return t.say("county.near.fall.few", "bags", f.Samples)
	}
	return t.say("county.near.fall.found", "bags", f.Samples, "finds", f.Finds)
}

// difference is the range of a contrast in words; "" where there is none.
func (t teller) difference(c gazette.Contrast, ok bool) string {
	if !ok {
		return ""
	}
	low, high := c.PerHundred()
	switch c.Lean() {
	case gazette.More:
		return t.say("county.diff.more", "from", low, "to", high)
	case gazette.Fewer:
		return t.say("county.diff.fewer", "from", -high, "to", -low)
	}
	return t.say("county.diff.open", "low", -min(low, 0), "high", max(high, 0))
}

// orDash fills a cell that has nothing to say.
func orDash(p countyPage, s string) string {
	if s == "" {
		return p.Say("map.dash")
	}
	return s
}
