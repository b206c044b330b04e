package office

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/atlas"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/press"
	"sixmile/web/shell"
)

// Surveys reads what was laid out. fault.ErrNotFound: it is there no more.
type Surveys interface {
	Staged(ctx context.Context, t geofile.Ticket) (geofile.Inspection, error)
	StagedMap(ctx context.Context, t geofile.Ticket) ([]desk.StagedPlace, error)
	StagedPoints(ctx context.Context, t geofile.Ticket, at []desk.LonLat) ([]atlas.Point, error)
}

// stagedView is the page of a set that is laid out.
type stagedView struct {
	Path, Map, Back string
	Work            *workView
	Failed          []string
	Layouts         []layoutView
	Facts           []fact
	Findings        []findingsView
	Stopped         bool
	Looks           bool // something is worth a look first
}

// layoutView is a layer in figures.
type layoutView struct{ Name, Features, Rings, Corners, Area, Extent string }

// findingsView is the findings of one weight.
type findingsView struct {
	Head  string
	Lines []findingView
}

// findingView is a finding; Marks are the numbers of its places on the map.
type findingView struct{ Text, Marks string }

func (o *office) stagedOf(r *http.Request) (geofile.Ticket, geofile.Inspection, error) {
	t, err := geofile.ParseTicket(chi.URLParam(r, "ticket"))
	if err != nil {
		return t, geofile.Inspection{}, fault.ErrNotFound
	}
	found, err := o.Surveys.Staged(r.Context(), t)
	return t, found, err
}

func (o *office) stagedShow(w http.ResponseWriter, r *http.Request) error {
	t, err := geofile.ParseTicket(chi.URLParam(r, "ticket"))
	if err != nil {
		return fault.ErrNotFound
	}
	now := o.plats.look(stagedKey(t))
	if now.Then != "" {
		http.Redirect(w, r, now.Then, http.StatusSeeOther)
		return nil
	}
	v := stagedView{Path: stagedKey(t), Map: stagedKey(t) + "/map.svg", Work: o.working(now), Back: o.plats.held()}
	if now.Failed != nil {
		v.Failed = o.groundFailure(now.Failed)
	}
	if v.Work != nil {
		w.Header().Set("Refresh", "1")
	} else if err := o.fillStaged(r, &v); err != nil {
		return err
	}
	p := o.page(r, o.Lang.Say("boundary.staged.title"))
	p.Wide, p.Address = true, "/office/boundaries"
	return shell.Render(w, r, http.StatusOK, stagedPage(p, v))
}

func (o *office) fillStaged(r *http.Request, v *stagedView) error {
	_, found, err := o.stagedOf(r)
	if err != nil {
		return err
	}
	l := o.Lang
	v.Layouts = []layoutView{
		layoutOf(l, l.Say("boundary.counties"), found.Counties), layoutOf(l, l.Say("boundary.townships"), found.Townships),
	}
	v.Facts = []fact{
		{l.Say("boundary.fact.places"), l.Number(found.Places)},
		{l.Say("boundary.fact.kept"), l.Number(found.Kept)},
		{l.Say("boundary.fact.new"), l.Number(found.New)},
		{l.Say("boundary.fact.drawn"), l.Say("boundary.drawn", "srid", strconv.Itoa(found.SRID), "least", found.Tolerance[0]+1, "most", found.Tolerance[1]+1,
			"drawn", l.Number(found.Corners[1]), "all", l.Number(found.Corners[0]))},
	}
	v.Findings, v.Stopped = findingViews(l, found), found.Stopped()
	for _, f := range found.Findings {
		v.Looks = v.Looks || f.Weight == geofile.Look
	}
	return nil
}

func layoutOf(l *catalog.Lang, name string, x geofile.Layout) layoutView {
	return layoutView{name, l.Number(x.Features), l.Number(x.Rings), l.Number(x.Points), geofile.Acres(x.Area),
		l.Say("boundary.extent", "south", degree(x.South), "north", degree(x.North), "west", degree(x.West), "east", degree(x.East))}
}

func degree(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }

