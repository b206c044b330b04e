package open

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/atlas"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
	"sixmile/web/shell"
)

// MapDeps is what the pages of released maps are made of.
type MapDeps struct {
	Lang     *catalog.Lang
	About    desk.About
	Editions Editions
	Offices  Offices  // where bags are; nil: no page says
	Years    YearDeps // the annual summary; zero: there is none
	Log      *slog.Logger
	Today    func() time.Time // the calendar date; nil: of Now
	Shapes   Shapes           // of places, for programs that draw maps; nil: they are not served
	BaseURL  string           // how the world reaches this server; empty: as the request came in
	Now      func() time.Time // for how long an edition is kept unasked; nil is time.Now
}

type maps struct {
	MapDeps
	shelf   tongueShelf
	room    *pressroom
	extents *extents
}

// MapRoutes are the pages of released maps in one language. Everything they show
// is rendered once for an edition and kept.
func MapRoutes(d MapDeps) []shell.Route { return NewMaps(d).Routes(d.Lang) }

// Maps are the pages of released maps in every language: they share what was
// read, and the press.
type Maps struct{ maps *maps }

// NewMaps readies the pages; the language is given with Routes.
func NewMaps(d MapDeps) *Maps {
	if d.Now == nil {
		d.Now = time.Now
	}
	if d.Today == nil {
		d.Today = func() time.Time {
			y, m, day := d.Now().UTC().Date()
			return time.Date(y, m, day, 0, 0, 0, 0, time.UTC)
		}
	}
	return &Maps{&maps{MapDeps: d, room: newPressroom(), extents: &extents{by: map[int][4]float64{}}, shelf: tongueShelf{shelf: newShelf(d.Editions, d.Offices, d.Log, d.Now)}}}
}

// Routes are the pages in one language.
func (all *Maps) Routes(l *catalog.Lang) []shell.Route {
	in := *all.maps
	in.Lang, in.shelf.lang = l, l
	m := &in
	return slices.Concat(m.paperRoutes(), m.featureRoutes(), m.annualRoutes(), []shell.Route{
		{Method: http.MethodGet, Path: "/", May: account.Anyone, Handler: m.state},
		{Method: http.MethodGet, Path: "/map.svg", May: account.Anyone, Handler: m.stateSVG},
		{Method: http.MethodGet, Path: "/region", May: account.Anyone, Handler: m.region},
		{Method: http.MethodGet, Path: "/county/{slug}", May: account.Anyone, Handler: m.county},
		{Method: http.MethodGet, Path: "/county/{slug}/worth", May: account.Anyone, Handler: m.worth},
		{Method: http.MethodGet, Path: "/county/{slug}/map.svg", May: account.Anyone, Handler: m.countySVG},
		{Method: http.MethodGet, Path: "/county/{slug}/talk", May: account.Anyone, Handler: m.talk},
		{Method: http.MethodGet, Path: "/county/{slug}/meeting.html", May: account.Anyone, Handler: m.meeting},
	})
}

const (
	htmlKind = "text/html; charset=utf-8"
	svgKind  = "image/svg+xml"
)

// read is the newest edition with the words for it.
func (m *maps) read(ctx context.Context) (*reading, teller, error) {
	r, err := m.shelf.current(ctx)
	if err != nil {
		return nil, teller{}, err
	}
	return r, teller{lang: m.Lang, about: m.About, x: r.index}, nil
}

func (m *maps) state(w http.ResponseWriter, r *http.Request) error {
	now, t, err := m.read(r.Context())
	if errors.Is(err, fault.ErrNotFound) {
		// No boundaries are loaded yet: there is nothing to draw, and nothing
		// wrong either.
		t = teller{lang: m.Lang, about: m.About, x: blankIndex}
		return shell.Render(w, r, http.StatusOK, stateTempl(t.statePage(pickedState{of: t.x.State()}, stateChoice{})))
	}
	if err != nil {
		return err
	}
	c, err := readStateChoice(r.URL.Query())
	if err != nil {
		return err
	}
	by, err := readColumn(r.URL.Query(), stateColumns)
	if err != nil {
		return err
	}
	s, err := m.shelf.sheet(now, "state"+c.query()+" "+string(by), func() (*sheet, error) {
		figures, err := t.pickState(c.measure)
		if err != nil {
			return nil, err
		}
		p := t.statePage(figures, c).sorted(by)
		if p.Wide, p.Narrow, err = t.both(t.stateScene(figures, c)); err != nil {
			return nil, err
		}
		return page(now.issue.Edition, stateTempl(p))
	})
	if err != nil {
		return err
	}
	m.send(w, r, now, s)
	return nil
}

