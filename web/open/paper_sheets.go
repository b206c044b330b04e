package open

import (
	"errors"
	"slices"
	"strings"

	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
	"sixmile/internal/talk"
)

// page is a county's page as the sheets take their sentences from it.
func (j printJob) page() (countyView, countyPage, error) {
	c, err := j.t.view(j.v, j.office, j.over)
	if err != nil {
		return c, countyPage{}, err
	}
	return c, j.t.countyPage(c), nil
}

// cautions are the usual ones, on every sheet.
func (t teller) cautions() []string {
	return []string{t.say("county.caution.field"), t.say("paper.caution.none"), t.say("county.caution.advice"),
		t.say("county.caution.soil"), t.say("county.caution.value")}
}

// mapOf names the edition under a sheet's title; before the first it says so.
func (t teller) mapOf() string {
	if !t.released() {
		return t.say("paper.unreleased")
	}
	e := t.edition()
	return t.say("paper.mapof", "month", t.lang.MonthYear(e.Released), "code", e.Code, "date", t.lang.Date(e.Cutoff))
}

func (j printJob) poster() ([]byte, error) {
	view, p, err := j.page()
	if err != nil {
		return nil, err
	}
	c, _, err := j.county(atlas.HighestLevel)
	if err != nil {
		return nil, err
	}
	t := j.t
	words := press.PosterWords{
		Title: p.Head, Subtitle: t.say("paper.poster.subtitle", "map", t.mapOf()), Facts: t.posterFacts(view),
		DoHead: t.say("county.winter.head"), Do: adviceLines(p.Winter, false),
		BagsHead: t.say("county.bags.head"), Bags: strings.Join(p.Bags, " "),
		Cautions: t.cautions(),
	}
	s, err := press.Poster(c, words)
	for errors.Is(err, press.ErrNoRoom) && len(words.Do) > 0 {
		words.Do = words.Do[:len(words.Do)-1] // cautions stay
		s, err = press.Poster(c, words)
	}
	if err != nil {
		return nil, err
	}
	return j.pdf(t.say("paper.file.poster"), s)
}

// posterFacts are the numbers to be seen from across the room: one number each,
// short enough to stand alone.
func (t teller) posterFacts(v countyView) []press.Fact {
	var out []press.Fact
	add := func(n int, key string, args ...any) {
		out = append(out, press.Fact{Number: t.lang.Number(n), Text: t.lang.Count("paper.fact."+key, n, args...)})
	}
	if v.Shown > 0 {
		add(v.WithFinds, "townships", "shown", v.Shown)
	}
	if v.HasShare {
		add(v.Share.Finds, "bags", "judged", v.Share.Judged)
	}
	if n := len(v.Highest().Townships); n > 0 {
		add(n, "highest", "level", t.level(v.Level))
	}
	if v.hasSince && len(v.since.FirstFinds) > 0 {
		add(len(v.since.FirstFinds), "first", "map", t.lang.MonthYear(v.since.Last.Released))
	}
	return out
}

// adviceLines are what to do, each with who says so where there is room.
func adviceLines(rows []adviceRow, sources bool) []string {
	out := make([]string, len(rows))
	for i, r := range rows {
		out[i] = r.Text
		if sources && r.Source != "" {
			out[i] += " (" + r.Source + ")"
		}
	}
	return out
}

// forHandout are the points that a handout's facts do not make in their own way.
const forHandout = "trend,rest,statewide,neighbors"

// handoutSides is how many sides a handout has: one sheet.
const handoutSides = 2

func (j printJob) handout() ([]byte, error) {
	view, p, err := j.page()
	if err != nil {
		return nil, err
	}
	c, _, err := j.county(atlas.HighestLevel)
	if err != nil {
		return nil, err
	}
	words := j.t.handoutWords(p, j.v)
	var points []string
	for _, x := range j.t.inWords(talk.Choose(talk.Points(j.t.facts(view)), forHandout)) {
		points = append(points, x.Text)
	}
	if len(points) > 0 { // after what to do and where bags are
		words.Back = slices.Insert(words.Back, 2, press.Section{Head: j.t.say("meeting.slide.say"), List: points})
	}
	sides, err := handoutOf(c, words)
	if err == nil && len(sides) > handoutSides {
		// The table is what can be had elsewhere; what to do and what to mind is not.
		last := len(words.Back) - 1
		words.Back = append(words.Back[:last:last], press.Section{Paras: []string{j.t.say("paper.handout.elsewhere", "county", p.Name)}})
		sides, err = handoutOf(c, words)
	}
	if err != nil {
		return nil, err
	}
	return j.pdf(j.t.say("paper.file.handout"), sides...)
}