// findingViews puts findings into words, gravest first; places to look at carry
// the numbers that stand on the map.
func findingViews(l *catalog.Lang, in geofile.Inspection) (out []findingsView) {
	marks, _ := marksOf(in)
	for _, weight := range []geofile.Weight{geofile.Stop, geofile.Look, geofile.Note} {
		v := findingsView{Head: l.SayOf("boundary.weight", strconv.Itoa(int(weight)))}
		for i, f := range in.Findings {
			if f.Weight != weight {
				continue
			}
			line := findingView{Text: f.String()}
			if n := len(marks[i]); n > 0 {
				line.Marks = l.Count("boundary.marks", n, "numbers", strings.Join(marks[i], ", "))
			}
			v.Lines = append(v.Lines, line)
		}
		if v.Lines != nil {
			out = append(out, v)
		}
	}
	return out
}

// mostMarks is how many places of one finding are numbered on the map: those
// that its sentence names.
const mostMarks = 5

// marksOf numbers the places to look at on the map: of each finding its numbers,
// and the positions in the order of their numbers. Findings at one spot share one.
func marksOf(in geofile.Inspection) (numbers [][]string, at []desk.LonLat) {
	numbers = make([][]string, len(in.Findings))
	for i, f := range in.Findings {
		for _, item := range f.Items[:min(len(f.Items), mostMarks)] {
			if f.Weight == geofile.Note || item.Lon == 0 && item.Lat == 0 {
				continue
			}
			p := desk.LonLat{Lon: item.Lon, Lat: item.Lat}
			n := slices.Index(at, p)
			if n < 0 {
				n, at = len(at), append(at, p)
			}
			numbers[i] = append(numbers[i], strconv.Itoa(n+1))
		}
	}
	return numbers, at
}

// mostLabeled is how many townships a map can name one by one.
const mostLabeled = 3000

// stagedMap draws what is laid out, small beside the report or wide by itself.
func (o *office) stagedMap(w http.ResponseWriter, r *http.Request) error {
	t, found, err := o.stagedOf(r)
	if err != nil {
		return err
	}
	places, err := o.Surveys.StagedMap(r.Context(), t)
	if err != nil {
		return err
	}
	_, look := marksOf(found)
	at, err := o.Surveys.StagedPoints(r.Context(), t, look)
	if err != nil {
		return err
	}
	paper := atlas.Phone
	if r.URL.Query().Has("wide") {
		paper = atlas.TabloidWide
	}
	var b bytes.Buffer
	scene := atlas.ComposeCounty(stagedCounty(o.Lang, places, at, found.Kept > 0), paper)
	if err := press.SVG(&b, scene, press.Options{Lang: o.Lang.Tag()}); err != nil {
		return err
	}
	return showSVG(w, r, b.Bytes())
}

// stagedCounty is all of a set as one map: townships with hairlines, county lines
// heavier, new places outlined, numbers where to look.
func stagedCounty(l *catalog.Lang, places []desk.StagedPlace, at []atlas.Point, known bool) atlas.County {
	c := atlas.County{Imprint: atlas.Imprint{
		Title: l.Say("boundary.map.title"), Band: l.Say("boundary.map.band"),
		Words: atlas.Words{
			LegendHead: l.Say("boundary.map.legend"), Desc: l.Say("boundary.map.desc"), Town: l.Say("boundary.map.look"),
			Miles: l.Say("legend.miles"), Kilometers: l.Say("legend.kilometers"), North: l.Say("legend.north"),
			Legend: []atlas.LegendRow{{Name: l.Say("boundary.map.township")}, {First: true, Name: l.Say("boundary.map.new")}},
		},
	}}
	labeled := len(places) <= mostLabeled
	for i, p := range places {
		if p.Kind == "county" {
			c.Outline = append(c.Outline, p.Outline...)
			continue
		}
		a := atlas.Area{ID: i, Shape: p.Outline, Title: p.Name + " " + p.Code, First: known && !p.Known}
		if labeled {
			a.Code = p.Code
		}
		c.Areas = append(c.Areas, a)
	}
	for i, p := range at {
		c.Towns = append(c.Towns, atlas.Town{Name: strconv.Itoa(i + 1), At: p, Rank: i + 1})
	}
	return c
}

// setOf is the number in an address.
func setOf(r *http.Request) (int, error) {
	n, err := strconv.Atoi(chi.URLParam(r, "set"))
	if err != nil || n < 1 {
		return 0, errors.Join(fault.ErrNotFound, err)
	}
	return n, nil
}
