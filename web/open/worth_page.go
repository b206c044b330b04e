package open

import (
	"fmt"
	"math"
	"net/http"

	"sixmile/internal/atlas"
	"sixmile/internal/edge"
	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

// worthPage is what "none found" is worth in a county, township by township.
type worthPage struct {
	shell.Page
	Head, Slug   string
	EditionLine  string
	Lede         string
	Wide, Narrow string
	Short        []string
	Caption      string
	Rows         []worthRow
	HasChance    bool // the last column is there
	Edge         []string
	How          []string
}

// worthRow is a place's line of the table. The figures are "" where it has none.
type worthRow struct {
	ID, Name string
	Chip     chip
	Standing string
	Clean    string // bags without eggs
	Missed   string
	Formula  string // by Cannon and Roe
	More     string
	Chance   string // of finds of the next bag, and its band
	Leans    bool   // nothing but neighbors behind it
}

func (m *maps) worth(w http.ResponseWriter, r *http.Request) error {
	now, t, v, err := m.find(r)
	if err != nil {
		return err
	}
	s, err := m.shelf.sheet(now, "worth "+v.Slug, func() (*sheet, error) {
		e, err := t.x.Edge()
		if err != nil {
			return nil, err
		}
		p := t.worthPage(v, e)
		c, _, err := t.paperCounty(v, atlas.Standings)
		if err != nil {
			return nil, err
		}
		p.Wide, p.Narrow, err = t.both(func(d drawing) atlas.Scene {
			for i := range c.Areas {
				c.Areas[i].Href = d.link("#" + townshipID(v.Areas[i].Slug))
			}
			c.Untitled = d.onPage()
			return atlas.ComposeCounty(c, d.paper)
		})
		if err != nil {
			return nil, err
		}
		return page(now.issue.Edition, worthTempl(p))
	})
	if err != nil {
		return err
	}
	m.send(w, r, now, s)
	return nil
}

func (t teller) worthPage(v *gazette.CountyView, e *gazette.EdgeView) worthPage {
	name := t.county(v)
	p := worthPage{
		Page: shell.Page{Lang: t.lang, About: t.about, Title: t.say("worth.title", "county", name), Area: "map", Wide: true,
			Address: "/county/" + v.Slug + "/worth"},
		Head: t.say("worth.title", "county", name), Slug: v.Slug, EditionLine: t.editionLine(),
		Lede:    t.say("worth.lede", "percent", percentOf(e.Options.Prevalence)),
		Caption: t.say("worth.caption", "county", name), HasChance: e.Surface != nil,
		How: t.worthHow(e), Edge: t.edgeSays(e, v.Outline),
	}
	counts := map[edge.Standing]int{}
	near := 0
	for i := range v.Areas {
		a := &v.Areas[i]
		stand := e.Stands[a.ID]
		counts[stand.Standing]++
		if stand.NextToFind {
			near++
		}
		row := t.worthRow(townshipID(a.Slug), a.Label(), stand, a.Summary)
		if a.Recalled() {
			row.Chip, row.Standing = chipOf(a.Mark), t.say("legend.recalled")
		}
		if !a.HasFigures() && len(a.Joined) > 0 {
			row.Standing = t.say("worth.joined", "number", a.Joined[0]+1)
		}
		if c, known := e.Chances[a.ID]; known {
			row.Chance, row.Leans = t.chance(c), !c.Looked
		}
		p.Rows = append(p.Rows, row)
	}
	for i := range v.Joined {
		j := &v.Joined[i]
		p.Rows = append(p.Rows, t.worthRow(joinedID(i), t.say("county.row.joined", "number", i+1), e.Joined(v, i), j.Summary))
	}
	for _, s := range edge.Standings() {
		if counts[s] > 0 {
			p.Short = append(p.Short, t.lang.Count("worth.short."+s.String(), counts[s]))
		}
	}
	if near > 0 {
		p.Short = append(p.Short, t.lang.Count("worth.short.near", near))
	}
	return p
}

func (t teller) worthRow(id, name string, s edge.Stand, sum gazette.Summary) worthRow {
	f := standing(s, sum)
	row := worthRow{ID: id, Name: name, Chip: chipOf(f.mark), Standing: t.standingName(s)}
	if s.Standing == edge.Found || !sum.HasFigures() {
		return row
	}
	w := s.Worth
	row.Clean, row.Missed, row.Formula = t.lang.Number(w.Bags), t.missed(w.Exact), t.missed(w.CannonRoe)
	switch {
	case !w.Enough:
		row.More = t.say("worth.more.never")
	case w.More == 0:
		row.More = t.say("worth.more.none")
	default:
		row.More = t.lang.Number(w.More)
	}
	return row
}

// chance is a chance and its band in hundredths, rounded outward.
func (t teller) chance(c edge.Chance) string {
	return t.say("worth.chance", "n", percentOf(c.Mean), "low", int(math.Floor(100*c.Band.Low)), "high", int(math.Ceil(100*c.Band.High)))
}

func percentOf(p float64) int { return int(math.Round(100 * p)) }

// edgeSays tells what the lines on the map are, of what lies in the shape.
func (t teller) edgeSays(e *gazette.EdgeView, of atlas.Shape) []string {
	if e.Surface == nil {
		return []string{t.say("worth.edge.little")}
	}
	percent := percentOf(e.Level)
	if !e.Known() {
		return []string{t.say("worth.edge.none")}
	}
	if in := e.Within(of); len(in.Middle) == 0 && len(in.Limits) == 0 {
		return []string{t.say("worth.edge.elsewhere", "percent", percent)}
	}
	return []string{t.say("worth.edge.line", "percent", percent), t.say("worth.edge.band"), t.say("worth.edge.not")}
}

// worthHow says what the figures rest on.
func (t teller) worthHow(e *gazette.EdgeView) []string {
	o := e.Options
	out := []string{
		t.say("worth.how.question", "percent", percentOf(o.Prevalence)),
		t.say("worth.how.fields", "share", percentOf(o.HostShare), "acres", int(o.FieldAcres)),
		t.say("worth.how.bag", "percent", percentOf(o.Sensitivity), "eggs", int(edge.LowDensity)),
		t.say("worth.how.age", "percent", percentOf(1-o.Keep), "half", fmt.Sprint(int(math.Round(math.Log(0.5)/math.Log(o.Keep))))),
		t.say("worth.how.farm", "percent", percentOf(o.SameFarm), "bags", fmt.Sprint(o.BagsPerSender)),
		t.say("worth.how.law"),
	}
	if e.Surface != nil {
		out = append(out, t.say("worth.how.chance"), t.say("worth.how.volunteers"))
	}
	return append(out, t.say("worth.how.own"))
}