// blankIndex is a program without places.
var blankIndex = func() *gazette.Index {
	x, err := gazette.NewIndex(&gazette.Issue{Edition: gazette.Edition{K: 3}})
	if err != nil {
		panic(err) // there is nothing in it to be wrong
	}
	return x
}()

func (m *maps) county(w http.ResponseWriter, r *http.Request) error {
	now, t, v, err := m.find(r)
	if err != nil {
		return err
	}
	by, err := readColumn(r.URL.Query(), countyColumns)
	if err != nil {
		return err
	}
	office, over := m.office(now, v)
	s, err := m.shelf.sheet(now, fmt.Sprintf("county %s %t %s", v.Slug, over, by), func() (*sheet, error) {
		c, err := t.view(v, office, over)
		if err != nil {
			return nil, err
		}
		p := t.countyPage(c).sorted(by)
		p.Wide, p.Narrow, err = t.both(t.countyMap(v))
		if err != nil {
			return nil, err
		}
		return page(now.issue.Edition, countyTempl(p))
	})
	if err != nil {
		return err
	}
	m.send(w, r, now, s)
	return nil
}

// office is the county's office, and whether its last day has passed: the one
// thing on a page that the calendar changes.
func (m *maps) office(now *reading, v *gazette.CountyView) (*desk.Office, bool) {
	o := officeOf(now.offices, v.ID)
	return o, o != nil && o.LastDay != nil && m.Today().After(*o.LastDay)
}

// find is the county that an address names.
func (m *maps) find(r *http.Request) (*reading, teller, *gazette.CountyView, error) {
	now, t, err := m.read(r.Context())
	if err != nil {
		return nil, t, nil, err
	}
	v, ok := now.index.County(chi.URLParam(r, "slug"))
	if !ok {
		return nil, t, nil, fmt.Errorf("county: %w", fault.ErrNotFound)
	}
	return now, t, v, nil
}

func (m *maps) stateSVG(w http.ResponseWriter, r *http.Request) error {
	now, t, err := m.read(r.Context())
	if err != nil {
		return err
	}
	c, err := readStateChoice(r.URL.Query())
	if err != nil {
		return err
	}
	figures, err := t.pickState(c.measure)
	if err != nil {
		return err
	}
	return m.file(w, r, now, t, "state"+c.query(), t.stateScene(figures, c))
}

func (m *maps) countySVG(w http.ResponseWriter, r *http.Request) error {
	now, t, v, err := m.find(r)
	if err != nil {
		return err
	}
	return m.file(w, r, now, t, "county "+v.Slug, t.countyMap(v))
}

// file answers with a map by itself: ?paper=letter-wide, and ink=1 for black
// and white.
func (m *maps) file(w http.ResponseWriter, r *http.Request, now *reading, t teller, name string, scene func(drawing) atlas.Scene) error {
	d := drawing{paper: atlas.Screen}
	q := r.URL.Query()
	if s := q.Get("paper"); s != "" {
		var err error
		if d.paper, err = atlas.ParsePaper(s); err != nil {
			return fmt.Errorf("%w: %w", fault.ErrNotFound, err)
		}
	}
	if q.Get("ink") == "1" {
		d.theme = press.Ink
	}
	s, err := m.shelf.sheet(now, fmt.Sprintf("%s %v %d", name, d.paper, d.theme), func() (*sheet, error) {
		svg, err := t.paint(scene(d), d)
		if err != nil {
			return nil, err
		}
		return newSheet(svgKind, now.issue.Edition, []byte(svg))
	})
	if err != nil {
		return err
	}
	m.send(w, r, now, s)
	return nil
}

// both draws the two maps of a page.
func (t teller) both(scene func(drawing) atlas.Scene) (wide, narrow string, err error) {
	if wide, err = t.paint(scene(wideDrawing), wideDrawing); err != nil {
		return "", "", err
	}
	narrow, err = t.paint(scene(narrowDrawing), narrowDrawing)
	return wide, narrow, err
}

// page renders a page to a sheet. It is kept for all readers, so it must not
// take anything from a request.
func page(e gazette.Edition, c templ.Component) (*sheet, error) {
	var b bytes.Buffer
	if err := c.Render(context.Background(), &b); err != nil {
		return nil, err
	}
	return newSheet(htmlKind, e, []byte(strings.TrimSpace(b.String())))
}
