package open

import (
	"bytes"
	"errors"
	"strings"

	"sixmile/internal/atlas"
	"sixmile/internal/press"
	"sixmile/internal/talk"
)

func (j printJob) slidesPDF() ([]byte, error) {
	s, err := j.slides()
	if err != nil {
		return nil, err
	}
	return j.pdf(j.t.say("paper.file.slides"), s...)
}

func (j printJob) slidesZip() ([]byte, error) {
	s, err := j.slides()
	if err != nil {
		return nil, err
	}
	return written(func(b *bytes.Buffer) error { return press.SlidesZip(b, s, j.c.theme, j.day()) })
}

// slidesDrawn are the slides to change: nothing kept writes the decks of an
// office program, but all of those programs take drawings in.
func (j printJob) slidesDrawn() ([]byte, error) {
	s, err := j.slides()
	if err != nil {
		return nil, err
	}
	return written(func(b *bytes.Buffer) error {
		return press.DrawingsZip(b, s, press.Options{Theme: j.c.theme, Lang: j.t.lang.Tag()}, j.day())
	})
}

// deck collects slides until one fails.
type deck struct {
	scenes []atlas.Scene
	err    error
}

func (d *deck) add(s atlas.Scene, err error) {
	if d.err == nil {
		d.err = err
		d.scenes = append(d.scenes, s)
	}
}

// mostLines is how many sentences a room reads on one slide.
const mostLines = 6

// text adds a slide of sentences, or as many as they need.
func (d *deck) text(head string, lines []string, note string) {
	if len(lines) == 0 || d.err != nil {
		return
	}
	if len(lines) <= mostLines {
		s, err := press.TextSlide(head, lines, note)
		if err == nil || !errors.Is(err, press.ErrNoRoom) || len(lines) == 1 {
			d.add(s, err)
			return
		}
	}
	half := (len(lines) + 1) / 2
	d.text(head, lines[:half], note)
	d.text(head, lines[half:], note)
}

// forSlides are the points that the slides before do not make.
const forSlides = "nofigures,share,trend,rest,statewide,neighbors,hidden,rotate,clean"

// slides composes the set: a title, the maps, and the sentences in the order an
// educator wants them.
func (j printJob) slides() ([]atlas.Scene, error) {
	view, p, err := j.page()
	if err != nil {
		return nil, err
	}
	t, d := j.t, &deck{}
	foot := t.say("paper.foot", "program", t.about.Name, "map", t.mapOf())
	if t.about.Invented {
		foot += " " + t.say("paper.invented", "state", t.about.State)
	}
	d.add(press.TitleSlide(p.Head, t.say("paper.slides.subtitle"), foot))
	for _, m := range j.measures(view) {
		c, _, err := j.county(m)
		if err != nil {
			return nil, err
		}
		d.add(atlas.ComposeCounty(c, atlas.Slide), nil)
	}
	short := p.Short
	if p.Blank != "" {
		short = []string{p.Blank}
	}
	d.text(t.say("county.short.head"), append(short[:len(short):len(short)], present(strings.Join(p.Fall, " "), p.Highest, p.Typical)...), "")
	d.text(t.say("county.where.head"), append(present(p.Part), p.First...), p.Recalled)
	if len(t.x.Editions()) > 1 {
		s, err := j.years(atlas.Slide)
		d.add(s, err)
	}
	d.text(t.say("county.trust.head"), p.Trust, t.say("map.how.volunteers"))
	var points []string
	for _, x := range t.inWords(talk.Choose(talk.Points(t.facts(view)), forSlides)) {
		points = append(points, x.Text)
	}
	d.text(t.say("meeting.slide.say"), points, t.say("paper.slides.keep"))
	d.text(t.say("county.winter.head"), adviceLines(p.Winter, true), t.say("paper.noadvice"))
	d.text(t.say("county.bags.head"), p.Bags, "")
	d.text(t.say("county.caution.head"), t.cautions(), "")
	return d.scenes, d.err
}

// measures are the maps of the set: the second and the third only where there is
// something on them.
func (j printJob) measures(v countyView) []atlas.Measure {
	out := []atlas.Measure{atlas.HighestLevel}
	if v.HasShare {
		out = append(out, atlas.ShareFound)
	}
	if v.hasSince && len(v.rounds) > 0 && v.rounds[len(v.rounds)-1].Edition.Number == j.t.edition().Number {
		out = append(out, atlas.NewFigures)
	}
	return out
}

// present leaves out what is not there.
func present(lines ...string) []string {
	var out []string
	for _, s := range lines {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}
