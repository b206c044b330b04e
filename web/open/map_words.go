package open

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/gazette"
)

// teller says in words what an edition shows.
type teller struct {
	lang  *catalog.Lang
	about desk.About
	x     *gazette.Index
}

func (t teller) say(key string, args ...any) string { return t.lang.Say(key, args...) }

func (t teller) edition() gazette.Edition { return t.x.Issue.Edition }

// released tells whether there is an edition yet.
func (t teller) released() bool { return t.edition().Number > 0 }

// number is a small number as a word.
func (t teller) number(n int) string {
	if word := strconv.Itoa(n); t.lang.Has("map.number." + word) {
		return t.lang.SayOf("map.number", word)
	}
	return t.lang.Number(n)
}

// className is what people call a class. A class of the office's own table has
// no sentence, and its key is readable.
func (t teller) className(c assay.Class) string {
	if t.lang.Has("level." + c.Name) {
		return t.lang.SayOf("level", c.Name)
	}
	return strings.ReplaceAll(c.Name, "_", " ")
}

// level is a level in words; "no figures" where there are none.
func (t teller) level(l gazette.Level) string {
	c, known := l.Class(t.x.Issue.Scheme)
	switch {
	case !known:
		return t.say("legend.blank")
	case !l.Exact:
		return t.say("legend.atleast", "level", t.className(c))
	}
	return t.className(c)
}

// span is the densities of the i-th found class in whole eggs, as such tables
// are printed: cut points belong to the class below them.
func (t teller) span(found []assay.Class, i int) string {
	upper, open := found[i].Upper, math.IsInf(float64(found[i].Upper), 1)
	whole := func(d assay.Density) int { return int(math.Floor(float64(d))) }
	switch {
	case i == 0 && open:
		return t.say("legend.any")
	case i == 0:
		return t.say("legend.upto", "to", whole(upper))
	case open:
		return t.say("legend.over", "from", whole(found[i-1].Upper))
	}
	return t.say("legend.between", "from", whole(found[i-1].Upper)+1, "to", whole(upper))
}

// words are the sentences of a map.
func (t teller) words(head, desc string) atlas.Words {
	s := t.x.Issue.Scheme
	w := atlas.Words{
		LegendHead: head, Desc: desc, River: t.say("legend.river"), Road: t.say("legend.road"), Ridge: t.say("legend.ridge"), Town: t.say("legend.town"),
		Edge: t.say("worth.legend.edge"), EdgeBand: t.say("worth.legend.band"),
		Miles: t.say("legend.miles"), Kilometers: t.say("legend.kilometers"), North: t.say("legend.north"),
	}
	found := s.Found()
	for _, c := range s.Classes {
		row := atlas.LegendRow{Mark: gazette.MarkOf(s, c), Name: t.className(c)}
		switch c.Kind {
		case assay.None:
			row.Note = t.say("legend.none.note")
		case assay.Unconfirmed:
			row.Note = t.say("legend.unconfirmed.note")
		default:
			row.Note = t.span(found, row.Mark.Lines-1)
		}
		w.Legend = append(w.Legend, row)
	}
	w.Legend = append(w.Legend,
		atlas.LegendRow{Name: t.say("legend.blank"), Note: t.say("legend.blank.note")},
		atlas.LegendRow{Mark: atlas.Mark{Standing: atlas.Found, Lines: 1, Of: len(found)}, Joined: true,
			Name: t.say("legend.joined"), Note: t.say("legend.joined.note")},
		atlas.LegendRow{Mark: atlas.Mark{Standing: atlas.Recalled}, Name: t.say("legend.recalled"), Note: t.say("legend.recalled.note")})
	return w
}

// imprint is what every map says of itself.
func (t teller) imprint(title, subtitle string, sum gazette.Summary, w atlas.Words) atlas.Imprint {
	e := t.edition()
	im := atlas.Imprint{Title: title, Subtitle: subtitle, Words: w,
		Totals: t.say("map.totals.none"), Source: t.say("map.source", "source", t.x.Issue.Scheme.Source)}
	if sum.HasFigures() {
		im.Totals = t.lang.Count("map.totals", sum.Samples, "year", strconv.Itoa(sum.Window.Through))
	}
	if t.released() {
		im.Edition = t.say("map.edition", "month", t.lang.MonthYear(e.Released), "code", e.Code)
		im.Date = t.say("map.cutoff", "date", t.lang.Date(e.Cutoff))
	}
	return im
}

// editionLine names the edition at the top of a page; "" before the first.
func (t teller) editionLine() string {
	e := t.edition()
	if !t.released() {
		return ""
	}
	line := t.say("map.line.edition", "month", t.lang.MonthYear(e.Released), "code", e.Code, "date", t.lang.Date(e.Cutoff))
	if key := fmt.Sprintf("map.kind.%s", e.Kind); t.lang.Has(key) {
		line += " " + t.lang.SayOf("map.kind", string(e.Kind))
	}
	return line
}

// list joins names to a phrase: "A", "A and B", "A, B, and C". What goes beyond
// most is counted.
func (t teller) list(names []string, most int) string {
	if len(names) > most {
		more := t.lang.Count("map.list.others", len(names)-most)
		names = append(append([]string{}, names[:most]...), more)
	}
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	case 2:
		return t.say("map.list.two", "a", names[0], "b", names[1])
	}
	head := names[0]
	for _, n := range names[1 : len(names)-1] {
		head = t.say("map.list.comma", "a", head, "b", n)
	}
	return t.say("map.list.last", "a", head, "b", names[len(names)-1])
}
