package open

import (
	"cmp"
	"slices"
	"strconv"

	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// placeRow is a line of the table.
type placeRow struct {
	ID         string
	Name       string
	Code       string // a township's, where its name is another
	Note       string
	HasFigures bool
	Chip       chip
	Level      string
	// See leads from a township without figures of its own to those it shares.
	See, SeeID                     string
	Bags, Finds, Unconfirmed, Year string

	of gazette.Summary // what it says, for sorting
}

// by is what a row has in a column.
func (r placeRow) by(c shell.Column) (n int, has bool) {
	switch c {
	case byLevel:
		n = r.of.Level.Rank
	case byBags:
		n = r.of.Samples
	case byFinds:
		n = r.of.Finds
	case byUnconfirmed:
		n = r.of.Unconfirmed
	case byFall:
		n = r.of.Window.Through
	}
	return n, r.HasFigures
}

func townshipID(slug string) string { return "t-" + slug }

func joinedID(i int) string { return "joined-" + strconv.Itoa(i+1) }

// rows are the townships by name, the joined ones and the rest of the county.
func (t teller) rows(v *gazette.CountyView) []placeRow {
	var out []placeRow
	name := shortNames(v)
	for i := range v.Areas {
		a := &v.Areas[i]
		r := t.figures(a.Code, a.Summary)
		r.ID = townshipID(a.Slug)
		if a.Label() != a.Code {
			r.Name, r.Code = a.Name, a.Code
		}
		if !a.HasFigures() && len(a.Joined) > 0 {
			r.See, r.SeeID = t.say("county.row.see", "number", a.Joined[0]+1), joinedID(a.Joined[0])
		}
		if a.Recalled() {
			r.Level, r.Chip = t.say("county.row.recalled"), chipOf(a.Mark)
		}
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b placeRow) int { return cmp.Or(natural(a.Name, b.Name), natural(a.Code, b.Code)) })
	for i := range v.Joined {
		r := t.figures(t.say("county.row.joined", "number", i+1), v.Joined[i].Summary)
		r.ID = joinedID(i)
		names := make([]string, len(v.Joined[i].Members))
		for k, m := range v.Joined[i].Members {
			names[k] = name[m.ID]
		}
		r.Note = t.say("county.row.members", "places", t.list(names, len(names)))
		out = append(out, r)
	}
	if v.Rest.HasFigures() {
		r := t.figures(t.say("county.row.rest"), v.Rest)
		r.ID, r.Note = "rest", t.say("county.row.rest.note")
		out = append(out, r)
	}
	return out
}

// shortNames calls townships by their names alone; those of one county that
// have the same name keep their codes.
func shortNames(v *gazette.CountyView) map[place.ID]string {
	seen := make(map[string]int, len(v.Areas))
	for i := range v.Areas {
		seen[v.Areas[i].Name]++
	}
	out := make(map[place.ID]string, len(v.Areas))
	for i := range v.Areas {
		a := &v.Areas[i]
		out[a.ID] = a.Label()
		if a.Name != "" && seen[a.Name] == 1 {
			out[a.ID] = a.Name
		}
	}
	return out
}

func (t teller) figures(name string, s gazette.Summary) placeRow {
	if !s.HasFigures() {
		return placeRow{Name: name, Level: t.say("county.row.blank"), Chip: t.chip(s.Level)}
	}
	year, key := strconv.Itoa(s.Window.Through), "upto"
	if s.Window.Only {
		key = "only"
	}
	return placeRow{
		Name: name, HasFigures: true, Chip: t.chip(s.Level), Level: t.level(s.Level),
		Bags: t.lang.Number(s.Samples), Finds: t.lang.Number(s.Finds), Unconfirmed: t.lang.Number(s.Unconfirmed),
		Year: t.lang.SayOf("county.years", key, "year", year),
		of:   s,
	}
}
