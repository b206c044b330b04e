package parcel

import (
	"fmt"
	"strconv"
	"strings"

	"sixmile/internal/annual"
	"sixmile/internal/gazette"
	"sixmile/internal/geofile"
)

// words is what every file says of itself, in one place.
type words struct {
	Options
	x      *gazette.Index
	period annual.Period
	name   annual.Name
}

func newWords(o Options, x *gazette.Index, p annual.Period, name annual.Name) words {
	return words{o, x, p, name}
}

func (w words) say(key string, args ...any) string { return w.Lang.Say(key, args...) }

func (w words) edition() gazette.Edition { return w.x.Issue.Edition }

// year is the period in words.
func (w words) year() string {
	y := strconv.Itoa(w.period.Year)
	if w.period.Fiscal {
		return w.say("annual.period.fiscal", "year", y, "from", w.Lang.Date(w.period.From), "to", w.Lang.Date(w.period.To))
	}
	return w.say("annual.period.season", "year", y, "from", w.Lang.Date(w.period.From), "to", w.Lang.Date(w.period.To))
}

// shortYear is the period in a title.
func (w words) shortYear() string {
	y := strconv.Itoa(w.period.Year)
	if w.period.Fiscal {
		return w.say("annual.title.fiscal", "year", y)
	}
	return w.say("annual.title.season", "year", y)
}

func (w words) title() string {
	return w.say("annual.title", "state", w.Program.State, "year", w.shortYear())
}

// standing says whether figures of the period may still come. The public's copy
// goes by the edition: it must be the same bytes whenever it is made.
func (w words) standing() string {
	on := w.edition().Cutoff
	if w.name != annual.PublicName && !w.AsOf.IsZero() {
		on = w.AsOf
	}
	if w.period.Open(on) {
		return w.say("annual.open", "date", w.Lang.Date(on), "to", w.Lang.Date(w.period.To))
	}
	return w.say("annual.closed", "date", w.Lang.Date(on), "to", w.Lang.Date(w.period.To))
}

// band is what stands over every page and worksheet; "" in the public's copy.
func (w words) band() string {
	if w.name == annual.PublicName {
		return ""
	}
	return w.Lang.SayOf("annual.band", string(w.name))
}

// foot is at the end of every page.
func (w words) foot() string {
	e := w.edition()
	return w.say("annual.foot", "program", w.Program.Name, "code", e.Code, "date", w.Lang.Date(e.Released), "k", e.K)
}

// notIn is what no copy of the kind holds.
func (w words) notIn() []string {
	k := w.edition().K
	out := []string{w.say("annual.not.results"), w.say("annual.not.few", "k", k), w.say("annual.not.people")}
	switch w.name {
	case annual.PublicName:
		out = append(out, w.say("annual.not.waiting"), w.say("annual.not.money"))
	case annual.SponsorName:
		out = append(out, w.say("annual.not.waiting"), w.say("annual.not.exact"))
	default:
		out = []string{w.say("annual.not.results"), w.say("annual.not.people")}
	}
	return out
}

func (w words) citation() string {
	e := w.edition()
	out := w.say("annual.citation", "program", w.Program.Name, "year", strconv.Itoa(e.Released.Year()), "title", w.title(),
		"month", w.Lang.MonthYear(e.Released), "code", e.Code, "k", e.K)
	if w.name != annual.PublicName {
		out += " " + w.band() + "."
	}
	return out
}

// short is one sentence that says what a file is of.
func (w words) short() string {
	e := w.edition()
	return w.say("annual.short", "code", e.Code, "date", w.Lang.Date(e.Released), "k", e.K)
}

// lines say what the summary is, for people: the read-me and the first worksheet.
func (w words) lines() []string {
	e := w.edition()
	var out []string
	if w.Program.Invented {
		out = append(out, w.say("paper.invented", "state", w.Program.State))
	}
	out = append(out,
		w.Lang.SayOf("annual.what", string(w.name)),
		w.say("annual.made", "number", e.Number, "code", e.Code, "date", w.Lang.Date(e.Released), "cutoff", w.Lang.Date(e.Cutoff), "k", e.K),
		w.year(), w.standing())
	if w.name == annual.OfficeName {
		out = append(out, w.say("annual.records"))
	}
	out = append(out, w.say("annual.not.head"))
	for _, n := range w.notIn() {
		out = append(out, "– "+n)
	}
	return append(out, w.say("annual.volunteers"), w.say("county.caution.advice"), w.say("annual.levels", "source", w.x.Issue.Scheme.Source),
		w.say("annual.cite", "citation", w.citation()))
}

func (w words) readMe() string {
	var b strings.Builder
	if band := w.band(); band != "" {
		fmt.Fprintf(&b, "*** %s ***\n\n", band)
	}
	b.WriteString(w.title() + "\n\n")
	for _, l := range w.lines() {
		b.WriteString(l + "\n")
	}
	b.WriteString("\n" + w.say("annual.files") + "\n")
	return b.String()
}

// facts are the same for programs that read maps.
func (w words) facts() []geofile.Fact {
	e := w.edition()
	out := []geofile.Fact{
		{Name: "title", Text: w.title()}, {Name: "copy", Text: string(w.name)}, {Name: "edition", Text: e.Code},
		{Name: "released", Text: e.Released.Format("2006-01-02")}, {Name: "received_by", Text: e.Cutoff.Format("2006-01-02")},
		{Name: "k", Text: strconv.Itoa(e.K)}, {Name: "not_in_it", Text: strings.Join(w.notIn(), "; ")},
		{Name: "levels", Text: w.x.Issue.Scheme.Source}, {Name: "citation", Text: w.citation()},
	}
	if w.Program.Invented {
		out = append(out, geofile.Fact{Name: "invented", Text: w.say("paper.invented", "state", w.Program.State)})
	}
	if band := w.band(); band != "" {
		out = append(out, geofile.Fact{Name: "release", Text: band})
	}
	return out
}

// percent is a share in whole hundredths.
func (w words) percent(n int) string { return w.say("paper.percent", "n", n) }

func (w words) county(v *gazette.CountyView) string { return w.say("county.name", "name", v.Name) }
