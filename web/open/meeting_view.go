package open

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"strings"

	"sixmile/internal/atlas"
	"sixmile/internal/gazette"
	"sixmile/internal/talk"
	"sixmile/static"
)

// meetingPolicy lets the file use what is in it and ask for nothing. It stands
// in the file itself too, so that it holds where there is no server.
var meetingPolicy = func() string {
	sum := sha256.Sum256(static.File("meeting.js"))
	return "default-src 'none'; style-src 'unsafe-inline'; font-src data:; img-src data:; base-uri 'none'; form-action 'none'; script-src 'sha256-" +
		base64.StdEncoding.EncodeToString(sum[:]) + "'"
}()

// meetingStyle is the file's stylesheet with the typefaces in it.
var meetingStyle = func() string {
	var b strings.Builder
	for _, f := range []struct {
		family, file string
		weight       int
	}{
		{"Sixmile Sans", "SixmileSans-Regular", 400}, {"Sixmile Sans", "SixmileSans-SemiBold", 600},
		{"Sixmile Condensed", "SixmileCondensed-Regular", 400}, {"Sixmile Condensed", "SixmileCondensed-SemiBold", 600},
		{"Sixmile Serif", "SixmileSerif-SemiBold", 600},
	} {
		fmt.Fprintf(&b, "@font-face{font-family:%q;font-weight:%d;src:url(data:font/woff2;base64,%s) format(\"woff2\")}\n",
			f.family, f.weight, base64.StdEncoding.EncodeToString(static.File("fonts/"+f.file+".woff2")))
	}
	b.Write(static.File("meeting.css"))
	return b.String()
}()

// meetingFile is a county's meeting in one file.
type meetingFile struct {
	countyPage
	Map, History string // drawings; no History while there is one map only
	Points       []point
	Slides       []slide
}

// slide is one screen of it.
type slide struct {
	ID, Name, Note string
	N, Of          int
	Prev, Next     string // ids; "" at either end
}

var meetingDrawing = drawing{paper: atlas.Slide, prefix: "m-"}

// maxHistory is how many small maps fit on a slide and can be told apart.
const maxHistory = 12

func (t teller) meetingFile(v countyView, list string) (meetingFile, error) {
	f := meetingFile{countyPage: t.countyPage(v), Points: t.inWords(talk.Choose(talk.Points(t.facts(v)), list))}
	f.Title = t.say("meeting.title", "county", f.Name)
	alone := meetingDrawing
	alone.prefix = "" // its places lead nowhere
	var err error
	if f.Map, err = t.paint(t.countyScene(v.CountyView, alone), meetingDrawing); err != nil {
		return f, err
	}
	if f.History, err = t.history(v.CountyView); err != nil {
		return f, err
	}
	f.Slides = t.slides(f)
	return f, nil
}

// history draws the county edition by edition, by the tranches that stand now.
func (t teller) history(v *gazette.CountyView) (string, error) {
	editions := t.x.Editions()
	if len(editions) < 2 {
		return "", nil
	}
	editions = editions[max(0, len(editions)-maxHistory):]
	im := t.imprint(t.county(v), t.say("county.subtitle"), v.Summary,
		t.words(t.say("legend.head.county"), t.say("meeting.slide.history")))
	var maps []atlas.County
	for _, e := range editions {
		then, err := t.x.AsOf(v, e)
		if err != nil {
			return "", err
		}
		small := atlas.Imprint{Title: t.lang.MonthYear(e.Released), Words: im.Words}
		maps = append(maps, t.x.CountyMap(then, small, gazette.Captions{
			Township: func(a *gazette.TownshipView) (string, string) { return t.areaTitle(a), "" },
			Joined:   func(i int, j *gazette.JoinedView) (string, string) { return t.joinedTitle(i, j), "" },
		}))
	}
	d := drawing{paper: atlas.Slide, prefix: "h-"}
	return t.paint(atlas.ComposeYears(im, maps, d.paper), d)
}

// slides lists the screens that there is something for, in order.
func (t teller) slides(f meetingFile) []slide {
	var out []slide
	add := func(there bool, id, name, note string) {
		if there {
			out = append(out, slide{ID: id, Name: name, Note: note})
		}
	}
	add(true, "cover", "", t.say("meeting.note.cover", "k", t.number(t.edition().K)))
	add(true, "map", t.say("meeting.slide.map"), t.say("meeting.note.map"))
	add(true, "short", t.say("meeting.slide.short"), t.say("meeting.note.short"))
	add(len(f.Levels) > 0, "levels", t.say("meeting.slide.levels"), t.say("meeting.note.levels"))
	add(len(f.Levels) > 0, "where", t.say("meeting.slide.where"), t.say("meeting.note.where"))
	add(f.History != "", "history", t.say("meeting.slide.history"), t.say("meeting.note.history"))
	add(len(f.Years) > 0, "years", t.say("meeting.slide.years"), t.say("meeting.note.years"))
	add(len(f.Near) > 0, "near", t.say("meeting.slide.near"), t.say("meeting.note.near"))
	add(len(f.Trust) > 0, "trust", t.say("meeting.slide.trust"), t.say("meeting.note.trust"))
	add(len(f.Points) > 0, "say", t.say("meeting.slide.say"), t.say("meeting.note.say"))
	add(true, "winter", t.say("meeting.slide.winter"), t.say("meeting.note.winter"))
	add(true, "bags", t.say("meeting.slide.bags"), t.say("meeting.note.bags"))
	add(true, "places", t.say("meeting.slide.places"), t.say("meeting.note.places"))
	for i := range out {
		out[i].N, out[i].Of = i+1, len(out)
		if i > 0 {
			out[i].Prev = out[i-1].ID
		}
		if i+1 < len(out) {
			out[i].Next = out[i+1].ID
		}
	}
	return out
}
