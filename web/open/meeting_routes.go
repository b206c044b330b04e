package open

import (
	"fmt"
	"net/http"
	"strings"

	"sixmile/internal/talk"
	"sixmile/web/shell"
)

// chosen reads which points a reader wants: ?points=a,b or a box a point. "" is
// all of them.
func chosen(r *http.Request) string { return strings.Join(r.URL.Query()["points"], ",") }

// talkPage is the page on which sentences are chosen and copied.
type talkPage struct {
	shell.Page
	Name, Slug string
	Points     []talkChoice
	IDs        string // of those chosen, for addresses
	Text       string
	Paper      string
}

type talkChoice struct {
	point
	Chosen bool
}

func (m *maps) talk(w http.ResponseWriter, r *http.Request) error {
	now, t, v, err := m.find(r)
	if err != nil {
		return err
	}
	office, over := m.office(now, v)
	c, err := t.view(v, office, over)
	if err != nil {
		return err
	}
	s, err := m.shelf.inTurn(func() (*sheet, error) { return page(now.issue.Edition, talkTempl(t.talkPage(c, chosen(r)))) })
	if err != nil {
		return err
	}
	s.send(w, r)
	return nil
}

func (t teller) talkPage(v countyView, list string) talkPage {
	all := talk.Points(t.facts(v))
	some := talk.Choose(all, list)
	name := t.county(v.CountyView)
	p := talkPage{
		Page: shell.Page{Lang: t.lang, About: t.about, Title: t.say("meeting.talk.title", "county", name), Area: "map",
			Address: "/county/" + v.Slug + "/talk", Scripts: []string{"meeting.js"}},
		Name: name, Slug: v.Slug, IDs: talk.IDs(some),
	}
	in := make(map[string]bool, len(some))
	var lines []string
	for _, s := range t.inWords(some) {
		in[s.ID] = true
		lines = append(lines, s.Text)
	}
	for _, s := range t.inWords(all) {
		p.Points = append(p.Points, talkChoice{s, in[s.ID]})
	}
	if len(lines) > 0 {
		p.Text, p.Paper = strings.Join(lines, "\n"), t.paper(v, lines)
	}
	return p
}

// paper is a paragraph for the newspaper, made of the chosen sentences.
func (t teller) paper(v countyView, lines []string) string {
	if !t.released() {
		return strings.Join(lines, " ")
	}
	e := t.edition()
	return strings.Join([]string{
		t.say("meeting.paper.open", "county", t.county(v.CountyView), "month", t.lang.MonthYear(e.Released)),
		strings.Join(lines, " "),
		t.say("meeting.paper.close", "program", t.about.Name, "code", e.Code),
	}, " ")
}

// meeting answers with a county's meeting file.
func (m *maps) meeting(w http.ResponseWriter, r *http.Request) error {
	now, t, v, err := m.find(r)
	if err != nil {
		return err
	}
	office, over := m.office(now, v)
	render := func() (*sheet, error) {
		c, err := t.view(v, office, over)
		if err != nil {
			return nil, err
		}
		f, err := t.meetingFile(c, chosen(r))
		if err != nil {
			return nil, err
		}
		return page(now.issue.Edition, meetingTempl(f))
	}
	var s *sheet
	if chosen(r) == "" {
		s, err = m.shelf.sheet(now, fmt.Sprintf("meeting %s %t", v.Slug, over), render)
	} else {
		s, err = m.shelf.inTurn(render) // there are too many choices to keep
	}
	if err != nil {
		return err
	}
	name := v.Slug + "-" + t.season() + ".html"
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	w.Header().Set("Content-Security-Policy", meetingPolicy+"; frame-ancestors 'none'; sandbox allow-scripts")
	if chosen(r) == "" {
		m.send(w, r, now, s)
		return nil
	}
	s.send(w, r)
	return nil
}
