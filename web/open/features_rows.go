package open

import (
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/features"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// Kinds of collection.
const (
	countyKind   = "counties"
	townshipKind = "townships"
	joinedKind   = "joined"
)

var featureKinds = []string{townshipKind, countyKind, joinedKind}

// featureRow is a feature before its outline is known.
type featureRow struct {
	id     string
	places []place.ID // whose ground it is
	title  string
	fields features.Properties
}

// What a feature says of its figures.
const (
	showsFigures = "figures"    // of its own
	showsJoined  = "joined"     // only together with others
	showsRecall  = "taken back" // they were wrong, and are not out again
	showsNothing = "none"       // never sampled, or too few to show
)

// featureRows are the features of a kind in their order: counties by name,
// townships by county and code.
func (t teller) featureRows(kind string) (out []featureRow) {
	for _, v := range t.x.State().Counties {
		switch kind {
		case countyKind:
			out = append(out, t.countyFeature(v))
		case townshipKind:
			for i := range v.Areas {
				out = append(out, t.townshipFeature(v, &v.Areas[i]))
			}
		case joinedKind:
			for i := range v.Joined {
				out = append(out, t.joinedFeature(v, i))
			}
		}
	}
	return out
}

func (t teller) countyFeature(v *gazette.CountyView) featureRow {
	shows := showsNothing
	if v.HasFigures() {
		shows = showsFigures
	}
	f := t.featureFields(v.Code, v.Name, v, shows, v.Summary)
	f = append(f, features.Property{Name: "townships_with_figures", Value: v.Shown}, features.Property{Name: "townships_with_finds", Value: v.WithFinds})
	fall := features.Properties{{Name: "fall", Value: nil}, {Name: "fall_samples_about", Value: nil}, {Name: "fall_finds_about", Value: nil}}
	if v.HasFall {
		fall = features.Properties{{Name: "fall", Value: v.Fall.Season}, {Name: "fall_samples_about", Value: v.Fall.Samples}, {Name: "fall_finds_about", Value: v.Fall.Finds}}
	}
	return featureRow{strconv.Itoa(int(v.ID)), []place.ID{v.ID}, t.county(v), append(f, fall...)}
}

func (t teller) townshipFeature(v *gazette.CountyView, a *gazette.TownshipView) featureRow {
	shows := showsNothing
	switch {
	case a.HasFigures():
		shows = showsFigures
	case len(a.Joined) > 0:
		shows = showsJoined
	case a.Recalled():
		shows = showsRecall
	}
	f := t.featureFields(a.Code, a.Name, v, shows, a.Summary)
	var joined any
	if len(a.Joined) > 0 {
		var ids []string
		for _, i := range a.Joined {
			ids = append(ids, joinedFeatureID(v, i))
		}
		joined = strings.Join(ids, " ")
	}
	f = append(f, features.Property{Name: "joined", Value: joined})
	return featureRow{strconv.Itoa(int(a.ID)), []place.ID{a.ID}, a.Label(), f}
}

func joinedFeatureID(v *gazette.CountyView, i int) string {
	return strconv.Itoa(int(v.ID)) + "-" + strconv.Itoa(i+1)
}

func (t teller) joinedFeature(v *gazette.CountyView, i int) featureRow {
	j := &v.Joined[i]
	var ids []place.ID
	var codes []string
	for _, m := range j.Members {
		ids, codes = append(ids, m.ID), append(codes, m.Code)
	}
	title := t.say("county.row.joined", "number", i+1)
	f := t.featureFields(strconv.Itoa(i+1), title, v, showsFigures, j.Summary)
	f = append(f, features.Property{Name: "townships", Value: strings.Join(codes, ", ")})
	return featureRow{joinedFeatureID(v, i), ids, title, f}
}

// featureFields are the fields that every feature has. Where there are no
// figures they are null: nothing is not zero.
func (t teller) featureFields(code, name string, v *gazette.CountyView, shows string, s gazette.Summary) features.Properties {
	e := t.edition()
	f := features.Properties{
		{Name: "code", Value: code}, {Name: "name", Value: name}, {Name: "county", Value: v.Name}, {Name: "county_code", Value: v.Code},
		{Name: "edition", Value: e.Code}, {Name: "shown", Value: shows},
	}
	figures := features.Properties{{Name: "level", Value: nil}, {Name: "level_rank", Value: nil}, {Name: "level_at_least", Value: nil}, {Name: "samples", Value: nil},
		{Name: "none_found", Value: nil}, {Name: "unconfirmed", Value: nil}, {Name: "found", Value: nil}, {Name: "found_level_not_shown", Value: nil}}
	has := s.HasFigures()
	if has {
		class, _ := s.Level.Class(t.x.Issue.Scheme)
		for i, value := range []any{class.Name, s.Level.Rank, !s.Level.Exact, s.Samples, s.None, s.Unconfirmed, s.Finds, s.CoarseFinds} {
			figures[i].Value = value
		}
	}
	f = append(f, figures...)
	for i, c := range t.x.Issue.Scheme.Classes {
		p := features.Property{Name: "level_" + strconv.Itoa(i) + "_" + c.Name}
		if has {
			p.Value = atLevel(s, i, c.Kind)
		}
		f = append(f, p)
	}
	var falls any
	if has {
		falls = "up to " + strconv.Itoa(s.Window.Through)
		if s.Window.Only {
			falls = strconv.Itoa(s.Window.Through) + " only"
		}
	}
	return append(f, features.Property{Name: "falls", Value: falls})
}

// atLevel is how many bags are at a level. Those with no eggs, and unconfirmed ones,
// are told of small groups too: with found_level_not_shown the levels add up.
func atLevel(s gazette.Summary, rank int, kind assay.Kind) int {
	switch kind {
	case assay.None:
		return s.None
	case assay.Unconfirmed:
		return s.Unconfirmed
	}
	return s.Counts[rank]
}

// featureFilters are the fields that can be asked for by equality.
var featureFilters = []string{"code", "name", "county", "county_code", "level", "shown"}

// filters describes them.
func (t teller) filters() (out []features.Filter) {
	var levels []string
	for _, c := range t.x.Issue.Scheme.Classes {
		levels = append(levels, c.Name)
	}
	values := map[string][]string{"level": levels, "shown": {showsFigures, showsJoined, showsRecall, showsNothing}}
	for _, name := range featureFilters {
		out = append(out, features.Filter{Name: name, Description: t.lang.SayOf("features.filter", name), Values: values[name]})
	}
	return out
}

// pickRows are the rows that a question asks for; met is which places meet its box,
// nil where it has none.
func pickRows(rows []featureRow, q features.Query, met map[place.ID]bool) []featureRow {
	return slices.DeleteFunc(slices.Clone(rows), func(r featureRow) bool {
		return !q.Holds(r.fields) || met != nil && !slices.ContainsFunc(r.places, func(id place.ID) bool { return met[id] })
	})
}

// short is the row's name without its code, which has a column of its own.
func (r featureRow) short() string {
	if name, _ := r.fields.Get("name").(string); name != "" {
		return name
	}
	return r.title
}
