package annual

import (
	"math"
	"strconv"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// townships is a row a township, those without figures too.
func (w writer) townships() Table {
	t := w.table("townships")
	t.Columns = append(t.Columns, w.column("edition", Text), w.column("county_code", Text), w.column("county", Text),
		w.column("township_code", Text), w.column("township", Text), w.column("shown", Text), w.column("group", Text))
	t.Columns = append(t.Columns, w.bagColumns()...)
	t.Columns = append(t.Columns, w.column("highest_level", Text), w.column("mark", Text), w.column("falls", Text))
	for _, v := range w.x.State().Counties {
		for i := range v.Areas {
			t.Places = append(t.Places, v.Areas[i].ID)
		}
	}
	t.Drawn, t.Total = place.Township, true
	t.Each = func(see func([]any) error) error {
		for _, v := range w.x.State().Counties {
			for i := range v.Areas {
				if err := see(w.township(v, &v.Areas[i])); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return t
}

func (w writer) township(v *gazette.CountyView, a *gazette.TownshipView) []any {
	shown := "no-figures"
	switch {
	case a.HasFigures():
		shown = "own"
	case len(a.Joined) > 0:
		shown = "joined"
	case a.Mark.Standing == atlas.Recalled:
		shown = "taken-back"
	}
	var groups []string
	for _, i := range a.Joined {
		groups = append(groups, strconv.Itoa(i+1))
	}
	row := []any{w.code(), v.Code, v.Name, a.Code, a.Name, w.lang.SayOf("annual.shown", shown), strings.Join(groups, ", ")}
	row = append(row, w.bags(a.Figures)...)
	return append(row, w.level(a.Level), a.Mark.String(), w.falls(a.Window))
}

// groups is what several townships have together: with the townships they add up
// to the counties.
func (w writer) groups() Table {
	t := w.table("groups")
	t.Columns = append(t.Columns, w.column("edition", Text), w.column("county_code", Text), w.column("county", Text),
		w.column("group", Text), w.column("members", Whole), w.column("member_codes", Text))
	t.Columns = append(t.Columns, w.bagColumns()...)
	t.Columns = append(t.Columns, w.column("highest_level", Text), w.column("falls", Text))
	t.Total = true
	t.Each = func(see func([]any) error) error {
		for _, v := range w.x.State().Counties {
			for i := range v.Joined {
				j := &v.Joined[i]
				codes := make([]string, len(j.Members))
				for k, m := range j.Members {
					codes[k] = m.Code
				}
				row := append(w.group(v, strconv.Itoa(i+1), len(codes), strings.Join(codes, "; ")), w.bags(j.Figures)...)
				if err := see(append(row, w.level(j.Level), w.falls(j.Window))); err != nil {
					return err
				}
			}
			if !v.Rest.HasFigures() {
				continue
			}
			row := append(w.group(v, w.lang.Say("annual.rest"), nil, ""), w.bags(v.Rest.Figures)...)
			if err := see(append(row, w.level(v.Rest.Level), w.falls(v.Rest.Window))); err != nil {
				return err
			}
		}
		return nil
	}
	return t
}

func (w writer) group(v *gazette.CountyView, name string, members any, codes string) []any {
	return []any{w.code(), v.Code, v.Name, name, members, codes}
}

// added sums up, by county, the tranches that were new in the period.
func (w writer) added() (map[place.ID]edition.Figures, error) {
	in := make(map[int]bool)
	for _, e := range w.x.Editions() {
		in[e.Number] = w.period.Adds(e)
	}
	byCounty := make(map[place.ID][]edition.Tranche)
	for _, t := range w.x.Issue.Tranches {
		if in[t.Edition] {
			byCounty[t.County] = append(byCounty[t.County], t)
		}
	}
	out := make(map[place.ID]edition.Figures, len(byCounty))
	for id, tranches := range byCounty {
		f, err := edition.Sum(w.x.Issue.Ranks(), tranches...)
		if err != nil {
			return nil, err
		}
		out[id] = f
	}
	return out, nil
}

// rounds is what each edition added to each county.
func (w writer) rounds() Table {
	t := w.table("added")
	t.Columns = append(t.Columns, w.column("edition", Text), w.column("added_by", Text), w.column("released", Day),
		w.column("season", Year), w.column("county_code", Text), w.column("county", Text))
	t.Columns = append(t.Columns, w.bagColumns()...)
	t.Total = true
	t.Each = func(see func([]any) error) error {
		for _, v := range w.x.State().Counties {
			rounds, err := w.x.Rounds(v)
			if err != nil {
				return err
			}
			for _, r := range rounds {
				row := []any{w.code(), r.Edition.Code, r.Edition.Released, r.Edition.Season, v.Code, v.Name}
				if err := see(append(row, w.bags(r.Figures)...)); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return t
}

// editions lists those that stand.
func (w writer) editions() Table {
	t := w.table("editions")
	t.Columns = []Column{w.column("edition", Text), w.column("number", Year), w.column("kind", Text), w.column("season", Year),
		w.column("cutoff", Day), w.column("released", Day), w.column("k", Year), w.column("in_period", Text)}
	var rows [][]any
	for _, e := range w.x.Editions() {
		in := w.lang.Say("annual.no")
		if w.period.Adds(e) {
			in = w.lang.Say("annual.yes")
		}
		rows = append(rows, []any{e.Code, e.Number, w.lang.SayOf("annual.kind", string(e.Kind)), e.Season, e.Cutoff, e.Released, e.K, in})
	}
	t.Each = fixed(rows)
	return t
}

// levels is the level table that everything was counted by.
func (w writer) levels() Table {
	t := w.table("levels")
	t.Columns = []Column{w.column("edition", Text), w.column("rank", Year), w.column("level", Text), w.column("meaning", Text),
		w.column("upper", Measure), w.column("table", Text), w.column("source", Text)}
	s := w.scheme()
	var rows [][]any
	for _, c := range s.Classes {
		var upper any
		meaning := w.lang.SayOf("annual.meaning", c.Kind.String())
		if c.Kind == assay.Found {
			meaning = Span(w.lang, s, c)
			if !math.IsInf(float64(c.Upper), 0) {
				upper = float64(c.Upper)
			}
		}
		rows = append(rows, []any{w.code(), c.Rank, LevelName(w.lang, c), meaning, upper, s.Title, s.Source})
	}
	t.Each = fixed(rows)
	return t
}

// methods lists the lab's recipes, and what "none found" is worth by each.
func (w writer) methods() Table {
	t := w.table("methods")
	t.Columns = []Column{w.column("edition", Text), w.column("method", Text), w.column("version", Year), w.column("soil_cm3", Measure),
		w.column("suspension_ml", Measure), w.column("aliquot_ml", Measure), w.column("recovery", Measure), w.column("missed", Whole)}
	var rows [][]any
	for _, m := range w.x.Issue.Methods {
		var missed any
		if d := m.MissedOneInTwenty(); d > 0 {
			missed = gazette.Rounded(d)
		}
		rows = append(rows, []any{w.code(), m.Name, m.Version, m.SoilCM3, m.SuspensionML, m.AliquotML, m.Recovery, missed})
	}
	t.Each = fixed(rows)
	return t
}