// handoutOf composes a handout. Facts that the front has no room for, where names
// are long, go to the end of the back.
func handoutOf(c atlas.County, words press.HandoutWords) ([]atlas.Scene, error) {
	back := words.Back
	for at := len(words.Facts); ; at-- {
		w := words
		w.Facts = words.Facts[:at]
		if at < len(words.Facts) {
			w.Back = append(back[:len(back):len(back)], press.Section{List: words.Facts[at:]})
		}
		sides, err := press.Handout(c, w)
		if !errors.Is(err, press.ErrNoRoom) || at == 0 {
			return sides, err
		}
	}
}

func (t teller) handoutWords(p countyPage, v *gazette.CountyView) press.HandoutWords {
	w := press.HandoutWords{
		Title: p.Head, Subtitle: t.mapOf(), Lead: strings.Join(p.Short, " "),
		Cautions: t.cautions(), Foot: t.say("paper.foot", "program", t.about.Name, "map", t.mapOf()),
		Back: []press.Section{
			{Head: t.say("county.winter.head"), List: adviceLines(p.Winter, true), Paras: []string{t.say("paper.noadvice")}},
			{Head: t.say("county.bags.head"), Paras: []string{strings.Join(p.Bags, " ")}},
			{Head: t.say("map.how.head"), List: t.howBriefly(v)},
			{Head: t.say("county.table.head"), Paras: []string{t.say("paper.table.rows")}, Table: t.placesOnPaper(p)},
		},
	}
	if p.Blank != "" {
		w.Lead = p.Blank
	}
	add := func(lines ...string) {
		for _, s := range lines {
			if s != "" {
				w.Facts = append(w.Facts, s)
			}
		}
	}
	add(strings.Join(p.Fall, " "), p.Highest, p.Typical, p.Part)
	add(p.First...)
	add(p.Recalled)
	add(p.Years...)
	add(p.Share)
	add(p.Trust...)
	return w
}

// howBriefly explains the map where facts and cautions say the rest.
func (t teller) howBriefly(v *gazette.CountyView) []string {
	out := []string{t.say("map.how.lines"), t.say("map.how.highest"), t.say("map.how.group", "k", t.number(t.edition().K)), t.say("map.how.blank")}
	if len(v.Joined) > 0 {
		out = append(out, t.say("county.how.joined"))
	}
	if v.Rest.HasFigures() {
		out = append(out, t.say("county.how.rest"))
	}
	if v.CoarseFinds > 0 {
		out = append(out, t.say("county.how.coarse"))
	}
	return append(out, t.say("map.how.volunteers"))
}

// placesOnPaper is the table that says what the map shows, without the places
// that have nothing to show.
func (t teller) placesOnPaper(p countyPage) press.Table {
	out := press.Table{Head: []string{t.say("county.col.township"), t.say("county.col.level"), t.say("county.col.bags"),
		t.say("county.col.finds"), t.say("county.col.unconfirmed"), t.say("county.col.years")}}
	for _, r := range append(p.Rows[:len(p.Rows):len(p.Rows)], p.Total) {
		name := r.Name
		if r.Code != "" {
			name = t.say("paper.row.name", "name", r.Name, "code", r.Code)
		}
		if r.HasFigures {
			out.Rows = append(out.Rows, []string{name, r.Level, r.Bags, r.Finds, r.Unconfirmed, r.Year})
		}
	}
	return out
}

func (j printJob) roots() ([]byte, error) {
	t := j.t
	cautions := []string{t.say("paper.roots.ask"), t.say("paper.roots.lines"), t.say("paper.roots.miss"), t.say("paper.roots.likeness"),
		t.say("county.caution.advice"), t.say("county.caution.soil"), t.say("paper.roots.source")}
	s, err := press.RootSheet(press.RootWords{
		Title: t.say("paper.roots.title"), Lead: t.say("paper.roots.lead"),
		Nodule: t.say("paper.roots.nodule"), Female: t.say("paper.roots.female"), Millimeter: t.say("paper.roots.mm"),
		Enlarged: t.say("paper.roots.enlarged"), LifeSize: t.say("paper.roots.lifesize"), StepsHead: t.say("paper.roots.steps"),
		Steps:        []string{t.say("paper.roots.when"), t.say("paper.roots.where"), t.say("paper.roots.dig"), t.say("paper.roots.wash"), t.say("paper.roots.look"), t.say("paper.roots.bag")},
		CautionsHead: t.say("paper.roots.mind"), Cautions: cautions,
	})
	if err != nil {
		return nil, err
	}
	return j.pdf(t.say("paper.file.roots"), s)
}

// forNewspaper are the points a paragraph in a newspaper has room for.
const forNewspaper = "nofigures,townships,share,highest,first,part,fall,statewide,missed,volunteers,rotate,bags"

// newspaper is the paragraph; it says where the figures are from and what they
// are not.
func (t teller) newspaper(v countyView) string {
	var lines []string
	for _, p := range t.inWords(talk.Choose(talk.Points(t.facts(v)), forNewspaper)) {
		lines = append(lines, p.Text)
	}
	return t.paper(v, lines)
}
